// SPDX-License-Identifier: Apache-2.0
#include "loop_argument.hpp"

#include <fmt/format.h>

#include <iostream>

#include "records/loop_folder.hpp"

namespace helmwater::app {

LoopOrExit read_loop(const std::string& folder) {
  auto log = records::read_loop_folder(folder);
  if (log) return {std::move(*log), 0};
  std::cerr << log.error().to_text() << '\n';
  return {std::nullopt, log.error().kind == records::Error::Kind::unavailable ? 1 : 2};
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
