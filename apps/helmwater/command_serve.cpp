// SPDX-License-Identifier: Apache-2.0
// helmwater serve: the page and the JSON interface for a folder of loops, on this machine only.
#include <fmt/format.h>
#include <netinet/in.h>
#include <spdlog/sinks/stdout_sinks.h>
#include <spdlog/spdlog.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/time.h>
#include <unistd.h>

#include <chrono>
#include <filesystem>
#include <iostream>
#include <memory>
#include <nlohmann/json.hpp>
#include <thread>

#include "commands.hpp"
#include "infer/parallel.hpp"
#include "server/api.hpp"
#include "server/http_server.hpp"

namespace helmwater::app {
namespace {

namespace fs = std::filesystem;

struct Options {
  std::string data;
  int port = 8710;
  std::vector<std::string> hosts;
  bool once = false;
};

constexpr int kPortsToTry = 21;

// A line each, as JSON, so that both people and programs can read it.
std::shared_ptr<spdlog::logger> make_log() {
  auto log = std::make_shared<spdlog::logger>("helmwater", std::make_shared<spdlog::sinks::stderr_sink_mt>());
  log->set_pattern(R"({"time":"%Y-%m-%dT%H:%M:%S.%e%z","level":"%l",%v})");
  log->flush_on(spdlog::level::info);
  return log;
}

std::string json_text(const std::string& text) {
  return nlohmann::json(text).dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
}

// Lines to hundreds of open pages need as many descriptors.
void allow_descriptors(rlim_t wanted) {
  rlimit limit{};
  if (getrlimit(RLIMIT_NOFILE, &limit) != 0 || limit.rlim_cur >= wanted) return;
  limit.rlim_cur = std::min(wanted, limit.rlim_max);
  setrlimit(RLIMIT_NOFILE, &limit);
}

struct Asked {
  int status = 0;
  std::string body;
};

// One GET over a socket to this machine. status 0: no answer.
Asked ask(unsigned short port, const std::string& path) {
  Asked asked;
  const int line = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  if (line < 0) return asked;
  timeval patience{60, 0};
  ::setsockopt(line, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience);
  sockaddr_in to{};
  to.sin_family = AF_INET;
  to.sin_port = htons(port);
  to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  std::string text;
  if (::connect(line, reinterpret_cast<const sockaddr*>(&to), sizeof to) == 0) {
    const std::string request =
        fmt::format("GET {} HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nConnection: close\r\n\r\n", path, port);
    char buffer[16384];
    if (::send(line, request.data(), request.size(), MSG_NOSIGNAL) == static_cast<ssize_t>(request.size())) {
      for (ssize_t count; (count = ::recv(line, buffer, sizeof buffer, 0)) > 0;) text.append(buffer, static_cast<std::size_t>(count));
    }
  }
  ::close(line);
  const std::size_t body = text.find("\r\n\r\n");
  if (!text.starts_with("HTTP/1.1 ") || body == std::string::npos) return asked;
  asked.status = std::atoi(text.c_str() + 9);
  asked.body = text.substr(body + 4);
  return asked;
}

// Asks the running server what a page would ask first. Returns the exit code.
int ask_itself(unsigned short port) {
  const Asked health = ask(port, "/api/health");
  const auto said = nlohmann::json::parse(health.body, nullptr, false);
  if (health.status != 200 || !said.is_object() || said.value("status", "") != "ok") {
    std::cerr << "helmwater serve: the server does not answer as it should\n";
    return 1;
  }
  const Asked list = ask(port, "/api/loops");
  const auto loops = nlohmann::json::parse(list.body, nullptr, false);
  if (list.status != 200 || !loops.is_object() || !loops.contains("loops")) {
    std::cerr << "helmwater serve: the list of loops cannot be had\n";
    return 1;
  }
  for (const auto& loop : loops["loops"]) {
    if (!loop["error"].is_null()) continue;
    const std::string id = loop["id"].get<std::string>();
    const Asked outlook = ask(port, "/api/loops/" + id + "/outlook");
    const auto answer = nlohmann::json::parse(outlook.body, nullptr, false);
    if (outlook.status != 200 || !answer.is_object() || !answer.contains("milestones")) {
      std::cerr << "helmwater serve: no outlook for " << id << ": " << outlook.body << '\n';
      return 1;
    }
    std::cout << fmt::format("The server answers: version {}, outlook of {} in {} ms\n", said.value("version", ""), id,
                             answer.value("elapsed_ms", 0));
    return 0;
  }
  std::cout << fmt::format("The server answers: version {}, no loop to show\n", said.value("version", ""));
  return 0;
}

int run(const Options& options) {
  std::optional<fs::path> data;
  if (!options.data.empty()) {
    std::error_code problem;
    if (!fs::is_directory(options.data, problem)) {
      std::cerr << fmt::format("helmwater serve: --data {} is not a folder; make it first, or give the folder that holds your loop folders\n",
                               options.data);
      return 1;
    }
    data = options.data;
  }
  allow_descriptors(4096);
  infer::crew();  // says now, not at the first request, if HELMWATER_THREADS is no good
  const auto log = make_log();
  server::Api api({data, HELMWATER_VERSION,
                   [] { return std::chrono::floor<std::chrono::milliseconds>(std::chrono::system_clock::now()); }});
  api.report = [log](const std::string& what) { log->error("\"failed\":{}", json_text(what)); };
  server::HttpServer::Settings settings;
  settings.port = static_cast<unsigned short>(options.port);
  settings.ports_to_try = options.port == 0 ? 1 : kPortsToTry;
  settings.hosts = options.hosts;
  settings.files = &server::web_files();
  settings.log = [log](const server::LoggedRequest& r) {
    log->info("\"method\":{},\"path\":{},\"status\":{},\"ms\":{:.1f}", json_text(r.method), json_text(r.path), r.status, r.ms);
  };
  server::HttpServer server(api, std::move(settings));
  if (options.port != 0 && server.port() != options.port) {
    std::cout << fmt::format("Port {} is taken; using {}.\n", options.port, server.port());
  }
  std::cout << fmt::format("Helmwater is at http://localhost:{}/\n", server.port());
  if (!data) std::cout << "No --data folder: loops can be looked at, not kept.\n";
  if (!options.once) std::cout << "Ctrl-C ends it.\n";
  std::cout.flush();
  if (!options.once) {
    server.run(true);
    return 0;
  }
  int code = 1;
  std::thread asking([&] {
    code = ask_itself(server.port());
    server.stop();
  });
  server.run(true);
  asking.join();
  return code;
}

}  // namespace

Command add_serve(CLI::App& program) {
  CLI::App* sub = program.add_subcommand("serve", "the page and its JSON interface, on this machine only");
  const auto options = std::make_shared<Options>();
  sub->add_option("--data", options->data, "the folder that holds loop folders");
  sub->add_option("--port", options->port, "0 to 65535, 0: any free one; if taken, the next free of the 20 after it (default 8710)")
      ->check(CLI::Range(0, 65535));
  sub->add_option("--host", options->hosts, "a further name this server is asked under, behind a proxy of your own; may be repeated");
  sub->add_flag("--once", options->once, "start, ask itself for a loop's outlook, say so, end");
  return {sub, [options] { return run(*options); }};
}

}  // namespace helmwater::app
