// SPDX-License-Identifier: Apache-2.0
// A server on a free loopback port for one test, and a plain socket to speak to it.
#pragma once
#include <chrono>
#include <functional>
#include <memory>
#include <mutex>
#include <string>
#include <string_view>
#include <thread>
#include <vector>

#include "scratch_folder.hpp"
#include "server/http_server.hpp"

namespace helmwater::server {

class RunningServer {
 public:
  // `answer`: instead of the Api's; `on_signals`: ends on SIGINT and SIGTERM to this process.
  explicit RunningServer(ServerLimits limits = {}, decltype(HttpServer::Settings::answer) answer = {},
                         std::vector<std::string> hosts = {}, bool on_signals = false);
  ~RunningServer();
  unsigned short port() const { return server_->port(); }
  void stop();  // waits until it has ended
  void wait_for_end();
  const Api& api() const { return *api_; }
  std::size_t waiting() const { return server_->waiting(); }
  std::vector<LoggedRequest> logged() const;
  const ScratchFolder& data() const { return data_; }

 private:
  ScratchFolder data_;
  std::unique_ptr<Api> api_;
  std::unique_ptr<HttpServer> server_;
  mutable std::mutex log_mutex_;
  std::vector<LoggedRequest> log_;
  std::thread thread_;
};

class Line {
 public:
  explicit Line(unsigned short port, const char* from = "127.0.0.1");  // all of 127/8 is this machine
  ~Line();
  Line(const Line&) = delete;
  Line& operator=(const Line&) = delete;
  bool is_open() const { return line_ >= 0; }
  void close();
  void reset();        // cuts the line without the usual farewell
  void end_sending();  // what is received goes on
  // false: the other end has closed or takes no more within 5 s.
  bool send(std::string_view bytes);
  // All until the other end closes, or `patience` has passed without a byte.
  std::string read_all(std::chrono::milliseconds patience = std::chrono::seconds(10));
  // What comes first.
  std::string read_some(std::chrono::milliseconds patience = std::chrono::seconds(10));
  // One answer with a Content-Length; empty: none came.
  std::string read_answer(std::chrono::milliseconds patience = std::chrono::seconds(10));

 private:
  int line_ = -1;
};

int status_of(std::string_view answer);  // 0: none
std::string header_of(std::string_view answer, const std::string& name);  // empty: none
std::string body_of(std::string_view answer);
// Waits for something that other threads bring about; false: it did not come within a minute.
bool eventually(const std::function<bool()>& happened);
std::string get_text(unsigned short port, const std::string& target, const std::string& more = {});
long resident_kb();  // of this process

}  // namespace helmwater::server
