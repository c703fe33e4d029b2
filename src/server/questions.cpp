// SPDX-License-Identifier: Apache-2.0
#include "server/questions.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "infer/timeline_from_log.hpp"
#include "records/words.hpp"
#include "units/parse.hpp"

namespace helmwater::server {
namespace {

// Bounds of what one question may cost: a forecast keeps 320 kB a day from the open window on (4000 members, 6 h apart, five
// numbers), an answer 2 kB a day from the loop's start on, and closed windows take time when a loop is first asked for.
constexpr double kLongestCourseDays = 4000;
constexpr std::size_t kMostEntries = 20000;

// One member of a JSON object as a number in a range; absent or null: `otherwise`.
class Wish {
 public:
  explicit Wish(const nlohmann::json& json) : json_(json) {}
  std::optional<double> number(const char* key, double low, double high) {
    known_.emplace_back(key);
    const auto found = json_.find(key);
    if (found == json_.end() || found->is_null()) return std::nullopt;
    if (!found->is_number() || !(found->get<double>() >= low && found->get<double>() <= high)) {
      fail("out_of_range", fmt::format("{} must be a number from {} to {}, or null.", key, low, high), key);
      return std::nullopt;
    }
    return found->get<double>();
  }
  std::optional<std::string> text(const char* key, std::size_t longest) {
    known_.emplace_back(key);
    const auto found = json_.find(key);
    if (found == json_.end() || found->is_null()) return std::nullopt;
    if (!found->is_string() || found->get_ref<const std::string&>().size() > longest) {
      fail("wrong_type", fmt::format("{} must be text of at most {} characters, or null.", key, longest), key);
      return std::nullopt;
    }
    return found->get<std::string>();
  }
  bool flag(const char* key, bool otherwise) {
    known_.emplace_back(key);
    const auto found = json_.find(key);
    if (found == json_.end() || found->is_null()) return otherwise;
    if (!found->is_boolean()) {
      fail("wrong_type", fmt::format("{} must be true or false.", key), key);
      return otherwise;
    }
    return found->get<bool>();
  }
  void fail(std::string code, std::string message, std::string field) {
    if (!problem_) problem_ = Problem{400, std::move(code), std::move(message), std::move(field)};
  }
  std::optional<Problem> problem() {
    for (const auto& [key, value] : json_.items()) {
      if (std::find(known_.begin(), known_.end(), key) == known_.end()) {
        fail("unknown_member", fmt::format("{} is not known here; allowed: {}.", records::in_quotes(key), records::listed(known_)), "");
      }
    }
    return problem_;
  }

