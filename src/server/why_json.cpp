// SPDX-License-Identifier: Apache-2.0
#include "server/why_json.hpp"

#include <cmath>
#include <nlohmann/json.hpp>

namespace helmwater::server {
namespace {

using nlohmann::ordered_json;

// Three significant digits.
double three_digits(double value) {
  if (value == 0 || !std::isfinite(value)) return 0;
  const double step = std::pow(10, std::floor(std::log10(std::abs(value))) - 2);
  return std::round(value / step) * step;
}
double probability(double p) { return std::round(p * 1000) / 1000; }

ordered_json test_json(const steer::TellingTest& test) {
  ordered_json j;
  j["test"] = test.test.empty() ? ordered_json(nullptr) : ordered_json(test.test);
  j["in_days"] = test.in_days;
  j["unit"] = test.unit.empty() ? ordered_json(nullptr) : ordered_json(test.unit);
  j["expected"] = ordered_json::array();
  for (const auto& under : test.expected) {
    j["expected"].push_back({{"cause", under.cause},
                             {"p10", three_digits(under.low)},
                             {"p50", three_digits(under.middle)},
                             {"p90", three_digits(under.high)}});
  }
  j["overlap"] = probability(test.overlap);
  j["text"] = test.text;
  return j;
}

}  // namespace

ordered_json to_json(const steer::WhyStuck& why) {
  ordered_json j;
  j["loop"] = why.loop;
  j["as_of"] = records::to_utc_text(why.as_of);
  j["started"] = records::to_utc_text(why.started);
  j["readings_used"] = why.readings_used;
  j["effective_members"] = std::round(why.least_effective);
  j["seed"] = why.seed;
  j["verdict"] = why.verdict;
  j["text"] = why.says;
  j["explanations"] = ordered_json::array();
  for (const auto& e : why.explanations) {
    j["explanations"].push_back({{"cause", e.cause},
                                 {"title", e.title},
                                 {"text", e.says},
                                 {"probability", probability(e.probability)},
                                 {"because", e.because},
                                 {"look", e.look},
                                 {"remedy", e.remedy},
                                 {"caution", e.cautions},
                                 {"confidence", e.confidence}});
  }
  j["set_aside"] = ordered_json::array();
  for (const auto& s : why.set_aside) j["set_aside"].push_back({{"cause", s.cause}, {"because", s.why}});
  j["next_test"] = why.next_test ? test_json(*why.next_test) : ordered_json(nullptr);
  return j;
}

}  // namespace helmwater::server
