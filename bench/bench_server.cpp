// SPDX-License-Identifier: Apache-2.0
// How long a fresh request takes, alone and beside 500 idle connections and 40 clients that never finish their header.
// The server and its clients are this process, on loopback; it ends by itself.
#include <fmt/format.h>
#include <sys/resource.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <memory>
#include <string>
#include <thread>
#include <vector>

#include "running_server.hpp"

namespace {

using namespace helmwater::server;
using Clock = std::chrono::steady_clock;

constexpr int kIdle = 500, kSlow = 40, kRequests = 1000;

struct Times {
  double median_ms = 0, p99_ms = 0, worst_ms = 0;
  int failed = 0;
};

// Each on a connection of its own.
Times fresh_requests(unsigned short port, const std::string& target, int count) {
  std::vector<double> ms;
  Times times;
  for (int i = 0; i < count; ++i) {
    const auto begin = Clock::now();
    Line line(port);
    line.send(get_text(port, target, "Connection: close\r\n"));
    if (status_of(line.read_answer()) != 200) ++times.failed;
    ms.push_back(std::chrono::duration<double, std::milli>(Clock::now() - begin).count());
    std::this_thread::sleep_for(std::chrono::milliseconds(1));
  }
  std::sort(ms.begin(), ms.end());
  times.median_ms = ms[ms.size() / 2];
  times.p99_ms = ms[ms.size() * 99 / 100];
  times.worst_ms = ms.back();
  return times;
}

void print(const char* what, const Times& t) {
  fmt::print("{:<44} median {:6.2f} ms   p99 {:6.2f} ms   worst {:6.2f} ms   failed {}\n", what, t.median_ms, t.p99_ms, t.worst_ms, t.failed);
}

}  // namespace

int main() {
  rlimit limit{};
  getrlimit(RLIMIT_NOFILE, &limit);
  limit.rlim_cur = std::min<rlim_t>(4096, limit.rlim_max);
  setrlimit(RLIMIT_NOFILE, &limit);

  const RunningServer server;
  const unsigned short port = server.port();
  print("/api/health alone", fresh_requests(port, "/api/health", kRequests));
  print("/api/loops alone", fresh_requests(port, "/api/loops", kRequests));
  const long before = resident_kb();
  std::vector<std::unique_ptr<Line>> idle;
  for (int i = 0; i < kIdle; ++i) idle.push_back(std::make_unique<Line>(port));
  std::atomic<bool> done{false};
  std::thread slow([&] {
    // A byte every 100 ms each; the server ends them after 10 s, and they come again.
    std::vector<std::unique_ptr<Line>> lines(kSlow);
    while (!done) {
      for (auto& line : lines) {
        if (!line || !line->send("a")) {
          line = std::make_unique<Line>(port);
          line->send("GET /api/health HTTP/1.1\r\nX-Slow: ");
        }
      }
      std::this_thread::sleep_for(std::chrono::milliseconds(100));
    }
  });
  std::this_thread::sleep_for(std::chrono::milliseconds(500));
  print("/api/health beside 500 idle, 40 slow headers", fresh_requests(port, "/api/health", kRequests));
  print("/api/loops beside 500 idle, 40 slow headers", fresh_requests(port, "/api/loops", kRequests));
  fmt::print("memory for the 540 connections, both ends: {:.1f} MB\n", static_cast<double>(resident_kb() - before) / 1024);
  done = true;
  slow.join();
  int still_served = 0;
  for (auto& line : idle) {
    line->send(get_text(port, "/api/health"));
    still_served += status_of(line->read_answer()) == 200;
  }
  fmt::print("idle connections still served afterwards: {} of {}\n", still_served, kIdle);
  return still_served == kIdle ? 0 : 1;
}
