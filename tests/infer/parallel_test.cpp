// SPDX-License-Identifier: Apache-2.0
#include "infer/parallel.hpp"

#include <gtest/gtest.h>

#include <atomic>
#include <stdexcept>
#include <string>
#include <thread>
#include <vector>

namespace helmwater::infer {
namespace {

// run() with a callable.
template <class Work>
void run(Crew& crew, int count, const Work& work) {
  crew.run(count, [](const void* w, int i) { (*static_cast<const Work*>(w))(i); }, &work);
}

TEST(parallel_for, does_every_piece_exactly_once) {
  for (int count : {0, 1, 2, 7, 1000}) {
    std::vector<std::atomic<int>> done(static_cast<std::size_t>(count));
    parallel_for(count, [&](int i) { ++done[static_cast<std::size_t>(i)]; });
    for (const auto& times : done) EXPECT_EQ(times, 1);
  }
}

TEST(parallel_for, hands_on_what_a_piece_throws) {
  EXPECT_THROW(parallel_for(50,
                            [](int i) {
                              if (i == 31) throw std::runtime_error("31");
                            }),
               std::runtime_error);
  std::atomic<int> done{0};
  parallel_for(50, [&](int) { ++done; });
  EXPECT_EQ(done, 50) << "the crew must be whole after a failure";
}

TEST(parallel_for, inside_a_piece_runs_on_the_same_thread) {
  std::atomic<int> elsewhere{0}, done{0};
  parallel_for(8, [&](int) {
    const auto here = std::this_thread::get_id();
    parallel_for(8, [&](int) {
      elsewhere += std::this_thread::get_id() != here;
      ++done;
    });
  });
  EXPECT_EQ(elsewhere, 0);
  EXPECT_EQ(done, 64);
}

TEST(Crew, many_callers_at_once_each_get_all_their_pieces) {
  for (int helpers : {0, 1, 3, 7}) {
    Crew crew(helpers);
    std::vector<std::thread> callers;
    std::atomic<int> wrong{0};
    for (int c = 0; c < 6; ++c) {
      callers.emplace_back([&, c] {
        for (int round = 0; round < 40; ++round) {
          std::vector<int> done(static_cast<std::size_t>(1 + (c + round) % 30));  // not atomic: a race would be seen
          run(crew, static_cast<int>(done.size()), [&](int i) { ++done[static_cast<std::size_t>(i)]; });
          for (int times : done) wrong += times != 1;
        }
      });
    }
    for (auto& caller : callers) caller.join();
    EXPECT_EQ(wrong, 0) << helpers << " helpers";
  }
}

// One helper, and callers that are held in their first own piece: who is served when is then exact.
TEST(Crew, a_long_job_does_not_starve_short_ones) {
  constexpr int kLong = 2000, kShort = 20, kShorts = 2;
  Crew crew(1);
  std::atomic<int> shorts_there{0}, shorts_over{0}, long_done{0};
  std::atomic<bool> helper_held{false};
  std::thread long_caller([&] {
    const auto me = std::this_thread::get_id();
    run(crew, kLong, [&](int) {
      if (std::this_thread::get_id() == me) {
        while (shorts_over < kShorts) std::this_thread::yield();
        return;
      }
      helper_held = true;
      while (shorts_there < kShorts) std::this_thread::yield();
      ++long_done;
    });
  });
  while (!helper_held) std::this_thread::yield();
  std::vector<int> long_done_by_then(kShorts, -1);
  std::vector<std::thread> short_callers;
  for (int s = 0; s < kShorts; ++s) {
    short_callers.emplace_back([&, s] {
      const auto me = std::this_thread::get_id();
      std::atomic<int> done{0};
      run(crew, kShort, [&](int) {
        if (std::this_thread::get_id() == me) {
          ++shorts_there;
          while (done < kShort - 1) std::this_thread::yield();
          return;
        }
        if (done == kShort - 2) long_done_by_then[static_cast<std::size_t>(s)] = long_done;
        ++done;
      });
      ++shorts_over;
    });
  }
  for (auto& caller : short_callers) caller.join();
  long_caller.join();
  for (int by_then : long_done_by_then) {
    // In turns: a piece of the long job for each of the short one, and the one that was under way.
    EXPECT_GE(by_then, kShort - 2);
    EXPECT_LE(by_then, kShort + 1) << "of " << kLong;
  }
}

TEST(Crew, results_do_not_depend_on_its_size) {
  const auto sums = [](int helpers) {
    Crew crew(helpers);
    std::vector<double> out(100);
    run(crew, 100, [&](int i) {
      for (int k = 1; k < 1000; ++k) out[static_cast<std::size_t>(i)] += 1.0 / (k + i);
    });
    return out;
  };
  const auto alone = sums(0);
  for (int helpers : {1, 2, 5}) EXPECT_EQ(sums(helpers), alone);
}

TEST(CancelScope, no_piece_begins_after_the_stop_and_those_under_way_end) {
  for (int helpers : {0, 1, 3}) {
    Crew crew(helpers);
    std::stop_source stop;
    std::atomic<int> begun{0}, ended{0}, begun_after{0};
    const CancelScope scope(stop.get_token());
    EXPECT_THROW(run(crew, 10'000,
                     [&](int) {
                       // Each other thread may have asked the token just before.
                       begun_after += stop.stop_requested();
                       if (++begun == 40) stop.request_stop();
                       ++ended;
                     }),
                 Cancelled);
    EXPECT_EQ(begun, ended);
    EXPECT_GE(begun, 40);
    EXPECT_LE(begun_after, helpers);
  }
}

TEST(CancelScope, counts_for_its_thread_and_its_lifetime) {
  std::stop_source stopped;
  stopped.request_stop();
  std::atomic<int> done{0};
  const auto piece = [&](int) { ++done; };
  {
    const CancelScope scope(stopped.get_token());
    EXPECT_THROW(parallel_for(1, piece), Cancelled);
    EXPECT_THROW(parallel_for(100, piece), Cancelled);
    EXPECT_EQ(done, 0);
    std::thread([&] { parallel_for(10, piece); }).join();  // another thread
    EXPECT_EQ(done, 10);
    {
      const CancelScope inner({});  // never stopped
      parallel_for(10, piece);
      EXPECT_EQ(done, 20);
    }
    EXPECT_THROW(parallel_for(100, piece), Cancelled);
  }
  parallel_for(10, piece);
  EXPECT_EQ(done, 30);
}

TEST(CancelScope, reaches_work_nested_inside_a_piece) {
  Crew crew(2);
  std::stop_source stop;
  std::atomic<int> inner{0};
  const CancelScope scope(stop.get_token());
  EXPECT_THROW(run(crew, 4,
                   [&](int) {
                     run(crew, 1'000'000, [&](int) {
                       if (++inner == 10) stop.request_stop();
                     });
                   }),
               Cancelled);
  EXPECT_LE(inner, 10 + 3);  // one piece more for each thread
}

TEST(threads_for, takes_the_wish_or_says_what_is_wrong_with_it) {
  EXPECT_EQ(threads_for(nullptr, 8), 8);
  EXPECT_EQ(threads_for(nullptr, 0), 1);  // the machine does not say
  EXPECT_EQ(threads_for("1", 8), 1);
  EXPECT_EQ(threads_for("64", 8), 64);
  for (const char* wish : {"", "0", "65", "-1", "2.5", "two", "3 ", "99999999999"}) {
    try {
      threads_for(wish, 8);
      FAIL() << wish;
    } catch (const std::runtime_error& error) {
      EXPECT_NE(std::string(error.what()).find("1 to 64"), std::string::npos);
    }
  }
}

}  // namespace
}  // namespace helmwater::infer
