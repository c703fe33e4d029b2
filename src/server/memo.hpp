// SPDX-License-Identifier: Apache-2.0
// Answers kept in memory, the longest unused dropped first. Those who ask for one that is being made wait for it.
#pragma once
#include <functional>
#include <future>
#include <list>
#include <memory>
#include <mutex>
#include <string>
#include <utility>

namespace helmwater::server {

template <class Value>
class Memo {
 public:
  explicit Memo(std::size_t most) : most_(most) {}

  // `make` may throw: then nothing is kept, and all who wait get the exception.
  std::shared_ptr<const Value> get(const std::string& key, const std::function<Value()>& make) {
    std::promise<std::shared_ptr<const Value>> promise;
    std::shared_future<std::shared_ptr<const Value>> answer;
    bool mine = false;
    {
      const std::lock_guard lock(mutex_);
      for (auto i = kept_.begin(); i != kept_.end(); ++i) {
        if (i->first != key) continue;
        kept_.splice(kept_.begin(), kept_, i);
        answer = i->second;
        break;
      }
      if (!answer.valid()) {
        mine = true;
        answer = promise.get_future().share();
        kept_.emplace_front(key, answer);
        if (kept_.size() > most_) kept_.pop_back();
      }
    }
    if (mine) {
      try {
        promise.set_value(std::make_shared<const Value>(make()));
      } catch (...) {
        {
          const std::lock_guard lock(mutex_);
          kept_.remove_if([&](const auto& one) { return one.first == key; });
        }
        promise.set_exception(std::current_exception());
      }
    }
    return answer.get();
  }

 private:
  std::size_t most_;
  std::mutex mutex_;
  std::list<std::pair<std::string, std::shared_future<std::shared_ptr<const Value>>>> kept_;
};

}  // namespace helmwater::server
