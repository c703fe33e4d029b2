// SPDX-License-Identifier: Apache-2.0
// Clients that share one server, and clients that go away: over real sockets, loopback only.
#include <fmt/format.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <memory>
#include <mutex>
#include <thread>
#include <vector>

#include "infer/parallel.hpp"
#include "running_server.hpp"
#include "server/memo.hpp"

namespace helmwater::server {
namespace {

using namespace std::chrono_literals;

constexpr const char* kOutlook = "/api/loops/north-bench/outlook";

// Answers with work that would take a quarter of an hour or more on any machine, unless it is cancelled.
class Endless {
 public:
  static constexpr int kPieces = 64'000'000;
  std::atomic<int> begun{0}, cancelled{0}, done{0};
  std::atomic<int> pieces{0};

  Response operator()(const std::stop_token& stop) {
    const infer::CancelScope scope(stop);
    ++begun;
    try {
      infer::parallel_for(kPieces, [&](int) {
        ++pieces;
        std::this_thread::sleep_for(1ms);
      });
    } catch (const infer::Cancelled&) {
      ++cancelled;
      return to_response({503, "stopping", "Cancelled.", ""});
    }
    ++done;
    return {};
  }
};

// Answers once the door is open, with what was asked.
class Door {
 public:
  std::atomic<bool> open{false};
  std::atomic<int> at_it{0};

  Response operator()(const Request& request) {
    ++at_it;
    while (!open) std::this_thread::sleep_for(1ms);
    {
      const std::lock_guard lock(mutex_);
      order_.push_back(request.query.at("n"));
    }
    Response response;
    response.body = request.query.at("n");
    return response;
  }
  std::vector<std::string> order() const {
    const std::lock_guard lock(mutex_);
    return order_;
  }

