// SPDX-License-Identifier: Apache-2.0
#include "server/http_server.hpp"

#include <utility>  // Asio 1.74 uses std::exchange without including it

#include <boost/asio/awaitable.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/asio/write.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/http.hpp>

#include <algorithm>
#include <cctype>
#include <csignal>
#include <optional>
#include <set>
#include <stdexcept>
#include <thread>

#include "server/packing.hpp"
#include "server/worker_pool.hpp"

namespace helmwater::server {
namespace {

namespace asio = boost::asio;
namespace http = boost::beast::http;
using asio::ip::tcp;
using boost::system::error_code;
using Clock = std::chrono::steady_clock;
using Parser = http::request_parser<http::string_body>;

// What a refused sender may still send before the line is cut: it reads the answer only after that.
constexpr std::size_t kMostDrained = 32 << 20;
constexpr std::chrono::seconds kLongestDrain{3};

// Constants, because g++ 12 destroys an aggregate built inside a co_await expression twice.
const Problem kHeaderTooSlow{408, "too_slow", "The request's header took more than 10 s; send it again.", ""};
const Problem kHeaderTooLarge{431, "header_too_large", "The request's header is larger than 16 KiB; send less.", ""};
const Problem kNoHttp{400, "bad_request", "This is no HTTP/1.1 request that can be read.", ""};
const Problem kTooManyHeaders{431, "too_many_headers", "The request has more than 100 header lines; send fewer.", ""};
const Problem kBadAddress{400, "bad_address", "The address has a broken percent code, or names a parameter twice.", ""};
const Problem kBodyTooSlow{408, "too_slow", "The request's body took more than 30 s; send it again.", ""};
const Problem kBodyBroken{400, "bad_request", "The request's body is broken.", ""};
const Problem kTooManyConnections{503, "too_many_connections", "The server has as many connections as it takes; try again shortly.", ""};
const Problem kTooManyBodies{503, "busy", "The server holds as much of what is being sent to it as it takes; send it again in a few seconds.", ""};
const Problem kStopping{503, "stopping", "The server is being stopped; ask again when it runs.", ""};

constexpr int kClientGone = 499;  // in the log alone: nobody was there to be answered
// RFC 9110, 15.2.1: a client that did not expect it discards it.
constexpr std::string_view kContinue = "HTTP/1.1 100 Continue\r\n\r\n";
constexpr std::chrono::milliseconds kLastWords{1000};  // for the answers after everything was cancelled

int workers_for(int wish) {
  if (wish > 0) return wish;
  // Two, so that a list is had beside an outlook; at most eight, because an outlook a year ahead holds 130 MB while it is made.
  return static_cast<int>(std::clamp(std::thread::hardware_concurrency(), 2u, 8u));
}

// Cancels what waits on a socket when time is up; all on the connections' thread.
class Deadline {
 public:
  Deadline(tcp::socket& socket) : socket_(socket), timer_(socket.get_executor()) {}
  void set(std::chrono::milliseconds left) {
    expired_ = false;
    timer_.expires_after(left);
    timer_.async_wait([this, alive = std::weak_ptr<int>(alive_)](error_code error) {
      if (error || alive.expired() || timer_.expiry() > Clock::now()) return;
      expired_ = true;
      error_code ignored;
      socket_.cancel(ignored);
    });
  }
  void clear() { timer_.cancel(); }
  bool expired() const { return expired_; }

