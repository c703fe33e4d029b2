// SPDX-License-Identifier: Apache-2.0
#include "running_server.hpp"

#include <arpa/inet.h>
#include <netinet/in.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <unistd.h>

#include <cstdlib>
#include <fstream>

namespace helmwater::server {

RunningServer::RunningServer(ServerLimits limits, decltype(HttpServer::Settings::answer) answer, std::vector<std::string> hosts,
                             bool on_signals) {
  api_ = std::make_unique<Api>(Api::Settings{data_.path(), "0.1.0", [] { return records::Instant{}; }});
  HttpServer::Settings settings;
  settings.port = 0;
  settings.limits = limits;
  settings.answer = std::move(answer);
  settings.hosts = std::move(hosts);
  settings.log = [this](const LoggedRequest& one) {
    const std::lock_guard lock(log_mutex_);
    log_.push_back(one);
  };
  server_ = std::make_unique<HttpServer>(*api_, std::move(settings));
  thread_ = std::thread([this, on_signals] { server_->run(on_signals); });
}

RunningServer::~RunningServer() { stop(); }

void RunningServer::stop() {
  if (!thread_.joinable()) return;
  server_->stop();
  thread_.join();
}

void RunningServer::wait_for_end() { thread_.join(); }

std::vector<LoggedRequest> RunningServer::logged() const {
  const std::lock_guard lock(log_mutex_);
  return log_;
}

Line::Line(unsigned short port, const char* from) {
  line_ = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  sockaddr_in to{};
  to.sin_family = AF_INET;
  to.sin_port = htons(port);
  to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  sockaddr_in self{};
  self.sin_family = AF_INET;
  ::inet_pton(AF_INET, from, &self.sin_addr);
  ::bind(line_, reinterpret_cast<const sockaddr*>(&self), sizeof self);
  const timeval patience{5, 0};
  ::setsockopt(line_, SOL_SOCKET, SO_SNDTIMEO, &patience, sizeof patience);
  if (::connect(line_, reinterpret_cast<const sockaddr*>(&to), sizeof to) != 0) {
    ::close(line_);
    line_ = -1;
  }
}

Line::~Line() { close(); }

void Line::close() {
  if (line_ >= 0) ::close(line_);
  line_ = -1;
}

void Line::reset() {
  const linger at_once{1, 0};
  ::setsockopt(line_, SOL_SOCKET, SO_LINGER, &at_once, sizeof at_once);
  close();
}

void Line::end_sending() { ::shutdown(line_, SHUT_WR); }

bool Line::send(std::string_view bytes) {
  while (!bytes.empty()) {
    const ssize_t count = ::send(line_, bytes.data(), bytes.size(), MSG_NOSIGNAL);
    if (count <= 0) return false;
    bytes.remove_prefix(static_cast<std::size_t>(count));
  }
  return true;
}

namespace {
void set_patience(int line, std::chrono::milliseconds patience) {
  const timeval t{patience.count() / 1000, patience.count() % 1000 * 1000};
  ::setsockopt(line, SOL_SOCKET, SO_RCVTIMEO, &t, sizeof t);
}
}  // namespace

std::string Line::read_all(std::chrono::milliseconds patience) {
  set_patience(line_, patience);
  std::string text;
  char buffer[16384];
  for (ssize_t count; (count = ::recv(line_, buffer, sizeof buffer, 0)) > 0;) text.append(buffer, static_cast<std::size_t>(count));
  return text;
}

std::string Line::read_some(std::chrono::milliseconds patience) {
  set_patience(line_, patience);
  char buffer[16384];
  const ssize_t count = ::recv(line_, buffer, sizeof buffer, 0);
  return count > 0 ? std::string(buffer, static_cast<std::size_t>(count)) : std::string{};
}

std::string Line::read_answer(std::chrono::milliseconds patience) {
  set_patience(line_, patience);
  std::string text;
  char buffer[16384];
  while (true) {
    const std::size_t end = text.find("\r\n\r\n");
    if (end != std::string::npos) {
      const std::size_t at = text.find("Content-Length: ");
      if (at == std::string::npos || at > end) return text;
      if (text.size() >= end + 4 + std::strtoul(text.c_str() + at + 16, nullptr, 10)) return text;
    }
    const ssize_t count = ::recv(line_, buffer, sizeof buffer, 0);
    if (count <= 0) return text;
    text.append(buffer, static_cast<std::size_t>(count));
  }
}

int status_of(std::string_view answer) {
  return answer.starts_with("HTTP/1.1 ") ? std::atoi(std::string(answer.substr(9, 3)).c_str()) : 0;
}

std::string header_of(std::string_view answer, const std::string& name) {
  const std::string_view head = answer.substr(0, answer.find("\r\n\r\n"));
  const std::size_t at = head.find("\r\n" + name + ": ");
  if (at == std::string_view::npos) return {};
  const std::string_view value = head.substr(at + name.size() + 4);
  return std::string(value.substr(0, value.find("\r\n")));
}

std::string body_of(std::string_view answer) {
  const std::size_t at = answer.find("\r\n\r\n");
  return at == std::string_view::npos ? std::string{} : std::string(answer.substr(at + 4));
}

bool eventually(const std::function<bool()>& happened) {
  for (int i = 0; i < 12'000; ++i) {
    if (happened()) return true;
    std::this_thread::sleep_for(std::chrono::milliseconds(5));
  }
  return false;
}

std::string get_text(unsigned short port, const std::string& target, const std::string& more) {
  return "GET " + target + " HTTP/1.1\r\nHost: localhost:" + std::to_string(port) + "\r\n" + more + "\r\n";
}

long resident_kb() {
  std::ifstream status("/proc/self/status");
  for (std::string line; std::getline(status, line);) {
    if (line.starts_with("VmRSS:")) return std::atol(line.c_str() + 6);
  }
  return 0;
}

}  // namespace helmwater::server
