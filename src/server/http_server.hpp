// SPDX-License-Identifier: Apache-2.0
// HTTP/1.1 on loopback: one thread for all connections, workers for all that takes longer, deadlines and limits. The
// computation of a client that goes away is cancelled unless others wait for it too.
#pragma once
#include <chrono>
#include <functional>
#include <memory>
#include <stop_token>
#include <string>
#include <vector>

#include "server/api.hpp"
#include "server/static_files.hpp"

namespace helmwater::server {

struct ServerLimits {
  std::chrono::milliseconds header{10'000};  // from a request's first byte to the end of its header
  std::chrono::milliseconds body{30'000};
  std::chrono::milliseconds idle{60'000};    // until the first byte of a request
  std::chrono::milliseconds write{30'000};
  std::chrono::milliseconds stop{2'000};     // requests under way at the end of the program; then they are cancelled
  std::size_t header_bytes = 16 * 1024;
  std::size_t header_lines = 100;
  std::size_t bodies_bytes = 64 << 20;       // of all requests together, received and not yet answered; then 503
  int connections = 1000;
  int workers = 0;                           // computations at once; 0: one per core, from 2 to 8
  std::size_t queue = 32;                    // requests waiting for a worker; then 503
  std::size_t slow_queue = 4;                // for the worker of what takes many seconds
};

struct LoggedRequest {
  std::string method, path;
  int status = 0;  // 499: the client went away before it was answered
  double ms = 0;
};

class HttpServer {
 public:
  struct Settings {
    unsigned short port = 8710;          // 0: any free one
    int ports_to_try = 1;                // this one and those after it
    std::vector<std::string> hosts;      // beside localhost, 127.0.0.1 and [::1]; of proxies, see client_of
    ServerLimits limits;
    const std::vector<StaticFile>* files = nullptr;
    std::function<void(const LoggedRequest&)> log;  // called on the connections' thread
    std::function<Response(const Request&, const std::stop_token&)> answer;  // absent: the Api's; must not throw
  };
  // Binds at once; throws std::runtime_error saying why not.
  HttpServer(Api& api, Settings settings);
  ~HttpServer();

  unsigned short port() const;
  // Serves until stop() or, with `on_signals`, SIGINT or SIGTERM; a second of these cancels what is under way at once.
  void run(bool on_signals);
  void stop();                  // from any thread
  std::size_t waiting() const;  // requests in the queues, from any thread

 private:
  class Engine;
  std::unique_ptr<Engine> engine_;
};

}  // namespace helmwater::server