 private:
  tcp::socket& socket_;
  asio::steady_timer timer_;
  bool expired_ = false;
  std::shared_ptr<int> alive_ = std::make_shared<int>(0);
};

std::string lower(boost::beast::string_view text) {
  std::string out(text.data(), text.size());
  std::transform(out.begin(), out.end(), out.begin(), [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return out;
}

const char* reason_of(int status) {
  const auto text = http::obsolete_reason(static_cast<http::status>(status));
  return text.data();
}

std::string wire_text(const Response& response, bool head, bool keep_alive) {
  std::string out = "HTTP/1.1 " + std::to_string(response.status) + " " + reason_of(response.status) + "\r\n";
  const auto line = [&](std::string_view name, std::string_view value) {
    out.append(name).append(": ").append(value).append("\r\n");
  };
  bool cache_said = false;
  for (const auto& [name, value] : response.headers) {
    line(name, value);
    cache_said = cache_said || name == "Cache-Control";
  }
  if (!cache_said) line("Cache-Control", "no-store");
  for (const auto& [name, value] : security_headers()) line(name, value);
  if (response.status != 304) {
    line("Content-Type", response.content_type);
    line("Content-Length", std::to_string(response.body.size()));
  }
  line("Connection", keep_alive ? "keep-alive" : "close");
  out += "\r\n";
  if (!head && response.status != 304) out += response.body;
  return out;
}

}  // namespace

class HttpServer::Engine {
 public:
  Engine(Api& api, Settings settings)
      : api_(api),
        settings_(std::move(settings)),
        acceptor_(io_),
        signals_(io_),
        stop_timer_(io_),
        workers_(workers_for(settings_.limits.workers), settings_.limits.queue),
        slow_worker_(1, settings_.limits.slow_queue) {
    hosts_ = {"localhost", "127.0.0.1", "[::1]"};
    for (int i = 0;; ++i) {
      const int port = settings_.port + i;
      error_code error;
      const tcp::endpoint here(asio::ip::address_v4::loopback(), static_cast<unsigned short>(port));
      acceptor_.open(here.protocol(), error);
      if (!error) acceptor_.set_option(tcp::acceptor::reuse_address(true), error);
      if (!error) acceptor_.bind(here, error);
      if (!error) acceptor_.listen(asio::socket_base::max_listen_connections, error);
      if (!error) break;
      error_code ignored;
      acceptor_.close(ignored);
      if (i + 1 >= settings_.ports_to_try || port >= 65535) {
        throw std::runtime_error("port " + std::to_string(port) + " cannot be used (" + error.message() +
                                 "); choose another with --port");
      }
    }
    port_ = acceptor_.local_endpoint().port();
  }

  ~Engine() {
    for (const auto& job : jobs_) job->stop.request_stop();
    workers_.stop();
    slow_worker_.stop();
  }

  unsigned short port() const { return port_; }

  void run(bool on_signals) {
    if (on_signals) {
      signals_.add(SIGINT);
      signals_.add(SIGTERM);
      signals_.async_wait([this](error_code error, int) {
        if (error) return;
        // Asked for before stopping: where nothing is open, stopping ends this wait too.
        signals_.async_wait([this](error_code again, int) {
          if (!again) cancel_all();
        });
        begin_stop();
      });
    }
    asio::co_spawn(io_, accept_all(), asio::detached);
    io_.run();
  }

  void stop() {
    asio::post(io_, [this] { begin_stop(); });
  }

  std::size_t waiting() const { return workers_.waiting() + slow_worker_.waiting(); }

 private:
  // One client's line.
  struct Connection {
    explicit Connection(tcp::socket s) : socket(std::move(s)), deadline(socket) {
      error_code ignored;
      socket.non_blocking(true, ignored);
      const auto remote = socket.remote_endpoint(ignored);
      if (!ignored) address = remote.address().to_string();
    }
    tcp::socket socket;
    Deadline deadline;
    boost::beast::flat_buffer buffer;
    std::string address;
    std::string unsent;  // of a 100 Continue
    bool busy = false;   // a request is under way
  };

  // A request with a worker. Its connection may end before it.
  struct Job {
    explicit Job(asio::io_context& io) : done(io, Clock::time_point::max()) {}
    asio::steady_timer done;  // cancelled when there is an answer or nobody to answer
    Response response;        // the worker's until then
    std::stop_source stop;
    bool over = false;        // its connection looks at it no more
    bool gone = false;        // its client is
  };

  // Counts what a request's body takes up until it is answered.
  class Held {
   public:
    explicit Held(std::size_t& all) : all_(all) {}
    ~Held() { all_ -= mine_; }
    Held(const Held&) = delete;
    Held& operator=(const Held&) = delete;
    void at_least(std::size_t bytes) {
      if (bytes <= mine_) return;
      all_ += bytes - mine_;
      mine_ = bytes;
    }

   private:
    std::size_t& all_;
    std::size_t mine_ = 0;
  };

  void begin_stop() {
    if (stopping_) return;
    stopping_ = true;
    error_code ignored;
    acceptor_.close(ignored);
    for (Connection* connection : connections_) {
      if (!connection->busy) connection->socket.cancel(ignored);
    }
    stop_timer_.expires_after(settings_.limits.stop);
    stop_timer_.async_wait([this](error_code error) {
      if (!error) cancel_all();
    });
    end_if_idle();
  }

  // What is being computed ends at its next piece and is answered with 503; a moment later all lines are cut.
  void cancel_all() {
    if (connections_.empty()) return;
    for (const auto& job : std::set(jobs_)) job->stop.request_stop();
    stop_timer_.expires_after(kLastWords);
    stop_timer_.async_wait([this](error_code error) {
      if (error) return;
      error_code none;
      for (Connection* connection : connections_) connection->socket.close(none);
      io_.stop();
    });
  }

  void end_if_idle() {
    if (!stopping_ || !connections_.empty()) return;
    stop_timer_.cancel();
    error_code ignored;
    signals_.cancel(ignored);
  }

  asio::awaitable<void> accept_all() {
    while (!stopping_) {
      error_code error;
      tcp::socket socket(io_);
      co_await acceptor_.async_accept(socket, asio::redirect_error(asio::use_awaitable, error));
      if (stopping_) co_return;
      if (error) {
        // Out of descriptors or the like: let some lines end.
        asio::steady_timer pause(io_, std::chrono::milliseconds(50));
        co_await pause.async_wait(asio::redirect_error(asio::use_awaitable, error));
        continue;
      }
      socket.set_option(tcp::no_delay(true), error);
      asio::co_spawn(io_, serve(std::make_unique<Connection>(std::move(socket))), asio::detached);
    }
  }

  asio::awaitable<void> serve(std::unique_ptr<Connection> connection) {
    Connection& c = *connection;
    if (static_cast<int>(connections_.size()) >= settings_.limits.connections) {
      c.deadline.set(std::chrono::milliseconds(1000));
      const Response full = to_response(kTooManyConnections);
      co_await send(c, full, false, false);
      co_return;
    }
    connections_.insert(&c);
    bool go_on = true;
    while (go_on && !stopping_) {
      try {
        go_on = co_await serve_one(c);
      } catch (const std::exception& failure) {
        if (api_.report) api_.report(failure.what());
        go_on = false;
      }
    }
    connections_.erase(&c);
    c.deadline.clear();
    error_code ignored;
    c.socket.close(ignored);
    end_if_idle();
  }

  // false: the line ends here.
  asio::awaitable<bool> serve_one(Connection& c) {
    const ServerLimits& limits = settings_.limits;
    error_code error;
    c.busy = false;
    if (c.buffer.size() == 0) {
      c.deadline.set(limits.idle);
      const std::size_t count = co_await c.socket.async_read_some(c.buffer.prepare(4096), asio::redirect_error(asio::use_awaitable, error));
      if (error) co_return false;
      c.buffer.commit(count);
    }
    c.busy = true;
    const auto begin = Clock::now();
    c.deadline.set(limits.header);
    Parser parser;
    parser.header_limit(static_cast<std::uint32_t>(limits.header_bytes));
    parser.body_limit(kFileBodyLimit);
    co_await http::async_read_header(c.socket, c.buffer, parser, asio::redirect_error(asio::use_awaitable, error));
    Request request;
    request.method = std::string(parser.get().method_string());
    if (error) {
      if (error == http::error::end_of_stream || error == asio::error::eof || error == asio::error::connection_reset) co_return false;
      if (c.deadline.expired()) {
        co_return co_await refuse(c, begin, request, kHeaderTooSlow);
      }
      if (error == asio::error::operation_aborted) co_return false;
      if (error == http::error::header_limit || error == http::error::buffer_overflow) {
        co_return co_await refuse(c, begin, request, kHeaderTooLarge);
      }
      if (error == http::error::body_limit) {  // a stated length no route takes
        const Problem problem = body_too_large(kFileBodyLimit);
        co_return co_await refuse(c, begin, request, problem);
      }
      co_return co_await refuse(c, begin, request, kNoHttp);
    }
    const auto& message = parser.get();
    const bool head = message.method() == http::verb::head;
    if (head) request.method = "GET";
    std::size_t lines = 0;
    std::vector<std::string> host_headers;
    for (const auto& field : message) {
      if (++lines > limits.header_lines) break;
      const std::string name = lower(field.name_string());
      if (name == "host") host_headers.emplace_back(field.value());
      request.headers[name] = std::string(field.value());
    }
    if (lines > limits.header_lines) {
      co_return co_await refuse(c, begin, request, kTooManyHeaders);
    }
    if (!read_target({message.target().data(), message.target().size()}, request)) {
      co_return co_await refuse(c, begin, request, kBadAddress);
    }
    const auto not_ours = refuse_host(host_headers, hosts_, port_);
    if (not_ours && refuse_host(host_headers, settings_.hosts, 0)) {
      co_return co_await refuse(c, begin, request, *not_ours);
    }
    const std::string client = client_of(request, c.address, not_ours.has_value());
    const bool is_api = request.path == "/api" || request.path.starts_with("/api/");
    std::string allowed;
    const Route* route = is_api ? Api::find(request.method, request.path, allowed) : nullptr;

    // The body, as long as this route takes it.
    const std::size_t limit = route == nullptr ? 0 : route->body_limit;
    const auto said = parser.content_length();
    Held held(bodies_);
    const bool has_body = message.chunked() || (said && *said > 0);
    if (has_body) {
      if (said && *said > limit) {
        const Problem problem = body_too_large(limit);
        co_return co_await refuse(c, begin, request, problem);
      }
      parser.body_limit(limit);
      if (said) held.at_least(static_cast<std::size_t>(*said));
      if (bodies_ > limits.bodies_bytes) {
        co_return co_await refuse(c, begin, request, kTooManyBodies);
      }
      if (lower(message[http::field::expect]) == "100-continue") {
        c.deadline.set(limits.write);
        co_await asio::async_write(c.socket, asio::buffer(kContinue), asio::redirect_error(asio::use_awaitable, error));
        if (error) co_return false;
      }
    }
    c.deadline.set(limits.body);
    while (!parser.is_done()) {
      co_await http::async_read_some(c.socket, c.buffer, parser, asio::redirect_error(asio::use_awaitable, error));
      // A body in chunks names no length beforehand: what has come is counted.
      if (error == http::error::body_limit || parser.get().body().size() > limit) {
        const Problem problem = body_too_large(limit);
        co_return co_await refuse(c, begin, request, problem);
      }
      held.at_least(parser.get().body().size());
      if (!error && bodies_ > limits.bodies_bytes) {
        co_return co_await refuse(c, begin, request, kTooManyBodies);
      }
      if (!error) continue;
      if (c.deadline.expired()) {
        co_return co_await refuse(c, begin, request, kBodyTooSlow);
      }
      if (error == http::error::buffer_overflow || error.category() == http::make_error_code(http::error::bad_chunk).category()) {
        co_return co_await refuse(c, begin, request, kBodyBroken);
      }
      co_return false;
    }
    c.deadline.clear();
    const bool keep_alive = message.keep_alive();
    request.body = std::move(parser.get().body());

    Response response;
    if (!is_api) {
      response = settings_.files == nullptr ? serve_file({}, request) : serve_file(*settings_.files, request);
    } else if (route == nullptr || route->lane == Lane::at_once) {
      response = answer(request, {});
    } else {
      // A client of HTTP/1.0 knows no 100 Continue.
      const bool answered = co_await work(c, route->lane == Lane::slow, client, message.version() >= 11, request, response);
      if (!answered) {
        log(begin, request, kClientGone);
        co_return false;
      }
    }
    c.deadline.set(limits.write);
    const bool go_on = keep_alive && !stopping_;
    log(begin, request, response.status);
    co_return co_await send(c, response, head, go_on) && go_on;
  }

  static Problem body_too_large(std::size_t limit) {
    if (limit == 0) return {413, "body_not_taken", "This address takes no body.", ""};
    return {413, "body_too_large", "The request's body is larger than " + std::to_string(limit >> 20) + " MiB; send less.", ""};
  }

  Response answer(const Request& request, const std::stop_token& stop) const {
    return settings_.answer ? settings_.answer(request, stop) : api_.answer(request, stop);
  }

  Problem busy(const WorkerPool& pool) const {
    return {503, "busy", std::to_string(pool.waiting()) + " requests wait already, as many as this server lets wait; ask again in a few seconds.", ""};
  }

  // Has the request answered on a worker; false: the client went away. What workers post runs on this thread, so it cannot
  // come before the wait.
  asio::awaitable<bool> work(Connection& c, bool slow, const std::string& client, bool may_probe, Request& request, Response& response) {
    WorkerPool& pool = slow ? slow_worker_ : workers_;
    std::string body = std::move(request.body);  // once in memory is enough
    const auto asked = std::make_shared<Request>(request);
    asked->body = std::move(body);
    const auto job = std::make_shared<Job>(io_);
    const auto hand_over = [this, job](Response made) {
      job->response = std::move(made);
      asio::post(io_, [job] { job->done.cancel(); });
    };
    WorkerPool::Job ticket;
    ticket.client = client;
    ticket.stop = job->stop.get_token();
    ticket.work = [this, job, asked, hand_over] {
      Response made = answer(*asked, job->stop.get_token());
      pack(*asked, made);
      hand_over(std::move(made));
    };
    ticket.refused = [this, job, hand_over, &pool] {
      hand_over(to_response(job->stop.stop_requested() ? kStopping : busy(pool)));
    };
    if (!pool.try_post(std::move(ticket))) {
      response = to_response(busy(pool));
      co_return true;
    }
    jobs_.insert(job);
    watch(c, job, may_probe);
    error_code ignored;
    co_await job->done.async_wait(asio::redirect_error(asio::use_awaitable, ignored));
    job->over = true;
    jobs_.erase(job);
    c.socket.cancel(ignored);  // the watch
    if (job->gone) co_return false;
    response = std::move(job->response);
    co_return true;
  }

  // While a worker has the request, what comes on the line is kept as the next request's start, up to a header's length,
  // and its end is noticed. A client that has ended only its own side still waits, and looks like one that is gone:
  // it is sent a 100 Continue, upon which the system of one that is gone resets the line.
  void watch(Connection& c, const std::shared_ptr<Job>& job, bool may_probe) {
    if (c.buffer.size() >= settings_.limits.header_bytes) {
      watch_for_reset(c, job);
      return;
    }
    c.socket.async_wait(tcp::socket::wait_read, [this, &c, job, may_probe](error_code error) {
      if (job->over || error == asio::error::operation_aborted) return;  // over: c may be gone too
      if (!error) {
        const std::size_t count = c.socket.read_some(c.buffer.prepare(4096), error);
        c.buffer.commit(count);
      }
      if (!error || error == asio::error::would_block) {
        watch(c, job, may_probe);
      } else if (error == asio::error::eof) {
        error.clear();
        if (may_probe) {
          const std::size_t sent = c.socket.write_some(asio::buffer(kContinue), error);
          if (sent > 0) c.unsent = kContinue.substr(sent);
        }
        if (error && error != asio::error::would_block) leave(*job);
        else watch_for_reset(c, job);
      } else {
        leave(*job);
      }
    });
  }

  void watch_for_reset(Connection& c, const std::shared_ptr<Job>& job) {
    c.socket.async_wait(tcp::socket::wait_error, [job](error_code error) {
      if (!job->over && error != asio::error::operation_aborted) leave(*job);
    });
  }

  static void leave(Job& job) {
    job.gone = true;
    job.stop.request_stop();
    job.done.cancel();
  }

  asio::awaitable<bool> send(Connection& c, const Response& response, bool head, bool keep_alive) {
    const std::string text = std::exchange(c.unsent, {}) + wire_text(response, head, keep_alive);
    error_code error;
    co_await asio::async_write(c.socket, asio::buffer(text), asio::redirect_error(asio::use_awaitable, error));
    if (!error && !keep_alive) c.socket.shutdown(tcp::socket::shutdown_send, error);
    co_return !error;
  }

  // Answers a request that goes no further, then lets its sender finish within bounds so that the answer is read.
  asio::awaitable<bool> refuse(Connection& c, Clock::time_point begin, const Request& request, const Problem& problem) {
    log(begin, request, problem.status);
    c.deadline.set(settings_.limits.write);
    const Response response = to_response(problem);
    const bool sent = co_await send(c, response, false, false);
    if (!sent) co_return false;
    c.deadline.set(kLongestDrain);
    char scratch[16384];
    error_code error;
    for (std::size_t drained = 0; drained < kMostDrained && !error;) {
      drained += co_await c.socket.async_read_some(asio::buffer(scratch), asio::redirect_error(asio::use_awaitable, error));
    }
    co_return false;
  }

  void log(Clock::time_point begin, const Request& request, int status) const {
    if (!settings_.log) return;
    settings_.log({request.method, request.path.substr(0, 200), status,
                   std::chrono::duration<double, std::milli>(Clock::now() - begin).count()});
  }

  Api& api_;
  Settings settings_;
  std::size_t bodies_ = 0;  // bytes of bodies received and not yet answered; outlives the coroutines in io_
  asio::io_context io_{1};
  tcp::acceptor acceptor_;
  asio::signal_set signals_;
  asio::steady_timer stop_timer_;
  std::vector<std::string> hosts_;
  unsigned short port_ = 0;
  bool stopping_ = false;
  std::set<Connection*> connections_;
  std::set<std::shared_ptr<Job>> jobs_;  // waiting or with a worker, and their clients there
  WorkerPool workers_, slow_worker_;  // last: their jobs post to io_
};

HttpServer::HttpServer(Api& api, Settings settings) : engine_(std::make_unique<Engine>(api, std::move(settings))) {}
HttpServer::~HttpServer() = default;
unsigned short HttpServer::port() const { return engine_->port(); }
void HttpServer::run(bool on_signals) { engine_->run(on_signals); }
void HttpServer::stop() { engine_->stop(); }
std::size_t HttpServer::waiting() const { return engine_->waiting(); }

}  // namespace helmwater::server
