// SPDX-License-Identifier: Apache-2.0
// Threads for what takes longer than a moment, with a queue that takes turns between clients and refuses instead of
// growing (docs/decisions/006-sharing-the-cores.md).
#pragma once
#include <condition_variable>
#include <deque>
#include <functional>
#include <map>
#include <mutex>
#include <stop_token>
#include <string>
#include <thread>
#include <vector>

namespace helmwater::server {

class WorkerPool {
 public:
  // Exactly one of `work` and `refused` is called, unless the pool is stopped before. Neither may throw.
  struct Job {
    std::string client;             // jobs of one client share its turns
    std::function<void()> work;
    std::function<void()> refused;  // made room for a client that had fewer waiting, or its client is gone
    std::stop_token stop;           // the client is gone; what still waits is dropped
  };

  WorkerPool(int threads, std::size_t longest_queue);
  ~WorkerPool();
  WorkerPool(const WorkerPool&) = delete;
  WorkerPool& operator=(const WorkerPool&) = delete;

  // false: the queue is full and no other client has two more waiting than this one, or the pool is stopping; nothing of
  // the job is called then. If one has, its latest job is refused instead.
  bool try_post(Job job);
  std::size_t waiting() const;
  // Drops what waits, finishes what runs.
  void stop();

 private:
  struct Client {
    std::deque<Job> waiting;
    int running = 0;
    std::size_t turn = 0;  // lower: served longer ago
  };
  using Clients = std::map<std::string, Client>;

  void work();
  std::vector<Job> drop_stopped();
  Clients::iterator next();

  const std::size_t longest_queue_;
  mutable std::mutex mutex_;
  std::condition_variable changed_;
  Clients clients_;          // with something waiting or running
  std::size_t waiting_ = 0;  // of all clients
  std::size_t turns_ = 0;
  bool stopping_ = false;
  std::vector<std::thread> threads_;
};

}  // namespace helmwater::server
