// SPDX-License-Identifier: Apache-2.0
// A server on a free loopback port for one test, and a plain socket to speak to it.
#pragma once
#include <chrono>
#include <memory>
#include <string>
#include <string_view>
#include <thread>

#include "scratch_folder.hpp"
#include "server/http_server.hpp"

namespace helmwater::server {

class RunningServer {
 public:
  explicit RunningServer(ServerLimits limits = {});
  ~RunningServer();
  unsigned short port() const { return server_->port(); }
  void stop();  // waits until it has ended
  const ScratchFolder& data() const { return data_; }

 private:
  ScratchFolder data_;
  std::unique_ptr<Api> api_;
  std::unique_ptr<HttpServer> server_;
  std::thread thread_;
};

class Line {
 public:
  explicit Line(unsigned short port);
  ~Line();
  Line(const Line&) = delete;
  Line& operator=(const Line&) = delete;
  bool is_open() const { return line_ >= 0; }
  // false: the other end has closed or takes no more within 5 s.
  bool send(std::string_view bytes);
  // All until the other end closes, or `patience` has passed without a byte.
  std::string read_all(std::chrono::milliseconds patience = std::chrono::seconds(10));
  // One answer with a Content-Length; empty: none came.
  std::string read_answer(std::chrono::milliseconds patience = std::chrono::seconds(10));

 private:
  int line_ = -1;
};

int status_of(std::string_view answer);  // 0: none
std::string get_text(unsigned short port, const std::string& target, const std::string& more = {});
long resident_kb();  // of this process

}  // namespace helmwater::server
