// SPDX-License-Identifier: Apache-2.0
#include "server/worker_pool.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <atomic>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

#include "running_server.hpp"

namespace helmwater::server {
namespace {

// Jobs that note when they run; those posted with hold() end only when let go.
class Notebook {
 public:
  WorkerPool::Job job(const std::string& client, const std::string& name, std::stop_token stop = {}) {
    return {client, [this, name] { note(name); }, [this, name] { note("not " + name); }, std::move(stop)};
  }
  WorkerPool::Job held(const std::string& client, const std::string& name, std::atomic<bool>& let_go) {
    return {client, [this, name, &let_go] {
              note(name);
              while (!let_go) std::this_thread::yield();
            }, [] {}, {}};
  }
  std::vector<std::string> notes() const {
    const std::lock_guard lock(mutex_);
    return notes_;
  }
  std::size_t place_of(const std::string& name) const {
    const auto all = notes();
    return static_cast<std::size_t>(std::find(all.begin(), all.end(), name) - all.begin());
  }
  bool has(const std::string& name) const { return place_of(name) < notes().size(); }

 private:
  void note(const std::string& what) {
    const std::lock_guard lock(mutex_);
    notes_.push_back(what);
  }
  mutable std::mutex mutex_;
  std::vector<std::string> notes_;
};

TEST(WorkerPool, RefusesInsteadOfGrowing) {
  Notebook book;
  std::atomic<bool> let_go{false};
  WorkerPool pool(1, 2);
  ASSERT_TRUE(pool.try_post(book.held("a", "first", let_go)));
  ASSERT_TRUE(eventually([&] { return book.has("first"); }));
  EXPECT_TRUE(pool.try_post(book.job("a", "1")));
  EXPECT_TRUE(pool.try_post(book.job("a", "2")));
  EXPECT_FALSE(pool.try_post(book.job("a", "3")));
  EXPECT_EQ(pool.waiting(), 2u);
  let_go = true;
  pool.stop();
  EXPECT_FALSE(pool.try_post(book.job("a", "4")));
  EXPECT_FALSE(book.has("3"));
  EXPECT_FALSE(book.has("not 3"));
}

TEST(WorkerPool, OneWithTwentyDoesNotStarveOneWithOne) {
  Notebook book;
  std::atomic<bool> let_go{false};
  WorkerPool pool(1, 100);
  ASSERT_TRUE(pool.try_post(book.held("a", "first", let_go)));
  ASSERT_TRUE(eventually([&] { return book.has("first"); }));
  for (int i = 0; i < 20; ++i) ASSERT_TRUE(pool.try_post(book.job("a", fmt::format("a{}", i))));
  ASSERT_TRUE(pool.try_post(book.job("b", "b0")));
  for (int i = 0; i < 3; ++i) ASSERT_TRUE(pool.try_post(book.job("c", fmt::format("c{}", i))));
  let_go = true;
  ASSERT_TRUE(eventually([&] { return book.notes().size() == 25; }));
  EXPECT_LE(book.place_of("b0"), 3u);  // behind the one that ran, and at most one of each other client
  EXPECT_LE(book.place_of("c0"), 3u);
  EXPECT_LE(book.place_of("c2"), 7u);  // in turns with a
  EXPECT_LT(book.place_of("a0"), book.place_of("a1"));
}

TEST(WorkerPool, WhoHoldsAllWorkersWaitsForThoseWithNone) {
  Notebook book;
  std::atomic<bool> one_ends{false}, other_ends{false};
  WorkerPool pool(2, 100);
  ASSERT_TRUE(pool.try_post(book.held("a", "one", one_ends)));
  ASSERT_TRUE(pool.try_post(book.held("a", "other", other_ends)));
  ASSERT_TRUE(eventually([&] { return book.notes().size() == 2; }));
  for (int i = 0; i < 5; ++i) ASSERT_TRUE(pool.try_post(book.job("a", fmt::format("a{}", i))));
  for (int i = 0; i < 5; ++i) ASSERT_TRUE(pool.try_post(book.job("b", fmt::format("b{}", i))));
  one_ends = true;  // one worker is free, and a still has one running
  ASSERT_TRUE(eventually([&] { return book.notes().size() == 12; }));
  EXPECT_LT(book.place_of("b4"), book.place_of("a0"));
  other_ends = true;
}

TEST(WorkerPool, AFullQueueMakesRoomForWhoHasLess) {
  Notebook book;
  std::atomic<bool> let_go{false};
  WorkerPool pool(1, 4);
  ASSERT_TRUE(pool.try_post(book.held("a", "first", let_go)));
  ASSERT_TRUE(eventually([&] { return book.has("first"); }));
  for (int i = 0; i < 4; ++i) ASSERT_TRUE(pool.try_post(book.job("a", fmt::format("a{}", i))));
  EXPECT_FALSE(pool.try_post(book.job("a", "a4")));
  EXPECT_TRUE(pool.try_post(book.job("b", "b0")));
  EXPECT_TRUE(book.has("not a3"));
  EXPECT_TRUE(pool.try_post(book.job("b", "b1")));
  EXPECT_TRUE(book.has("not a2"));
  EXPECT_FALSE(pool.try_post(book.job("b", "b2"))) << "both have two";
  EXPECT_EQ(pool.waiting(), 4u);
  let_go = true;
  ASSERT_TRUE(eventually([&] { return book.notes().size() == 7; }));
  for (const char* name : {"a0", "a1", "b0", "b1"}) EXPECT_TRUE(book.has(name)) << name;
}

TEST(WorkerPool, WhoIsGoneTakesNoRoomAndNoWork) {
  Notebook book;
  std::atomic<bool> let_go{false};
  WorkerPool pool(1, 2);
  ASSERT_TRUE(pool.try_post(book.held("a", "first", let_go)));
  ASSERT_TRUE(eventually([&] { return book.has("first"); }));
  std::stop_source early, late;
  ASSERT_TRUE(pool.try_post(book.job("a", "early", early.get_token())));
  ASSERT_TRUE(pool.try_post(book.job("a", "late", late.get_token())));
  early.request_stop();
  EXPECT_TRUE(pool.try_post(book.job("a", "next")));
  EXPECT_TRUE(book.has("not early"));
  late.request_stop();
  let_go = true;
  ASSERT_TRUE(eventually([&] { return book.has("next"); }));
  EXPECT_TRUE(book.has("not late"));
  EXPECT_FALSE(book.has("late"));
}

}  // namespace
}  // namespace helmwater::server
