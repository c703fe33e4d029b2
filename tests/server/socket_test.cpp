// SPDX-License-Identifier: Apache-2.0
// The server as clients on a socket meet it, the unkind ones too. Loopback only.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <chrono>
#include <csignal>
#include <future>
#include <thread>
#include <vector>

#include "running_server.hpp"

namespace helmwater::server {
namespace {

using namespace std::chrono_literals;
using Clock = std::chrono::steady_clock;

std::string post_head(unsigned short port, const std::string& target, const std::string& more) {
  return "POST " + target + " HTTP/1.1\r\nHost: localhost:" + std::to_string(port) + "\r\nX-Helmwater: 1\r\n" + more + "\r\n";
}

TEST(Socket, EveryAnswerCarriesTheSecurityHeaders) {
  const RunningServer server;
  for (const char* target : {"/", "/api/health", "/api/none", "/none.js"}) {
    Line line(server.port());
    line.send(get_text(server.port(), target));
    const std::string answer = line.read_answer();
    for (const char* header : {"Content-Security-Policy: default-src 'none'; script-src 'self'", "X-Content-Type-Options: nosniff",
                               "Referrer-Policy: no-referrer", "Cross-Origin-Opener-Policy: same-origin", "Cache-Control: "}) {
      EXPECT_NE(answer.find(header), std::string::npos) << target << " lacks " << header;
    }
  }
}

TEST(Socket, OneLineServesManyRequestsAndHeadHasNoBody) {
  const RunningServer server;
  Line line(server.port());
  for (int i = 0; i < 3; ++i) {
    ASSERT_TRUE(line.send(get_text(server.port(), "/api/health")));
    EXPECT_EQ(status_of(line.read_answer()), 200);
  }
  line.send("HEAD /api/health HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n");
  const std::string head = line.read_all();
  EXPECT_EQ(status_of(head), 200);
  EXPECT_NE(head.find("Content-Length: 33"), std::string::npos);
  EXPECT_EQ(head.substr(head.size() - 4), "\r\n\r\n");
}

TEST(Socket, OtherHostsAreMisdirected) {
  const RunningServer server;
  Line evil(server.port());
  evil.send("GET /api/loops HTTP/1.1\r\nHost: evil.example\r\n\r\n");
  EXPECT_EQ(status_of(evil.read_all()), 421);
  Line none(server.port());
  none.send("GET /api/loops HTTP/1.1\r\n\r\n");
  EXPECT_EQ(status_of(none.read_all()), 400);
}

TEST(Socket, WrongMethodsNameTheRightOnes) {
  const RunningServer server;
  Line line(server.port());
  line.send("DELETE /api/loops HTTP/1.1\r\nHost: localhost\r\n\r\n");
  const std::string answer = line.read_answer();
  EXPECT_EQ(status_of(answer), 405);
  EXPECT_NE(answer.find("Allow: GET, HEAD, POST"), std::string::npos);
}

TEST(Socket, ALargeChunkedBodyIsRefusedWithoutGrowth) {
  const RunningServer server;
  const long before = resident_kb();
  for (int round = 0; round < 8; ++round) {
    Line line(server.port());
    line.send(post_head(server.port(), "/api/preview", "Content-Type: application/zip\r\nTransfer-Encoding: chunked\r\n"));
    const std::string chunk = "10000\r\n" + std::string(0x10000, 'x') + "\r\n";
    for (int sent = 0; sent < 9 * 16 && line.send(chunk); ++sent) {
    }
    line.send("0\r\n\r\n");
    EXPECT_EQ(status_of(line.read_all()), 413);
  }
  // Eight bodies of 9 MB would be 72 MB; one at a time of at most 8 MiB (twice while it grows) may stand.
  EXPECT_LT(resident_kb() - before, 40'000);
}

TEST(Socket, OneLargeChunkIsRefusedToo) {
  const RunningServer server;
  Line line(server.port());
  line.send(post_head(server.port(), "/api/loops/north-bench/what-if", "Content-Type: application/json\r\nTransfer-Encoding: chunked\r\n"));
  line.send("900000\r\n");
  const std::string part(0x10000, 'x');
  for (int sent = 0; sent < 0x90 && line.send(part); ++sent) {
  }
  EXPECT_EQ(status_of(line.read_all()), 413);
}

TEST(Socket, AStatedLargeBodyIsRefusedBeforeItComes) {
  const RunningServer server;
  Line line(server.port());
  line.send(post_head(server.port(), "/api/loops/north-bench/what-if", "Content-Type: application/json\r\nContent-Length: 1048577\r\n"));
  EXPECT_EQ(status_of(line.read_answer()), 413);
  Line waits(server.port());
  waits.send(post_head(server.port(), "/api/preview", "Content-Length: 9000000\r\nExpect: 100-continue\r\n"));
  EXPECT_EQ(status_of(waits.read_answer()), 413);
  Line get(server.port());
  get.send(get_text(server.port(), "/api/loops", "Content-Length: 5\r\n") + "hello");
  EXPECT_EQ(status_of(get.read_answer()), 413);
}

TEST(Socket, LargeHeadersAreRefused) {
  const RunningServer server;
  const long before = resident_kb();
  Line large(server.port());
  large.send(get_text(server.port(), "/", "X-Large: " + std::string(200'000, 'x') + "\r\n"));
  EXPECT_EQ(status_of(large.read_all()), 431);
  std::string many;
  for (int i = 0; i < 20'000; ++i) many += fmt::format("a{}:b\r\n", i);
  Line crowded(server.port());
  crowded.send(get_text(server.port(), "/", many));
  EXPECT_EQ(status_of(crowded.read_all()), 431);
  std::string some;
  for (int i = 0; i < 150; ++i) some += "a:b\r\n";  // small, yet too many
  Line lines(server.port());
  lines.send(get_text(server.port(), "/", some));
  EXPECT_EQ(status_of(lines.read_all()), 431);
  Line address(server.port());
  address.send(get_text(server.port(), "/" + std::string(100'000, 'a')));
  EXPECT_EQ(status_of(address.read_all()), 431);
  EXPECT_LT(resident_kb() - before, 10'000);
}

TEST(Socket, DeepJsonIsRefused) {
  const RunningServer server;
  const std::string body = "{\"a\":" + std::string(500'000, '[') + std::string(500'000, ']') + "}";
  Line line(server.port());
  line.send(post_head(server.port(), "/api/loops/north-bench/what-if",
                      "Content-Type: application/json\r\nContent-Length: " + std::to_string(body.size()) + "\r\n") + body);
  EXPECT_EQ(status_of(line.read_answer()), 400);
}

TEST(Socket, NonsenseIsRefused) {
  const RunningServer server;
  for (const std::string text : {"\r\n\r\n\r\n", "GET\r\n\r\n", "GET / HTTP/9.9\r\nHost: localhost\r\n\r\n", "\x16\x03\x01\x02",
                                 "GET /%zz HTTP/1.1\r\nHost: localhost\r\n\r\n", "GET / HTTP/1.1\r\nHost : localhost\r\n\r\n",
                                 "POST /api/preview HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n",
                                 "POST /api/preview HTTP/1.1\r\nHost: localhost\r\nContent-Length: 5\r\nContent-Length: 6\r\n\r\n"}) {
    Line line(server.port());
    line.send(text + std::string(8, '\n'));
    const int status = status_of(line.read_all(3s));
    EXPECT_TRUE(status == 400 || status == 431 || status == 0) << status << " for " << text;
  }
  Line line(server.port());
  line.send(get_text(server.port(), "/api/health"));
  EXPECT_EQ(status_of(line.read_answer()), 200);
}

TEST(Socket, SlowHeadersAndBodiesTimeOutAndIdleLinesEnd) {
  ServerLimits limits;
  limits.header = 300ms;
  limits.body = 300ms;
  limits.idle = 300ms;
  const RunningServer server(limits);
  Line header(server.port()), body(server.port()), idle(server.port());
  header.send("GET / HTTP/1.1\r\nHo");
  body.send(post_head(server.port(), "/api/preview", "Content-Length: 100\r\n") + "abc");
  const auto begin = Clock::now();
  EXPECT_EQ(status_of(header.read_all(5s)), 408);
  EXPECT_EQ(status_of(body.read_all(5s)), 408);
  EXPECT_EQ(idle.read_all(5s), "");
  EXPECT_LT(Clock::now() - begin, 4s);
  // A byte now and then does not put the deadline off.
  Line drip(server.port());
  const auto first = Clock::now();
  std::string answer;
  for (const char c : std::string("GET / HTTP/1.1\r\nX-Slow: aaaaaaaaaaaaaaaa")) {
    if (!drip.send(std::string(1, c)) || !(answer = drip.read_all(50ms)).empty()) break;
  }
  EXPECT_EQ(status_of(answer), 408);
  EXPECT_LT(Clock::now() - first, 1500ms);
}

TEST(Socket, TooManyConnectionsAreToldSo) {
  ServerLimits limits;
  limits.connections = 3;
  const RunningServer server(limits);
  Line a(server.port()), b(server.port()), c(server.port());
  for (Line* line : {&a, &b, &c}) {
    line->send(get_text(server.port(), "/api/health"));
    EXPECT_EQ(status_of(line->read_answer()), 200);
  }
  Line d(server.port());
  const std::string answer = d.read_all();
  EXPECT_EQ(status_of(answer), 503);
  EXPECT_NE(answer.find("Retry-After: "), std::string::npos);
}

TEST(Socket, AFullQueueAnswers503) {
  ServerLimits limits;
  limits.workers = 1;
  limits.queue = 1;
  const RunningServer server(limits);
  std::vector<std::unique_ptr<Line>> lines;
  for (int i = 0; i < 8; ++i) {
    lines.push_back(std::make_unique<Line>(server.port()));
    lines.back()->send(get_text(server.port(), "/api/loops/north-bench/outlook?seed=" + std::to_string(i)));
  }
  int answered = 0, refused = 0;
  for (auto& line : lines) {
    const int status = status_of(line->read_answer(30s));
    answered += status == 200;
    refused += status == 503;
  }
  EXPECT_GE(answered, 1);
  EXPECT_GE(refused, 1);
  EXPECT_EQ(answered + refused, 8);
}

TEST(Socket, StoppingFinishesWhatIsUnderWay) {
  ServerLimits limits;
  limits.stop = 60s;  // a sanitized outlook takes longer than the usual 10
  RunningServer server(limits);
  Line idle(server.port()), busy(server.port());
  idle.send(get_text(server.port(), "/api/health"));
  idle.read_answer();
  busy.send(get_text(server.port(), "/api/loops/north-bench/outlook?seed=77"));
  std::this_thread::sleep_for(30ms);
  const unsigned short port = server.port();
  auto stopped = std::async(std::launch::async, [&] { server.stop(); });
  EXPECT_EQ(status_of(busy.read_answer(60s)), 200);
  EXPECT_EQ(idle.read_all(60s), "");
  stopped.wait();
  EXPECT_FALSE(Line(port).is_open());
}

TEST(Socket, OneSignalEndsAServerThatNobodyUses) {
  RunningServer server({}, {}, {}, true);
  Line asked(server.port());  // its threads are up
  ASSERT_TRUE(asked.send("GET /api/health HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n"));
  EXPECT_NE(asked.read_all(), "");
  asked.close();
  std::this_thread::sleep_for(std::chrono::milliseconds(100));
  auto ended = std::async(std::launch::async, [&] { server.wait_for_end(); });
  ASSERT_EQ(std::raise(SIGTERM), 0);
  const bool at_once = ended.wait_for(std::chrono::seconds(5)) == std::future_status::ready;
  EXPECT_TRUE(at_once);
  if (!at_once) std::raise(SIGTERM);
  ended.get();
}

TEST(Socket, TheNextFreePortIsTaken) {
  const RunningServer first;
  Api api({std::nullopt, "0.1.0", [] { return records::Instant{}; }});
  HttpServer::Settings settings;
  settings.port = first.port();
  EXPECT_THROW(HttpServer(api, settings), std::runtime_error);
  settings.ports_to_try = 21;
  EXPECT_GT(HttpServer(api, settings).port(), first.port());
}

}  // namespace
}  // namespace helmwater::server
