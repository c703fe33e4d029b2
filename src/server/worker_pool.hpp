// SPDX-License-Identifier: Apache-2.0
// Threads for what takes longer than a moment, with a queue that refuses instead of growing.
#pragma once
#include <condition_variable>
#include <deque>
#include <functional>
#include <mutex>
#include <thread>
#include <vector>

namespace helmwater::server {

class WorkerPool {
 public:
  WorkerPool(int threads, std::size_t longest_queue);
  ~WorkerPool();
  WorkerPool(const WorkerPool&) = delete;
  WorkerPool& operator=(const WorkerPool&) = delete;

  // false: the queue is full, or the pool is stopping. Jobs must not throw.
  bool try_post(std::function<void()> job);
  // Drops what waits, finishes what runs.
  void stop();

 private:
  void work();

  std::size_t longest_queue_;
  std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<std::function<void()>> queue_;
  bool stopping_ = false;
  std::vector<std::thread> threads_;
};

}  // namespace helmwater::server
