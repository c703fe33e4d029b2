// SPDX-License-Identifier: Apache-2.0
#include "server/worker_pool.hpp"

#include <utility>

namespace helmwater::server {

WorkerPool::WorkerPool(int threads, std::size_t longest_queue) : longest_queue_(longest_queue) {
  for (int i = 0; i < threads; ++i) threads_.emplace_back([this] { work(); });
}

WorkerPool::~WorkerPool() { stop(); }

bool WorkerPool::try_post(std::function<void()> job) {
  {
    const std::lock_guard lock(mutex_);
    if (stopping_ || queue_.size() >= longest_queue_) return false;
    queue_.push_back(std::move(job));
  }
  changed_.notify_one();
  return true;
}

void WorkerPool::stop() {
  {
    const std::lock_guard lock(mutex_);
    stopping_ = true;
    queue_.clear();
  }
  changed_.notify_all();
  for (std::thread& thread : threads_) {
    if (thread.joinable()) thread.join();
  }
}

void WorkerPool::work() {
  while (true) {
    std::function<void()> job;
    {
      std::unique_lock lock(mutex_);
      changed_.wait(lock, [this] { return stopping_ || !queue_.empty(); });
      if (stopping_) return;
      job = std::move(queue_.front());
      queue_.pop_front();
    }
    job();
  }
}

}  // namespace helmwater::server
