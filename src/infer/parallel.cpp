// SPDX-License-Identifier: Apache-2.0
#include "infer/parallel.hpp"

#include <algorithm>
#include <charconv>
#include <cstdlib>
#include <stdexcept>
#include <string>
#include <string_view>
#include <system_error>
#include <utility>

namespace helmwater::infer {
namespace {

constexpr int kMostThreads = 64;

thread_local const std::stop_token* token_here = nullptr;
thread_local bool in_a_piece = false;

bool stop_wanted(const std::stop_token* token) { return token != nullptr && token->stop_requested(); }

// For as long as a piece runs, its thread counts as the caller's: work nested inside heeds the caller's token.
class InPiece {
 public:
  explicit InPiece(const std::stop_token* token) : outer_(std::exchange(token_here, token)), was_(std::exchange(in_a_piece, true)) {}
  ~InPiece() {
    token_here = outer_;
    in_a_piece = was_;
  }
  InPiece(const InPiece&) = delete;
  InPiece& operator=(const InPiece&) = delete;

 private:
  const std::stop_token* outer_;
  bool was_;
};

}  // namespace

CancelScope::CancelScope(std::stop_token token) : token_(std::move(token)), outer_(std::exchange(token_here, &token_)) {}
CancelScope::~CancelScope() { token_here = outer_; }

// Lives on its caller's stack; all but the first three under the crew's mutex.
struct Crew::Job {
  const Piece piece;
  const void* const work;
  const std::stop_token* const token;
  int count;
  int next = 0;
  int under_way = 0;
  std::exception_ptr failure;
  std::condition_variable ended;
};

Crew::Crew(int helpers) {
  try {
    for (int i = 0; i < helpers; ++i) threads_.emplace_back([this] { help(); });
  } catch (const std::system_error&) {
    // The machine gives no more threads: those there are, and the callers, do the work.
  }
}

Crew::~Crew() {
  {
    const std::lock_guard lock(mutex_);
    ending_ = true;
  }
  work_there_.notify_all();
  for (std::thread& thread : threads_) thread.join();
}

// Takes the job's next piece and does it without the lock. If it is the last, the job must have left open_.
void Crew::do_next(Job& job, std::unique_lock<std::mutex>& lock) {
  const int i = job.next++;
  ++job.under_way;
  lock.unlock();
  std::exception_ptr failure;
  try {
    if (stop_wanted(job.token)) throw Cancelled();
    const InPiece mark(job.token);
    job.piece(job.work, i);
  } catch (...) {
    failure = std::current_exception();
  }
  lock.lock();
  --job.under_way;
  if (failure) {
    if (!job.failure) job.failure = failure;
    job.next = job.count;
    std::erase(open_, &job);
  }
  if (job.under_way == 0 && job.next >= job.count) job.ended.notify_one();
}

void Crew::help() {
  std::unique_lock lock(mutex_);
  while (true) {
    work_there_.wait(lock, [this] { return ending_ || !open_.empty(); });
    if (ending_) return;
    Job* const job = open_.front();
    open_.pop_front();
    if (job->next + 1 < job->count) open_.push_back(job);  // behind the others
    do_next(*job, lock);
  }
}

void Crew::run(int count, Piece piece, const void* work) {
  if (in_a_piece || threads_.empty() || count <= 1) {
    for (int i = 0; i < count; ++i) {
      if (stop_wanted(token_here)) throw Cancelled();
      piece(work, i);
    }
    return;
  }
  Job job{piece, work, token_here, count, 0, 0, {}, {}};
  std::unique_lock lock(mutex_);
  open_.push_back(&job);
  for (int i = 0; i < std::min(count - 1, helpers()); ++i) work_there_.notify_one();
  while (job.next < job.count) {
    if (job.next + 1 == job.count) std::erase(open_, &job);
    do_next(job, lock);
  }
  job.ended.wait(lock, [&] { return job.under_way == 0; });
  lock.unlock();
  if (job.failure) std::rethrow_exception(job.failure);
}

int threads_for(const char* wish, unsigned cores) {
  if (wish == nullptr) return static_cast<int>(std::max(1u, cores));
  const std::string_view text(wish);
  int threads = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), threads);
  if (error != std::errc{} || end != text.data() + text.size() || threads < 1 || threads > kMostThreads) {
    throw std::runtime_error("HELMWATER_THREADS must be a whole number from 1 to " + std::to_string(kMostThreads) + ", not \"" +
                             std::string(text) + "\"; correct it or leave it away");
  }
  return threads;
}

Crew& crew() {
  static Crew the_crew(threads_for(std::getenv("HELMWATER_THREADS"), std::thread::hardware_concurrency()) - 1);
  return the_crew;
}

}  // namespace helmwater::infer
