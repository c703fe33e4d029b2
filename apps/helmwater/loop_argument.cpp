// SPDX-License-Identifier: Apache-2.0
#include "loop_argument.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <iostream>
#include <memory>
#include <vector>

#include "infer/outlook.hpp"
#include "records/loop_folder.hpp"

namespace helmwater::app {

LoopOrExit read_loop(const std::string& folder) {
  auto log = records::read_loop_folder(folder);
  if (log) return {std::move(*log), 0};
  std::cerr << log.error().to_text() << '\n';
  return {std::nullopt, log.error().kind == records::Error::Kind::unavailable ? 1 : 2};
}

HistoryOrExit read_history(const std::string& folder, const std::string& own, const records::LoopLog& log,
                           const infer::HistoryOptions& options) {
  namespace fs = std::filesystem;
  if (folder.empty()) return {};
  std::error_code problem;
  std::vector<fs::path> found;
  for (fs::directory_iterator i(folder, problem), end; !problem && i != end; i.increment(problem)) {
    std::error_code ignored;
    if (i->path().filename().string().front() != '.' && fs::exists(i->path() / "loop.toml", ignored)) found.push_back(i->path());
  }
  if (problem) {
    std::cerr << "--history " << folder << ": " << problem.message() << "; name a folder that holds loop folders\n";
    return {{}, 2};
  }
  if (found.empty()) {
    std::cerr << "--history " << folder << ": holds no loop folder (a folder with loop.toml and log.csv); name the one above them\n";
    return {{}, 2};
  }
  std::sort(found.begin(), found.end());
  auto others = std::make_shared<std::vector<infer::EarlierLoop>>();
  std::vector<records::Doubt> doubts;
  for (const fs::path& one : found) {
    std::error_code ignored;
    if (fs::equivalent(one, own, ignored)) continue;
    auto read = records::read_loop_folder(one);
    if (read) {
      others->push_back({one.filename().string(), std::make_shared<const records::LoopLog>(std::move(*read))});
    } else {
      doubts.push_back({std::nullopt, "history_unreadable",
                        fmt::format("Nothing is taken from {}, which could not be read: {}.", one.filename().string(), read.error().to_text())});
    }
  }
  return {[others, doubts, log, options](records::Instant as_of) {
            auto history = std::make_shared<infer::History>(*infer::history_of(log, *others, as_of, options));
            history->doubts = doubts;
            return std::shared_ptr<const infer::History>(std::move(history));
          },
          0};
}

bool read_as_of(const std::string& text, const records::LoopLog& log, std::optional<records::Instant>& as_of) {
  if (text.empty()) return true;
  const auto parsed = records::parse_instant(text, log.loop.zone());
  if (!parsed) {
    std::cerr << "--as-of: \"" << text << "\" is no moment; write 2026-03-12, 2026-03-12T08:00 or 2026-03-12T08:00Z\n";
    return false;
  }
  as_of = parsed->when;
  return true;
}

std::optional<records::Instant> moment_asked(const std::string& folder, const std::string& as_of, const records::LoopLog& log) {
  std::optional<records::Instant> asked;
  if (!read_as_of(as_of, log, asked)) return std::nullopt;
  const auto moment = infer::resolve_as_of(log, asked);
  if (!moment) {
    std::cerr << folder << ": the log has no entry and loop.toml no `started`; give --as-of, or write when the loop started\n";
    return std::nullopt;
  }
  if (log.loop.started && *moment < *log.loop.started) {
    std::cerr << "--as-of " << as_of << ": before the loop started (" << records::to_utc_text(*log.loop.started)
              << "); choose a later moment\n";
    return std::nullopt;
  }
  return moment;
}

CLI::Validator number_between(double low, double high) {
  return CLI::Validator(
      [low, high](std::string& text) -> std::string {
        double value = 0;
        if (CLI::detail::lexical_cast(text, value) && value >= low && value <= high) return {};
        return fmt::format("\"{}\" is not a number from {} to {}", text, low, high);
      },
      fmt::format("{} to {}", low, high));
}

}  // namespace helmwater::app
