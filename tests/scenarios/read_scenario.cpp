// SPDX-License-Identifier: Apache-2.0
#include <algorithm>
#include <filesystem>
#include <fstream>
#include <regex>

#include "scenario.hpp"

namespace helmwater::scenarios {
namespace {

Quantity quantity_of(const std::string& word) {
  if (word == "ammonia") return Quantity::ammonia;
  if (word == "nitrite") return Quantity::nitrite;
  if (word == "nitrate") return Quantity::nitrate;
  if (word == "pH") return Quantity::ph;
  if (word == "alkalinity") return Quantity::alkalinity;
  return word == "ammonia capacity" ? Quantity::ammonia_capacity : Quantity::nitrite_capacity;
}

const std::string kNumber = "(-?[0-9.]+)";
const std::string kQuantity = "(ammonia|nitrite|nitrate|pH|alkalinity|ammonia capacity|nitrite capacity)";
const std::string kUnit = "(?: (?:mg N/L|mg N/L/d|mg/L CaCO3))?";

// One form of line: a pattern and what to do with its groups.
template <class Then>
bool matches(const std::string& line, const std::string& pattern, const Then& then) {
  std::smatch groups;
  if (!std::regex_match(line, groups, std::regex(pattern))) return false;
  then(groups);
  return true;
}
double number(const std::ssub_match& group) { return std::stod(group.str()); }

bool read_set_up(const std::string& line, SetUp& s) {
  using G = std::smatch;
  return matches(line, "temperature: " + kNumber + " C",
                 [&](const G& g) { s.temperature_c = number(g[1]); }) ||
         matches(line, "oxygen: " + kNumber + " mg/L", [&](const G& g) { s.oxygen_mg_l = number(g[1]); }) ||
         matches(line, "alkalinity: " + kNumber + " mg/L CaCO3",
                 [&](const G& g) { s.alkalinity_caco3 = number(g[1]); }) ||
         matches(line, "phosphate: " + kNumber + " mg P/L",
                 [&](const G& g) { s.phosphate_p = number(g[1]); }) ||
         matches(line, "nitrate: " + kNumber + " mg N/L", [&](const G& g) { s.nitrate_n = number(g[1]); }) ||
         matches(line, "seed: " + kNumber + " mg N/L/d each step",
                 [&](const G& g) { s.seed_ammonia = s.seed_nitrite = number(g[1]); }) ||
         matches(line, "seed: " + kNumber + " mg N/L/d ammonia step, " + kNumber + " nitrite step",
                 [&](const G& g) { s.seed_ammonia = number(g[1]), s.seed_nitrite = number(g[2]); }) ||
         matches(line, "rate halved at pH: " + kNumber, [&](const G& g) { s.ph_high = number(g[1]); }) ||
         matches(line, "fish excrete: " + kNumber + " mg N/L/d",
                 [&](const G& g) { s.fish_ammonia = number(g[1]); }) ||
         matches(line, "dose on day " + kNumber + ": ([a-z ]+), " + kNumber + " (?:mg N/L|mg/L CaCO3)",
                 [&](const G& g) {
                   s.doses.push_back({number(g[1]), g[2].str(), number(g[3])});
                 }) ||
         matches(line,
                 "plan: dose ([a-z ]+), " + kNumber + " mg N/L, when ammonia is below " + kNumber +
                     " and nitrite below " + kNumber + " mg N/L",
                 [&](const G& g) {
                   s.plan = Plan{number(g[2]), g[1].str(), number(g[3]), number(g[4])};
                 }) ||
         matches(line, "plan: keep alkalinity at " + kNumber + " mg/L CaCO3 with bicarbonate",
                 [&](const G& g) { s.keep_alkalinity_caco3 = number(g[1]); }) ||
         matches(line, "disinfectant on day " + kNumber + ": " + kNumber + " decades", [&](const G& g) {
           s.disinfectant.push_back({number(g[1]), number(g[2])});
         });
}

bool read_expectation(const std::string& line, Expectation& e) {
  using G = std::smatch;
  using Kind = Expectation::Kind;
  const auto set = [&](Kind kind, const G& g, std::size_t quantity, std::size_t from, std::size_t to,
                       std::size_t low, std::size_t high, std::size_t threshold = 0) {
    e.kind = kind;
    if (quantity) e.quantity = quantity_of(g[quantity].str());
    if (from) e.from_day = number(g[from]);
    if (to) e.to_day = number(g[to]);
    if (low) e.low = number(g[low]);
    if (high) e.high = number(g[high]);
    if (threshold) e.threshold = number(g[threshold]);
  };
  const std::string range = "between " + kNumber + " and " + kNumber;
  const std::string days = "between day " + kNumber + " and day " + kNumber;
  return matches(line, "day " + kNumber + ": " + kQuantity + " " + range + kUnit,
                 [&](const G& g) { set(Kind::on_day, g, 2, 1, 1, 3, 4); }) ||
         matches(line,
                 "day " + kNumber + " to day " + kNumber + ": " + kQuantity + " changes by " + range + kUnit,
                 [&](const G& g) { set(Kind::change, g, 3, 1, 2, 4, 5); }) ||
         matches(line,
                 "day " + kNumber + " to day " + kNumber + ": ln " + kQuantity + " rises by " + range +
                     " per day",
                 [&](const G& g) { set(Kind::slope, g, 3, 1, 2, 4, 5); }) ||
         matches(line, kQuantity + " first below " + kNumber + kUnit + " " + days,
                 [&](const G& g) { set(Kind::first_below, g, 1, 3, 4, 0, 0, 2); }) ||
         matches(line, kQuantity + " first above " + kNumber + kUnit + " " + days,
                 [&](const G& g) { set(Kind::first_above, g, 1, 3, 4, 0, 0, 2); }) ||
         matches(line, kQuantity + " never above " + kNumber + kUnit + " until day " + kNumber,
                 [&](const G& g) { set(Kind::never_above, g, 1, 0, 3, 0, 0, 2); }) ||
         matches(line, kQuantity + " never below " + kNumber + kUnit + " " + days,
                 [&](const G& g) { set(Kind::never_below, g, 1, 3, 4, 0, 0, 2); }) ||
         matches(line, "complete " + days, [&](const G& g) { set(Kind::complete, g, 0, 1, 2, 0, 0); }) ||
         matches(line, "never complete until day " + kNumber,
                 [&](const G& g) { set(Kind::never_complete, g, 0, 0, 1, 0, 0); }) ||
         matches(line, "highest " + kQuantity + " until day " + kNumber + ": " + range + kUnit,
                 [&](const G& g) { set(Kind::highest, g, 1, 0, 2, 3, 4); }) ||
         matches(line, "doses until day " + kNumber + ": " + range,
                 [&](const G& g) { set(Kind::doses, g, 0, 0, 1, 2, 3); });
}

}  // namespace

Scenario read_scenario(const std::string& path) {
  std::ifstream in(path);
  if (!in) throw std::runtime_error(path + ": cannot be read");
  Scenario scenario;
  scenario.file = std::filesystem::path(path).filename().string();
  std::string line, source;
  int at = 0;
  while (std::getline(in, line)) {
    ++at;
    if (line.empty() || line[0] == '#') continue;
    if (line.starts_with("title: ")) {
      scenario.title = line.substr(7);
    } else if (line.starts_with("source: ")) {
      source = line.substr(8);
    } else if (Expectation e; read_expectation(line, e)) {
      if (source.empty()) {
        throw std::runtime_error(path + ":" + std::to_string(at) +
                                 ": expectation without a source line above it");
      }
      e.text = line;
      e.source = source;
      e.line = at;
      scenario.last_day = std::max(scenario.last_day, e.to_day);
      scenario.expectations.push_back(e);
    } else if (!read_set_up(line, scenario.set_up)) {
      throw std::runtime_error(path + ":" + std::to_string(at) + ": not a line of a scenario: \"" + line +
                               "\"; see README.md beside it for the forms");
    }
  }
  if (scenario.title.empty() || scenario.expectations.empty()) {
    throw std::runtime_error(path + ": a scenario needs a title and at least one expectation");
  }
  return scenario;
}

}  // namespace helmwater::scenarios
