// SPDX-License-Identifier: Apache-2.0
#include "json_checks.hpp"

#include <cstdio>

namespace helmwater::cli_test {

Json answer_of(const Said& run) {
  EXPECT_EQ(run.exit_code, 0) << run.err;
  Json json = Json::parse(run.out, nullptr, false);
  EXPECT_FALSE(json.is_discarded()) << "standard output is not JSON: " << run.out.substr(0, 400);
  if (!json.is_object()) return Json();
  return json;
}

std::optional<Seconds> instant(const Json& text) {
  if (!text.is_string()) return std::nullopt;
  const std::string s = text.get<std::string>();
  int year = 0, month = 0, day = 0, hour = 0, minute = 0, second = 0, end = 0;
  if (std::sscanf(s.c_str(), "%4d-%2d-%2dT%2d:%2d:%2dZ%n", &year, &month, &day, &hour, &minute, &second,
                  &end) != 6 ||
      end != 20 || s.size() != 20)
    return std::nullopt;
  const std::chrono::year_month_day date{std::chrono::year{year},
                                         std::chrono::month{static_cast<unsigned>(month)},
                                         std::chrono::day{static_cast<unsigned>(day)}};
  if (!date.ok() || hour > 23 || minute > 59 || second > 59) return std::nullopt;
  return std::chrono::sys_days{date} + std::chrono::hours{hour} + std::chrono::minutes{minute} +
         std::chrono::seconds{second};
}

namespace {
constexpr const char* kLevels[] = {"p05", "p25", "p50", "p75", "p95"};
}

testing::AssertionResult has_quantiles(const Json& of) {
  double before = -1e300;
  for (const char* level : kLevels) {
    if (!of.contains(level) || !of[level].is_number())
      return testing::AssertionFailure() << level << " is missing or no number in " << of.dump();
    if (of[level].get<double>() < before)
      return testing::AssertionFailure() << level << " falls in " << of.dump();
    before = of[level].get<double>();
  }
  return testing::AssertionSuccess();
}

testing::AssertionResult has_instant_quantiles(const Json& of) {
  std::optional<Seconds> before;
  bool never = false;
  for (const char* level : kLevels) {
    if (!of.contains(level)) return testing::AssertionFailure() << level << " is missing in " << of.dump();
    if (of[level].is_null()) {
      never = true;
      continue;
    }
    const auto when = instant(of[level]);
    if (!when) return testing::AssertionFailure() << level << " is no UTC instant in " << of.dump();
    if (never || (before && *when < *before))
      return testing::AssertionFailure() << level << " falls in " << of.dump();
    before = when;
  }
  return testing::AssertionSuccess();
}

testing::AssertionResult has_keys(const Json& object, const std::vector<std::string_view>& keys) {
  if (!object.is_object()) return testing::AssertionFailure() << "no object: " << object.dump();
  for (std::string_view key : keys)
    if (!object.contains(std::string(key)))
      return testing::AssertionFailure() << key << " is missing in " << object.dump().substr(0, 400);
  return testing::AssertionSuccess();
}

}  // namespace helmwater::cli_test
