// SPDX-License-Identifier: Apache-2.0
#include "server/memo.hpp"

#include <gtest/gtest.h>

#include <atomic>
#include <chrono>
#include <future>
#include <stdexcept>
#include <thread>
#include <vector>

#include "running_server.hpp"

namespace helmwater::server {
namespace {

std::size_t size_of(const int&) { return sizeof(int); }
std::size_t length_of(const std::string& text) { return text.size(); }

// A make that goes on until it is let go or its token is stopped.
struct Held {
  std::atomic<bool> let_go{false};
  std::atomic<int> begun{0}, cancelled{0};
  int make(const std::stop_token& stop) {
    const int number = ++begun;
    while (!let_go) {
      if (stop.stop_requested()) {
        ++cancelled;
        throw infer::Cancelled();
      }
      std::this_thread::yield();
    }
    return number;
  }
};

// An asker on a thread of its own: what it got, 0 if it left.
std::future<int> ask(Memo<int>& memo, Held& held, const std::stop_source& client) {
  return std::async(std::launch::async, [&memo, &held, token = client.get_token()] {
    try {
      return *memo.get("k", [&](const std::stop_token& stop) { return held.make(stop); }, token);
    } catch (const infer::Cancelled&) {
      return 0;
    }
  });
}

TEST(Memo, ManyWhoAskAtOnceGetOneComputation) {
  Memo<int> memo(4, 1000, size_of);
  Held held;
  std::stop_source nobody_leaves;
  std::vector<std::future<int>> answers;
  for (int i = 0; i < 8; ++i) answers.push_back(ask(memo, held, nobody_leaves));
  EXPECT_TRUE(eventually([&] { return memo.askers("k") == 8; }));
  held.let_go = true;
  for (auto& answer : answers) EXPECT_EQ(answer.get(), 1);
  EXPECT_EQ(held.begun, 1);
  EXPECT_EQ(memo.askers("k"), 0);
}

TEST(Memo, DropsTheLongestUnusedAndForgetsFailures) {
  Memo<int> memo(2, 1000, size_of);
  int made = 0;
  const auto make = [&](const std::stop_token&) { return ++made; };
  memo.get("a", make);
  memo.get("b", make);
  memo.get("a", make);
  memo.get("c", make);  // b goes
  memo.get("a", make);
  EXPECT_EQ(made, 3);
  memo.get("b", make);
  EXPECT_EQ(made, 4);
  EXPECT_THROW(memo.get("x", [](const std::stop_token&) -> int { throw std::runtime_error("no"); }), std::runtime_error);
  EXPECT_EQ(*memo.get("x", [](const std::stop_token&) { return 7; }), 7);
}

TEST(Memo, StaysBelowItsBytes) {
  Memo<std::string> memo(1000, 10'000, length_of);
  int made = 0;
  const auto text = [&](std::size_t length) {
    return [&made, length](const std::stop_token&) {
      ++made;
      return std::string(length, 'x');
    };
  };
  for (int i = 0; i < 50; ++i) {
    memo.get(std::to_string(i), text(900));
    EXPECT_LE(memo.bytes(), 10'000u);
  }
  EXPECT_GT(memo.bytes(), 9'000u) << "it must make use of what it may";
  memo.get("49", text(900));
  EXPECT_EQ(made, 50);
  const std::size_t before = memo.bytes();
  EXPECT_EQ(memo.get("large", text(10'001))->size(), 10'001u);
  EXPECT_EQ(memo.bytes(), before) << "one too large drives out nothing";
  memo.get("49", text(900));
  EXPECT_EQ(made, 51);
  memo.get("large", text(10'001));
  EXPECT_EQ(made, 52);
}

TEST(Memo, OneWhoLeavesDoesNotCancelForTheOthers) {
  for (const bool maker_leaves : {true, false}) {
    Memo<int> memo(4, 1000, size_of);
    Held held;
    std::stop_source first, second;
    auto a = ask(memo, held, first);
    ASSERT_TRUE(eventually([&] { return held.begun == 1; }));
    auto b = ask(memo, held, second);
    ASSERT_TRUE(eventually([&] { return memo.askers("k") == 2; }));
    (maker_leaves ? first : second).request_stop();
    ASSERT_TRUE(eventually([&] { return memo.askers("k") == 1; }));
    if (!maker_leaves) {
      EXPECT_EQ(b.get(), 0) << "who leaves does not wait on";
    }
    held.let_go = true;
    EXPECT_EQ(a.get(), 1);
    if (maker_leaves) {
      EXPECT_EQ(b.get(), 1);
    }
    EXPECT_EQ(held.cancelled, 0);
    EXPECT_EQ(*memo.get("k", [](const std::stop_token&) { return 9; }), 1) << "it was kept";
  }
}

TEST(Memo, WhenTheLastHasLeftNothingIsKeptAndTheNextBeginsAnew) {
  Memo<int> memo(4, 1000, size_of);
  Held held;
  std::stop_source first, second, third;
  auto a = ask(memo, held, first);
  ASSERT_TRUE(eventually([&] { return held.begun == 1; }));
  auto b = ask(memo, held, second);
  ASSERT_TRUE(eventually([&] { return memo.askers("k") == 2; }));
  first.request_stop();
  second.request_stop();
  EXPECT_EQ(a.get(), 0);
  EXPECT_EQ(b.get(), 0);
  EXPECT_EQ(held.cancelled, 1);
  EXPECT_EQ(memo.bytes(), 0u);
  auto c = ask(memo, held, third);
  ASSERT_TRUE(eventually([&] { return held.begun == 2; }));
  held.let_go = true;
  EXPECT_EQ(c.get(), 2);
}

TEST(Memo, OneWhoComesWhileACancelledMakingStillEndsBeginsAnew) {
  Memo<int> memo(4, 1000, size_of);
  std::atomic<bool> end{false};
  std::atomic<int> begun{0};
  const auto stubborn = [&](const std::stop_token&) {  // heeds no stop
    const int number = ++begun;
    while (number == 1 && !end) std::this_thread::yield();
    return number;
  };
  std::stop_source first;
  auto a = std::async(std::launch::async, [&] { return *memo.get("k", stubborn, first.get_token()); });
  ASSERT_TRUE(eventually([&] { return begun == 1; }));
  first.request_stop();
  EXPECT_EQ(*memo.get("k", stubborn), 2);
  end = true;
  EXPECT_EQ(a.get(), 1);
  EXPECT_EQ(*memo.get("k", stubborn), 2) << "what nobody waited for must not take the place of what was kept";
}

TEST(Memo, LeavingReachesWhatAMakeItselfWaitsFor) {
  Memo<int> outer(4, 1000, size_of), inner(4, 1000, size_of);
  Held held;
  std::stop_source client;
  auto a = std::async(std::launch::async, [&] {
    try {
      return *outer.get("o", [&](const std::stop_token& left) {
        return *inner.get("i", [&](const std::stop_token& stop) { return held.make(stop); }, left);
      }, client.get_token());
    } catch (const infer::Cancelled&) {
      return 0;
    }
  });
  ASSERT_TRUE(eventually([&] { return held.begun == 1; }));
  client.request_stop();
  EXPECT_EQ(a.get(), 0);
  EXPECT_EQ(held.cancelled, 1);
}

}  // namespace
}  // namespace helmwater::server
