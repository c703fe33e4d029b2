// SPDX-License-Identifier: Apache-2.0
#include "server/worker_pool.hpp"

#include <gtest/gtest.h>

#include <atomic>
#include <future>
#include <thread>

#include "server/memo.hpp"

namespace helmwater::server {
namespace {

TEST(WorkerPool, RefusesInsteadOfGrowing) {
  WorkerPool pool(1, 2);
  std::promise<void> go, begun;
  const auto gate = go.get_future().share();
  ASSERT_TRUE(pool.try_post([&] { begun.set_value(); gate.wait(); }));
  begun.get_future().wait();
  EXPECT_TRUE(pool.try_post([] {}));
  EXPECT_TRUE(pool.try_post([] {}));
  EXPECT_FALSE(pool.try_post([] {}));
  go.set_value();
  pool.stop();
  EXPECT_FALSE(pool.try_post([] {}));
}

TEST(Memo, ManyWhoAskAtOnceGetOneComputation) {
  Memo<int> memo(4);
  std::atomic<int> made{0};
  std::vector<std::thread> threads;
  for (int i = 0; i < 8; ++i) {
    threads.emplace_back([&] {
      const auto value = memo.get("k", [&] {
        std::this_thread::sleep_for(std::chrono::milliseconds(50));
        return ++made;
      });
      EXPECT_EQ(*value, 1);
    });
  }
  for (auto& t : threads) t.join();
  EXPECT_EQ(made, 1);
}

TEST(Memo, DropsTheLongestUnusedAndForgetsFailures) {
  Memo<int> memo(2);
  int made = 0;
  const auto make = [&] { return ++made; };
  memo.get("a", make);
  memo.get("b", make);
  memo.get("a", make);
  memo.get("c", make);  // b goes
  memo.get("a", make);
  EXPECT_EQ(made, 3);
  memo.get("b", make);
  EXPECT_EQ(made, 4);
  EXPECT_THROW(memo.get("x", []() -> int { throw std::runtime_error("no"); }), std::runtime_error);
  EXPECT_EQ(*memo.get("x", [] { return 7; }), 7);
}

}  // namespace
}  // namespace helmwater::server
