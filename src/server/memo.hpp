// SPDX-License-Identifier: Apache-2.0
// Answers kept in memory within bounds, the longest unused dropped first. Those who ask for one that is being made wait
// for it; when the last of them has left, its making is cancelled and nothing of it is kept.
#pragma once
#include <condition_variable>
#include <exception>
#include <functional>
#include <list>
#include <map>
#include <memory>
#include <mutex>
#include <stop_token>
#include <string>
#include <utility>

#include "infer/parallel.hpp"

namespace helmwater::server {

template <class Value>
class Memo {
 public:
  using Size = std::function<std::size_t(const Value&)>;          // roughly, in bytes
  using Make = std::function<Value(const std::stop_token& stop)>; // `stop`: nobody waits any more

  // A value larger than `most_bytes` is handed out and not kept.
  Memo(std::size_t most_values, std::size_t most_bytes, Size size)
      : most_values_(most_values), most_bytes_(most_bytes), size_(std::move(size)) {}

  // The first to ask makes the value, on the thread it asks from, and goes on if it leaves while others wait. An asker
  // leaves by its `asker` being stopped; it, and a make that heeds its token, then throw infer::Cancelled. What `make`
  // throws otherwise all who wait get, and nothing is kept.
  std::shared_ptr<const Value> get(const std::string& key, const Make& make, const std::stop_token& asker = {}) {
    std::shared_ptr<Making> making;
    bool mine = false;
    {
      const std::lock_guard lock(mutex_);
      for (auto i = kept_.begin(); i != kept_.end(); ++i) {
        if (i->key != key) continue;
        kept_.splice(kept_.begin(), kept_, i);
        return i->value;
      }
      std::shared_ptr<Making>& place = under_way_[key];
      mine = place == nullptr;
      if (mine) place = std::make_shared<Making>();
      making = place;
      ++making->askers;
    }
    // Its end waits for a leave() on another thread, so no lock is held in this scope.
    const std::stop_callback leaving(asker, [&] { leave(key, making); });
    if (mine) {
      try {
        end(key, making, std::make_shared<const Value>(make(making->stop.get_token())), nullptr);
      } catch (...) {
        end(key, making, nullptr, std::current_exception());
      }
    }
    return outcome(*making, asker);
  }

  // Who waits for this value now, its maker among them.
  int askers(const std::string& key) const {
    const std::lock_guard lock(mutex_);
    const auto found = under_way_.find(key);
    return found == under_way_.end() ? 0 : found->second->askers;
  }
  std::size_t bytes() const {
    const std::lock_guard lock(mutex_);
    return bytes_;
  }

 private:
  struct Making {  // all but `stop` under the mutex
    std::stop_source stop;
    int askers = 0;
    bool over = false;
    std::shared_ptr<const Value> value;
    std::exception_ptr failure;
  };
  struct Kept {
    std::string key;
    std::shared_ptr<const Value> value;
    std::size_t bytes = 0;
  };

  void leave(const std::string& key, const std::shared_ptr<Making>& making) {
    {
      const std::lock_guard lock(mutex_);
      if (making->over || --making->askers > 0) return;
      forget(key, making);  // who asks from now on begins anew
    }
    making->stop.request_stop();
  }

  void end(const std::string& key, const std::shared_ptr<Making>& making, std::shared_ptr<const Value> value, std::exception_ptr failure) {
    {
      const std::lock_guard lock(mutex_);
      making->over = true;
      making->value = value;
      making->failure = failure;
      if (forget(key, making) && value != nullptr) keep(key, std::move(value));
    }
    changed_.notify_all();
  }

  std::shared_ptr<const Value> outcome(Making& making, const std::stop_token& asker) {
    std::unique_lock lock(mutex_);
    if (!changed_.wait(lock, asker, [&] { return making.over; })) throw infer::Cancelled();
    if (making.failure) std::rethrow_exception(making.failure);
    return making.value;
  }

  bool forget(const std::string& key, const std::shared_ptr<Making>& making) {
    const auto found = under_way_.find(key);
    if (found == under_way_.end() || found->second != making) return false;
    under_way_.erase(found);
    return true;
  }

  void keep(const std::string& key, std::shared_ptr<const Value> value) {
    const std::size_t bytes = sizeof(Kept) + key.size() + size_(*value);
    if (bytes > most_bytes_) return;
    kept_.push_front({key, std::move(value), bytes});
    bytes_ += bytes;
    while (bytes_ > most_bytes_ || kept_.size() > most_values_) {
      bytes_ -= kept_.back().bytes;
      kept_.pop_back();
    }
  }

  const std::size_t most_values_, most_bytes_;
  const Size size_;
  mutable std::mutex mutex_;
  std::condition_variable_any changed_;
  std::map<std::string, std::shared_ptr<Making>> under_way_;
  std::list<Kept> kept_;
  std::size_t bytes_ = 0;
};

}  // namespace helmwater::server
