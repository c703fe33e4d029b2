// SPDX-License-Identifier: Apache-2.0
#include "server/worker_pool.hpp"

#include <algorithm>
#include <tuple>
#include <utility>

namespace helmwater::server {

WorkerPool::WorkerPool(int threads, std::size_t longest_queue) : longest_queue_(longest_queue) {
  for (int i = 0; i < threads; ++i) threads_.emplace_back([this] { work(); });
}

WorkerPool::~WorkerPool() { stop(); }

bool WorkerPool::try_post(Job job) {
  std::vector<Job> refused;
  bool taken = false;
  {
    const std::lock_guard lock(mutex_);
    if (stopping_) return false;
    if (waiting_ >= longest_queue_) refused = drop_stopped();
    taken = waiting_ < longest_queue_;
    if (!taken && waiting_ > 0) {
      const auto known = clients_.find(job.client);
      const std::size_t own = known == clients_.end() ? 0 : known->second.waiting.size();
      const auto longest = std::max_element(clients_.begin(), clients_.end(), [](const auto& a, const auto& b) {
        return a.second.waiting.size() < b.second.waiting.size();
      });
      if (longest->second.waiting.size() > own + 1) {
        refused.push_back(std::move(longest->second.waiting.back()));
        longest->second.waiting.pop_back();
        --waiting_;
        taken = true;
      }
    }
    if (taken) {
      Client& client = clients_[job.client];
      if (client.waiting.empty() && client.running == 0) client.turn = turns_++;  // new: behind those who are here
      client.waiting.push_back(std::move(job));
      ++waiting_;
    }
  }
  changed_.notify_one();
  for (const Job& one : refused) one.refused();
  return taken;
}

std::size_t WorkerPool::waiting() const {
  const std::lock_guard lock(mutex_);
  return waiting_;
}

void WorkerPool::stop() {
  {
    const std::lock_guard lock(mutex_);
    stopping_ = true;
    clients_.clear();
    waiting_ = 0;
  }
  changed_.notify_all();
  for (std::thread& thread : threads_) {
    if (thread.joinable()) thread.join();
  }
}

std::vector<WorkerPool::Job> WorkerPool::drop_stopped() {
  std::vector<Job> dropped;
  for (auto& [name, client] : clients_) {
    const auto gone = std::stable_partition(client.waiting.begin(), client.waiting.end(),
                                            [](const Job& job) { return !job.stop.stop_requested(); });
    dropped.insert(dropped.end(), std::make_move_iterator(gone), std::make_move_iterator(client.waiting.end()));
    client.waiting.erase(gone, client.waiting.end());
  }
  waiting_ -= dropped.size();
  std::erase_if(clients_, [](const auto& one) { return one.second.waiting.empty() && one.second.running == 0; });
  return dropped;
}

// Of those who wait: who has the fewest running, then who was served longest ago.
WorkerPool::Clients::iterator WorkerPool::next() {
  return std::min_element(clients_.begin(), clients_.end(), [](const auto& a, const auto& b) {
    const auto rank = [](const Client& c) { return std::tuple(c.waiting.empty(), c.running, c.turn); };
    return rank(a.second) < rank(b.second);
  });
}

void WorkerPool::work() {
  std::unique_lock lock(mutex_);
  while (true) {
    changed_.wait(lock, [this] { return stopping_ || waiting_ > 0; });
    if (stopping_) return;
    const auto chosen = next();
    const std::string name = chosen->first;
    Client& client = chosen->second;
    {
      const Job job = std::move(client.waiting.front());
      client.waiting.pop_front();
      --waiting_;
      ++client.running;
      client.turn = turns_++;
      lock.unlock();
      if (job.stop.stop_requested()) job.refused();
      else job.work();
    }
    lock.lock();
    const auto after = clients_.find(name);  // gone if the pool was stopped
    if (after != clients_.end() && --after->second.running == 0 && after->second.waiting.empty()) clients_.erase(after);
  }
}

}  // namespace helmwater::server