 private:
  mutable std::mutex mutex_;
  std::vector<std::string> order_;
};

bool was_logged(const RunningServer& server, int status) {
  const auto all = server.logged();
  return std::any_of(all.begin(), all.end(), [&](const LoggedRequest& one) { return one.status == status; });
}

TEST(Leaving, EndsTheComputation) {
  Endless endless;
  const RunningServer server({}, [&](const Request&, const std::stop_token& stop) { return endless(stop); });
  int round = 0;
  const std::string ask = get_text(server.port(), kOutlook);
  const auto expect_cancelled = [&](Line& line, auto leave) {
    ++round;
    ASSERT_TRUE(eventually([&] { return endless.begun == round; })) << round;
    leave(line);
    EXPECT_TRUE(eventually([&] { return endless.cancelled == round; })) << round;
  };
  Line closes(server.port()), resets(server.port()), sends_ahead(server.port());
  closes.send(ask);
  expect_cancelled(closes, [](Line& line) { line.close(); });
  resets.send(ask);
  expect_cancelled(resets, [](Line& line) { line.reset(); });
  sends_ahead.send(ask);
  expect_cancelled(sends_ahead, [&](Line& line) {
    line.send(ask + ask);
    line.close();
  });
  EXPECT_EQ(endless.done, 0);
  EXPECT_LT(endless.pieces, Endless::kPieces / 100);
  EXPECT_TRUE(eventually([&] { return was_logged(server, 499); }));
}

TEST(Leaving, WhoOnlyEndedItsSideIsStillAnswered) {
  Door door;
  const RunningServer server({}, [&](const Request& request, const std::stop_token&) { return door(request); });
  Line half(server.port());
  half.send(get_text(server.port(), std::string(kOutlook) + "?n=1"));
  half.end_sending();
  EXPECT_EQ(half.read_some(), "HTTP/1.1 100 Continue\r\n\r\n");  // its end was noticed
  door.open = true;
  const std::string answer = half.read_all();
  EXPECT_EQ(status_of(answer), 200);
  EXPECT_EQ(body_of(answer), "1");
}

TEST(Leaving, ClientsOfHttp10AreAnsweredWithoutAProbe) {
  Door door;
  const RunningServer server({}, [&](const Request& request, const std::stop_token&) { return door(request); });
  Line old(server.port());
  old.send("GET /api/loops/x/outlook?n=1 HTTP/1.0\r\nHost: localhost\r\n\r\n");
  old.end_sending();
  ASSERT_TRUE(eventually([&] { return door.at_it == 1; }));
  std::this_thread::sleep_for(50ms);  // for a probe to come, if there were one
  door.open = true;
  EXPECT_EQ(status_of(old.read_all()), 200);
}

TEST(Leaving, WhatWasSentAheadIsAnsweredInOrder) {
  Door door;
  const RunningServer server({}, [&](const Request& request, const std::stop_token&) { return door(request); });
  Line line(server.port());
  const auto ask = [&](int n) { return get_text(server.port(), fmt::format("{}?n={}", kOutlook, n)); };
  line.send(ask(1));
  ASSERT_TRUE(eventually([&] { return door.at_it == 1; }));
  const std::string padding = "X-Padding: " + std::string(9000, 'x') + "\r\n";
  line.send(ask(2) + get_text(server.port(), std::string(kOutlook) + "?n=3", padding) + get_text(server.port(), std::string(kOutlook) + "?n=4", padding));
  for (int n = 5; n < 100; ++n) line.send(ask(n));  // past what the server takes in advance
  std::this_thread::sleep_for(20ms);
  door.open = true;
  line.end_sending();
  const std::string all = line.read_all();
  std::string bodies;
  for (std::size_t at = 0; (at = all.find("HTTP/1.1 200", at)) != std::string::npos; ++at) {
    const std::string from = all.substr(at);
    bodies += body_of(from).substr(0, static_cast<std::size_t>(std::stoi(header_of(from, "Content-Length")))) + " ";
  }
  std::string expected;
  for (int n = 1; n < 100; ++n) expected += std::to_string(n) + " ";
  EXPECT_EQ(bodies, expected);
}

// One answer for all, made in pieces until the door opens.
TEST(Leaving, ASharedComputationSurvivesUntilTheLastHasLeft) {
  Memo<std::string> memo(4, 10'000, [](const std::string& text) { return text.size(); });
  std::atomic<bool> open{false};
  std::atomic<int> begun{0}, cancelled{0};
  ServerLimits limits;
  limits.workers = 4;
  const RunningServer server(limits, [&](const Request&, const std::stop_token& asker) {
    Response response;
    try {
      response.body = *memo.get("k", [&](const std::stop_token& stop) {
        const infer::CancelScope scope(stop);
        const int number = ++begun;
        while (!open) infer::parallel_for(4, [](int) { std::this_thread::sleep_for(1ms); });
        return std::to_string(number);
      }, asker);
    } catch (const infer::Cancelled&) {
      ++cancelled;
      response.status = 503;
    }
    return response;
  });
  const std::string ask = get_text(server.port(), kOutlook);
  Line maker(server.port()), other(server.port());
  maker.send(ask);
  ASSERT_TRUE(eventually([&] { return begun == 1; }));
  other.send(ask);
  ASSERT_TRUE(eventually([&] { return memo.askers("k") == 2; }));
  maker.close();
  ASSERT_TRUE(eventually([&] { return was_logged(server, 499) && memo.askers("k") == 1; }));
  EXPECT_EQ(cancelled, 0);
  other.close();  // the last
  ASSERT_TRUE(eventually([&] { return cancelled == 2; }));
  EXPECT_EQ(memo.bytes(), 0u);
  Line third(server.port()), fourth(server.port());
  third.send(ask);
  ASSERT_TRUE(eventually([&] { return begun == 2; }));
  fourth.send(ask);
  ASSERT_TRUE(eventually([&] { return memo.askers("k") == 2; }));
  third.close();
  ASSERT_TRUE(eventually([&] { return memo.askers("k") == 1; }));
  open = true;
  EXPECT_EQ(body_of(fourth.read_answer()), "2");
  EXPECT_EQ(begun, 2);
}

TEST(Leaving, ARealHindcastIsCancelledAndLaterMadeAnew) {
  const RunningServer server;
  Line gone(server.port());
  gone.send(get_text(server.port(), "/api/loops/long-raft/hindcast"));
  ASSERT_TRUE(eventually([&] { return server.api().counts().begun == 1; }));
  gone.close();
  ASSERT_TRUE(eventually([&] { return server.api().counts().cancelled == 1; }));
  EXPECT_EQ(server.api().counts().done, 0);
  EXPECT_EQ(server.api().kept_bytes(), 0u);
  Line stays(server.port());
  stays.send(get_text(server.port(), "/api/loops/long-raft/hindcast"));
  EXPECT_EQ(status_of(stays.read_answer(300s)), 200);
  EXPECT_EQ(server.api().counts().done, 1);
  EXPECT_GT(server.api().kept_bytes(), 1000u);
}

TEST(Turns, OneAddressWithTwentyDoesNotStarveAnotherWithOne) {
  Door door;
  ServerLimits limits;
  limits.workers = 1;
  const RunningServer server(limits, [&](const Request& request, const std::stop_token&) { return door(request); });
  const auto ask = [&](const std::string& n) { return get_text(server.port(), std::string(kOutlook) + "?n=" + n); };
  std::vector<std::unique_ptr<Line>> greedy;
  for (int i = 0; i < 20; ++i) {
    greedy.push_back(std::make_unique<Line>(server.port(), "127.0.0.1"));
    greedy.back()->send(ask("greedy"));
  }
  ASSERT_TRUE(eventually([&] { return server.waiting() == 19; }));
  Line modest(server.port(), "127.0.0.2");
  modest.send(ask("modest"));
  ASSERT_TRUE(eventually([&] { return server.waiting() == 20; }));
  door.open = true;
  EXPECT_EQ(status_of(modest.read_answer()), 200);
  for (auto& line : greedy) EXPECT_EQ(status_of(line->read_answer()), 200);
  const auto order = door.order();
  EXPECT_LE(std::find(order.begin(), order.end(), "modest") - order.begin(), 2);  // the one under way, one turn, then it
}

TEST(Turns, BehindAProxyItsClientsAreToldApart) {
  Door door;
  ServerLimits limits;
  limits.workers = 1;
  const RunningServer server(limits, [&](const Request& request, const std::stop_token&) { return door(request); }, {"loops.example"});
  const auto ask = [&](const std::string& n, const std::string& client) {
    return "GET " + std::string(kOutlook) + "?n=" + n + " HTTP/1.1\r\nHost: loops.example\r\nX-Forwarded-For: 192.0.2.77, " + client + "\r\n\r\n";
  };
  std::vector<std::unique_ptr<Line>> lines;
  for (int i = 0; i < 10; ++i) {
    lines.push_back(std::make_unique<Line>(server.port()));
    lines.back()->send(ask("greedy", "192.0.2.1"));
  }
  ASSERT_TRUE(eventually([&] { return server.waiting() == 9; }));
  Line modest(server.port());
  modest.send(ask("modest", "192.0.2.2"));
  ASSERT_TRUE(eventually([&] { return server.waiting() == 10; }));
  door.open = true;
  EXPECT_EQ(status_of(modest.read_answer()), 200);
  for (auto& line : lines) EXPECT_EQ(status_of(line->read_answer()), 200);
  const auto order = door.order();
  EXPECT_LE(std::find(order.begin(), order.end(), "modest") - order.begin(), 2);
}

TEST(Turns, AFullQueueSaysHowLongItIsAndMakesRoomForOthers) {
  Door door;
  ServerLimits limits;
  limits.workers = 1;
  limits.queue = 4;
  const RunningServer server(limits, [&](const Request& request, const std::stop_token&) { return door(request); });
  const auto ask = [&](const std::string& n) { return get_text(server.port(), std::string(kOutlook) + "?n=" + n); };
  std::vector<std::unique_ptr<Line>> greedy;
  for (int i = 0; i < 5; ++i) {
    greedy.push_back(std::make_unique<Line>(server.port(), "127.0.0.1"));
    greedy.back()->send(ask(fmt::format("greedy{}", i)));
    ASSERT_TRUE(eventually([&] { return door.at_it == 1 && server.waiting() == static_cast<std::size_t>(i); }));
  }
  Line one_more(server.port(), "127.0.0.1");
  one_more.send(ask("more"));
  const std::string full = one_more.read_answer();
  EXPECT_EQ(status_of(full), 503);
  EXPECT_EQ(header_of(full, "Retry-After"), "2");
  EXPECT_NE(body_of(full).find("4 requests wait"), std::string::npos) << full;
  Line modest(server.port(), "127.0.0.2");
  modest.send(ask("modest"));
  EXPECT_EQ(status_of(greedy.back()->read_answer()), 503) << "the latest of who has most waiting";
  door.open = true;
  EXPECT_EQ(status_of(modest.read_answer()), 200);
}

TEST(Turns, BodiesOfAllTogetherAreBounded) {
  ServerLimits limits;
  limits.bodies_bytes = 1'000'000;
  const RunningServer server(limits);
  const auto post = [&](const std::string& more) {
    return fmt::format("POST /api/preview HTTP/1.1\r\nHost: localhost\r\nX-Helmwater: 1\r\n{}\r\n", more);
  };
  Line slow(server.port()), second(server.port()), chunked(server.port());
  slow.send(post("Content-Length: 700000\r\nExpect: 100-continue\r\n"));
  EXPECT_EQ(status_of(slow.read_some()), 100);
  second.send(post("Content-Length: 700000\r\nExpect: 100-continue\r\n"));
  const std::string answer = second.read_all();
  EXPECT_EQ(status_of(answer), 503);
  EXPECT_NE(header_of(answer, "Retry-After"), "");
  chunked.send(post("Transfer-Encoding: chunked\r\n"));
  for (int i = 0; i < 8 && chunked.send("10000\r\n" + std::string(0x10000, 'x') + "\r\n"); ++i) {
  }
  EXPECT_EQ(status_of(chunked.read_all()), 503);
  slow.close();
  EXPECT_TRUE(eventually([&] {
    Line third(server.port());
    third.send(post("Content-Length: 700000\r\nExpect: 100-continue\r\n"));
    return status_of(third.read_some()) == 100;
  }));
}

TEST(Ending, ASignalCancelsWhatTakesLonger) {
  Endless endless;
  ServerLimits limits;
  limits.stop = 50ms;
  RunningServer server(limits, [&](const Request&, const std::stop_token& stop) { return endless(stop); }, {}, true);
  Line line(server.port());
  line.send(get_text(server.port(), kOutlook));
  ASSERT_TRUE(eventually([&] { return endless.begun == 1; }));
  ::kill(::getpid(), SIGTERM);
  EXPECT_EQ(status_of(line.read_answer()), 503);
  server.wait_for_end();  // it would not end in a quarter of an hour otherwise
  EXPECT_EQ(endless.cancelled, 1);
}

TEST(Ending, ASecondSignalDoesNotWait) {
  Endless endless;
  ServerLimits limits;
  limits.stop = 1h;
  RunningServer server(limits, [&](const Request&, const std::stop_token& stop) { return endless(stop); }, {}, true);
  Line line(server.port());
  line.send(get_text(server.port(), kOutlook));
  ASSERT_TRUE(eventually([&] { return endless.begun == 1; }));
  ::kill(::getpid(), SIGINT);
  ASSERT_TRUE(eventually([&] { return !Line(server.port()).is_open(); }));
  EXPECT_EQ(endless.cancelled, 0);
  ::kill(::getpid(), SIGINT);
  server.wait_for_end();
  EXPECT_EQ(endless.cancelled, 1);
}

}  // namespace
}  // namespace helmwater::server