 private:
  const nlohmann::json& json_;
  std::vector<std::string> known_;
  std::optional<Problem> problem_;
};

}  // namespace

tl::unexpected<Problem> refuse(int status, std::string code, std::string message, std::string field) {
  return tl::unexpected(Problem{status, std::move(code), std::move(message), std::move(field)});
}

std::optional<std::string> Query::text(const char* key) {
  known_.emplace_back(key);
  const auto found = query_.find(key);
  if (found == query_.end() || found->second.empty()) return std::nullopt;
  return found->second;
}

std::optional<double> Query::number(const char* key, double low, double high, bool above_low) {
  const auto written = text(key);
  if (!written) return std::nullopt;
  const auto value = units::parse_number(*written);
  if (!value || !(*value >= low && *value <= high) || (above_low && *value == low)) {
    fail("out_of_range", fmt::format("{} must be a number {} {} and at most {}.", key, above_low ? "above" : "from", low, high), key);
    return std::nullopt;
  }
  return *value;
}

void Query::fail(std::string code, std::string message, std::string field) {
  if (!problem_) problem_ = Problem{400, std::move(code), std::move(message), std::move(field)};
}

std::optional<Problem> Query::problem() {
  for (const auto& [key, value] : query_) {
    if (std::find(known_.begin(), known_.end(), key) != known_.end()) continue;
    fail("unknown_parameter",
         fmt::format("{} is not a parameter of this address; allowed: {}.", records::in_quotes(key),
                     known_.empty() ? std::string("none") : records::listed(known_)),
         "");
  }
  return problem_;
}

std::optional<Problem> too_much(const records::LoopLog& log, records::Instant as_of, double days) {
  if (log.entries.size() > kMostEntries) {
    return Problem{422, "log_too_long", fmt::format("The log has {} lines; at most {} can be worked on here. Begin a new loop folder.",
                                                    log.entries.size(), kMostEntries), ""};
  }
  const double course = records::days_between(infer::start_of(log, as_of), as_of) + days;
  if (course > kLongestCourseDays) {
    return Problem{422, "course_too_long",
                   fmt::format("From the loop's start to the end of the outlook are {:.0f} days; at most {:.0f} can be worked on here. "
                               "Check the dates, or ask as of an earlier day.", course, kLongestCourseDays), "as_of"};
  }
  return std::nullopt;
}

// nullopt: possible.
std::optional<Problem> set_as_of(const records::LoopLog& log, const std::optional<std::string>& text, infer::OutlookOptions& options) {
  if (text) {
    const auto parsed = records::parse_instant(*text, log.loop.zone());
    if (!parsed) return Problem{400, "bad_date", "as_of must be a date or time, for example 2026-03-12 or 2026-03-12T08:00Z.", "as_of"};
    options.as_of = parsed->when;
  }
  const auto as_of = infer::resolve_as_of(log, options.as_of);
  if (!as_of) {
    return Problem{422, "no_moment", "The log has no entry and loop.toml no `started`: write when the loop started, or add an entry.", "as_of"};
  }
  if (log.loop.started && *as_of < *log.loop.started) {
    return Problem{400, "before_start", fmt::format("as_of lies before the loop's start, {}; choose a later moment.",
                                                    records::to_utc_text(*log.loop.started)), "as_of"};
  }
  options.as_of = as_of;
  return too_much(log, *as_of, options.days);
}

namespace {

tl::expected<nlohmann::json, Problem> read_question(const Request& request) {
  if (!records::lower_case(request.header("content-type")).starts_with("application/json")) {
    return refuse(415, "wrong_type", "Send the question as application/json.", "Content-Type");
  }
  if (nests_deeper_than(request.body, kDeepestJson)) {
    return refuse(400, "too_deep", "The JSON nests deeper than 32 levels; a question here has one.");
  }
  const nlohmann::json json = nlohmann::json::parse(request.body, nullptr, false);
  if (!json.is_object()) return refuse(400, "bad_json", "The body is not a JSON object; see the description of this address.");
  return json;
}

}  // namespace

tl::expected<steer::WhatIf, Problem> read_wish(const Request& request) {
  const auto json = read_question(request);
  if (!json) return tl::unexpected(json.error());
  Wish in(*json);
  steer::WhatIf wish;
  if (const auto v = in.number("dose_ammonia_mg_l", 0, 20)) wish.dose_ammonia = units::AmmoniaNH3{*v};
  wish.dose_in_days = in.number("dose_in_days", 0, 60).value_or(0);
  if (const auto v = in.number("buffer_mg_l_caco3", 0, 500)) wish.buffer = units::AlkalinityCaCO3{*v};
  wish.buffer_in_days = in.number("buffer_in_days", 0, 60).value_or(0);
  if (const auto v = in.number("temperature_c", 4, 40)) wish.temperature = units::Celsius{*v};
  wish.wait_days = in.number("wait_days", 0, 60).value_or(0);
  wish.plan = in.flag("plan", true);
  if (const auto problem = in.problem()) return tl::unexpected(*problem);
  return wish;
}

tl::expected<FishQuestion, Problem> read_fish_question(const Request& request) {
  const auto json = read_question(request);
  if (!json) return tl::unexpected(json.error());
  Wish in(*json);
  FishQuestion q;
  q.wish.count = in.number("count", 1, 100000);
  q.wish.weight_g = in.number("weight_g", 0.1, 20000);
  q.wish.species = in.text("species", 100).value_or("");
  q.wish.feed_g = in.number("feed_g_per_day", 0.1, 100000);
  q.wish.feed_percent = in.number("feed_percent", 0.1, 30);
  q.wish.protein_percent = in.number("protein_percent", 10, 70).value_or(32);
  const double weeks = in.number("weeks", 1, 12).value_or(6);
  q.as_of = in.text("as_of", 40);
  if (weeks != std::floor(weeks)) in.fail("out_of_range", "weeks must be a whole number from 1 to 12.", "weeks");
  if (q.wish.feed_g && q.wish.feed_percent) in.fail("both", "Give feed_g_per_day or feed_percent, not both.", "feed_percent");
  if (const auto problem = in.problem()) return tl::unexpected(*problem);
  q.wish.weeks = static_cast<int>(weeks);
  return q;
}

}  // namespace helmwater::server
