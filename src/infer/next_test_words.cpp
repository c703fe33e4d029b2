// SPDX-License-Identifier: Apache-2.0
#include "infer/next_test_words.hpp"

#include <fmt/format.h>

#include <array>
#include <chrono>
#include <cmath>
#include <cstdlib>

namespace helmwater::infer {
namespace {

std::chrono::sys_days local_day(records::Instant when, std::string_view zone) {
  const std::string iso = records::local_date_iso(when, zone);  // 2026-03-12
  const auto number = [&](std::size_t from, std::size_t length) { return std::atoi(iso.substr(from, length).c_str()); };
  return std::chrono::year{number(0, 4)} / number(5, 2) / number(8, 2);
}

std::string weekday(std::chrono::sys_days day) {
  static constexpr std::array<const char*, 7> kNames{"Sunday", "Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday"};
  return kNames[std::chrono::weekday{day}.c_encoding()];
}

// "Thu 12 Mar" and the hour of "Thu 12 Mar, 08:00".
struct LocalTime {
  std::string date;
  int hour;
};
LocalTime local_time(records::Instant when, std::string_view zone) {
  const std::string text = records::local_time_text(when, zone);
  const std::size_t comma = text.rfind(',');
  return {text.substr(0, comma), std::atoi(text.substr(comma + 2, 2).c_str())};
}

const char* part_of_day(int hour) { return hour < 11 ? "morning" : hour < 14 ? "noon" : hour < 18 ? "afternoon" : "evening"; }

}  // namespace

std::string tests_in_words(const std::vector<records::Test>& tests) {
  std::string text;
  for (std::size_t i = 0; i < tests.size(); ++i) {
    if (i > 0) text += i + 1 == tests.size() ? " and " : ", ";
    text += tests[i] == records::Test::ph ? std::string("pH") : std::string(records::to_text(tests[i]));
  }
  return text;
}

std::string moment_in_words(records::Instant as_of, records::Instant when, std::string_view zone) {
  if (when - as_of < std::chrono::minutes(30)) return "now";
  const auto days = (local_day(when, zone) - local_day(as_of, zone)).count();
  const LocalTime local = local_time(when, zone);
  const std::string part = part_of_day(local.hour);
  if (days == 0) return fmt::format("{} ({})", part == "noon" ? "today at noon" : "this " + part, local.date);
  if (days == 1) return fmt::format("tomorrow {}{} ({})", part == "noon" ? "at " : "", part, local.date);
  if (days >= 7) return fmt::format("in a week ({})", local.date);
  const std::string date = local.date.substr(local.date.find(' ') + 1);
  return fmt::format("on {} {}{} ({})", weekday(local_day(when, zone)), part == "noon" ? "at " : "", part, date);
}

std::string day_in_words(records::Instant as_of, records::Instant when, std::string_view zone) {
  const auto days = (local_day(when, zone) - local_day(as_of, zone)).count();
  if (days <= 0) return "later today";
  if (days == 1) return "tomorrow";
  return days < 7 ? weekday(local_day(when, zone)) : local_time(when, zone).date;
}

int local_hour(records::Instant when, std::string_view zone) { return local_time(when, zone).hour; }

std::string chance_in_words(double p) {
  if (p > 0.97) return "49 in 50";
  if (p > 0.925) return "19 in 20";
  if (p < 0.03) return "1 in 50";
  if (p < 0.075) return "1 in 20";
  return fmt::format("{:.0f} in 10", std::round(10 * p));
}

}  // namespace helmwater::infer
