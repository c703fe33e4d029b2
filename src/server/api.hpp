// SPDX-License-Identifier: Apache-2.0
// The routes of the HTTP interface (docs/openapi.json) as plain functions from question to answer.
#pragma once
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <stop_token>
#include <string>
#include <vector>

#include "records/instant.hpp"
#include "server/message.hpp"

namespace helmwater::server {

// Where a route's work is done: at once; on a worker; on the one worker for what takes many seconds.
enum class Lane { at_once, worker, slow };

struct Route {
  std::string method;
  std::string pattern;         // "/api/loops/{id}/outlook"
  Lane lane = Lane::worker;
  std::size_t body_limit = 0;  // bytes; 0: no body is taken
};

inline constexpr std::size_t kJsonBodyLimit = 1 << 20, kFileBodyLimit = 8 << 20;

class Api {
 public:
  struct Settings {
    std::optional<std::filesystem::path> data;  // where loop folders lie
    std::string version;
    std::function<records::Instant()> clock;    // for the day 0 of a loop that has not begun
  };
  explicit Api(Settings settings);
  ~Api();

  static const std::vector<Route>& routes();
  // The route for a method and path; null with `allowed` filled: the path is known, not with this method; null with
  // `allowed` empty: no such path.
  static const Route* find(const std::string& method, const std::string& path, std::string& allowed);

  // Never throws; what fails inside is answered with 500 and told to `report`. `stop`: the asker has left or the program
  // ends; the computation is cancelled if nobody else waits for it, and the answer is 503.
  Response answer(const Request& request, const std::stop_token& stop = {});
  std::function<void(const std::string&)> report;

  // Computations since the start; answers from memory are none.
  struct Counts {
    int begun = 0, done = 0, cancelled = 0;
  };
  Counts counts() const;
  // Of the answers and posteriors kept in memory, roughly.
  std::size_t kept_bytes() const;

 private:
  class Work;
  std::unique_ptr<Work> work_;
};

}  // namespace helmwater::server
