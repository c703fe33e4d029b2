// SPDX-License-Identifier: Apache-2.0
// Work split over the machine's cores by one crew of threads for the whole program. The pieces do not depend on the
// number of threads, so results do not either (docs/decisions/006-sharing-the-cores.md).
#pragma once
#include <condition_variable>
#include <deque>
#include <exception>
#include <mutex>
#include <stop_token>
#include <thread>
#include <vector>

namespace helmwater::infer {

// Thrown by parallel_for inside a CancelScope whose stop was requested. Nothing of the work may be used.
class Cancelled : public std::exception {
 public:
  const char* what() const noexcept override { return "the computation was cancelled"; }
};

// While it lives, parallel_for called by this thread asks `token` before each piece and throws Cancelled once stop is
// requested; pieces under way end first. The innermost scope counts alone. Work between two calls of parallel_for does
// not ask. If the last piece had begun when stop was requested, the work is complete and nothing is thrown.
class CancelScope {
 public:
  explicit CancelScope(std::stop_token token);
  ~CancelScope();
  CancelScope(const CancelScope&) = delete;
  CancelScope& operator=(const CancelScope&) = delete;

 private:
  std::stop_token token_;
  const std::stop_token* outer_;
};

// Threads that help whoever has work. Each caller works at its own pieces; the crew takes pieces of all callers in turn, so
// that many pieces of one do not hold up the few of another.
class Crew {
 public:
  using Piece = void (*)(const void* work, int i);

  explicit Crew(int helpers);  // 0: callers do all themselves
  ~Crew();
  Crew(const Crew&) = delete;
  Crew& operator=(const Crew&) = delete;

  // Calls piece(work, i) for i in [0, count), each once; returns when all have ended. The first exception is rethrown,
  // pieces not begun by then are left out. From inside a piece: done at once by the same thread.
  void run(int count, Piece piece, const void* work);
  int helpers() const { return static_cast<int>(threads_.size()); }

 private:
  struct Job;
  void help();
  void do_next(Job& job, std::unique_lock<std::mutex>& lock);

  std::mutex mutex_;
  std::condition_variable work_there_;
  std::deque<Job*> open_;  // jobs with pieces not begun, the next to be served first
  bool ending_ = false;
  std::vector<std::thread> threads_;
};

// The program's own crew: a helper for each core but one, or HELMWATER_THREADS (1 to 64, the caller counted) less one.
// Begun at first use; throws std::runtime_error if HELMWATER_THREADS is something else.
Crew& crew();
// How many threads a lone caller has; `wish`: HELMWATER_THREADS, may be null.
int threads_for(const char* wish, unsigned cores);

// Calls work(i) for i in [0, count), each once, on the program's crew; see Crew::run.
template <class Work>
void parallel_for(int count, const Work& work) {
  crew().run(count, [](const void* w, int i) { (*static_cast<const Work*>(w))(i); }, &work);
}

}  // namespace helmwater::infer
