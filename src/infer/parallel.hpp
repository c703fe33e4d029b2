// SPDX-License-Identifier: Apache-2.0
// Work split over the machine's cores. The pieces do not depend on the number of threads, so results do not either.
#pragma once
#include <algorithm>
#include <atomic>
#include <exception>
#include <mutex>
#include <thread>
#include <vector>

namespace helmwater::infer {

// Calls work(i) for i in [0, count), each once, on up to hardware_concurrency threads. The first exception is rethrown.
template <class Work>
void parallel_for(int count, const Work& work) {
  const int threads = std::min(count, static_cast<int>(std::max(1u, std::thread::hardware_concurrency())));
  if (threads <= 1) {
    for (int i = 0; i < count; ++i) work(i);
    return;
  }
  std::atomic<int> next{0};
  std::exception_ptr failure;
  std::mutex failure_mutex;
  const auto loop = [&] {
    for (int i = next++; i < count; i = next++) {
      try {
        work(i);
      } catch (...) {
        const std::scoped_lock lock(failure_mutex);
        if (!failure) failure = std::current_exception();
        next = count;
      }
    }
  };
  std::vector<std::thread> pool;
  for (int t = 1; t < threads; ++t) pool.emplace_back(loop);
  loop();
  for (std::thread& t : pool) t.join();
  if (failure) std::rethrow_exception(failure);
}

}  // namespace helmwater::infer
