// SPDX-License-Identifier: Apache-2.0
// Runs every *.scenario of this folder and holds each of its lines to the model.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <iostream>

#include "scenario.hpp"

namespace helmwater::scenarios {
namespace {

const Moment& at(const Course& run, double day) {
  return *std::min_element(run.moments.begin(), run.moments.end(), [&](const Moment& a, const Moment& b) {
    return std::abs(a.day - day) < std::abs(b.day - day);
  });
}

// First day on which the quantity is below the threshold after having been above it; linear between moments.
std::optional<double> first_crossing(const Course& run, Quantity q, double threshold, bool downward) {
  for (std::size_t i = 1; i < run.moments.size(); ++i) {
    const double a = run.moments[i - 1].of(q), b = run.moments[i].of(q);
    const bool crosses = downward ? a >= threshold && b < threshold : a <= threshold && b > threshold;
    if (!crosses) continue;
    return run.moments[i - 1].day + (threshold - a) / (b - a) * (run.moments[i].day - run.moments[i - 1].day);
  }
  return std::nullopt;
}

void expect_within(double value, double low, double high) {
  EXPECT_GE(value, low);
  EXPECT_LE(value, high);
}
void expect_day(const std::optional<double>& day, double from, double to) {
  ASSERT_TRUE(day.has_value()) << "it never happens";
  expect_within(*day, from, to);
}

void check(const Expectation& e, const Course& run) {
  using Kind = Expectation::Kind;
  switch (e.kind) {
    case Kind::on_day: return expect_within(at(run, e.from_day).of(e.quantity), e.low, e.high);
    case Kind::change:
      return expect_within(at(run, e.to_day).of(e.quantity) - at(run, e.from_day).of(e.quantity), e.low,
                           e.high);
    case Kind::slope:
      return expect_within(std::log(at(run, e.to_day).of(e.quantity) / at(run, e.from_day).of(e.quantity)) /
                               (e.to_day - e.from_day),
                           e.low, e.high);
    case Kind::first_below:
      return expect_day(first_crossing(run, e.quantity, e.threshold, true), e.from_day, e.to_day);
    case Kind::first_above:
      return expect_day(first_crossing(run, e.quantity, e.threshold, false), e.from_day, e.to_day);
    case Kind::never_above:
      for (const Moment& m : run.moments) {
        if (m.day > e.to_day) break;
        ASSERT_LE(m.of(e.quantity), e.threshold) << "day " << m.day;
      }
      return;
    case Kind::never_below:
      for (const Moment& m : run.moments) {
        if (m.day < e.from_day || m.day > e.to_day) continue;
        ASSERT_GE(m.of(e.quantity), e.threshold) << "day " << m.day;
      }
      return;
    case Kind::complete: return expect_day(run.complete, e.from_day, e.to_day);
    case Kind::never_complete:
      EXPECT_FALSE(run.complete && *run.complete <= e.to_day)
          << "complete on day " << run.complete.value_or(0);
      return;
    case Kind::highest: {
      double most = 0;
      for (const Moment& m : run.moments) {
        if (m.day <= e.to_day) most = std::max(most, m.of(e.quantity));
      }
      return expect_within(most, e.low, e.high);
    }
    case Kind::doses: {
      const auto count =
          std::count_if(run.dose_days.begin(), run.dose_days.end(), [&](double d) { return d <= e.to_day; });
      return expect_within(static_cast<double>(count), e.low, e.high);
    }
  }
}

std::vector<std::string> files() {
  std::vector<std::string> found;
  for (const auto& entry : std::filesystem::directory_iterator(HELMWATER_TEST_DATA "/scenarios")) {
    if (entry.path().extension() == ".scenario") found.push_back(entry.path().filename().string());
  }
  std::sort(found.begin(), found.end());
  return found;
}

class Scenarios : public testing::TestWithParam<std::string> {};

// Set HELMWATER_SCENARIO_TABLE to see the days of every run.
TEST_P(Scenarios, comes_out_as_written) {
  const Scenario scenario = read_scenario(HELMWATER_TEST_DATA "/scenarios/" + GetParam());
  const Course run = run_scenario(scenario.set_up, scenario.last_day);
  for (const Expectation& e : scenario.expectations) {
    SCOPED_TRACE(scenario.file + ":" + std::to_string(e.line) + ": " + e.text + "\n  source: " + e.source);
    check(e, run);
  }
  if (HasFailure() || std::getenv("HELMWATER_SCENARIO_TABLE") != nullptr) {
    std::cout << scenario.file << ": " << scenario.title << "\n" << run.table();
  }
}

INSTANTIATE_TEST_SUITE_P(all, Scenarios, testing::ValuesIn(files()), [](const auto& parameter) {
  std::string name = std::filesystem::path(parameter.param).stem().string();
  std::replace_if(
      name.begin(), name.end(), [](char c) { return std::isalnum(static_cast<unsigned char>(c)) == 0; }, '_');
  return name;
});

TEST(scenario_reader, says_which_line_it_does_not_understand) {
  const std::string path = testing::TempDir() + "unclear.scenario";
  {
    std::FILE* out = std::fopen(path.c_str(), "w");
    ASSERT_NE(out, nullptr);
    std::fputs("title: unclear\ntemperature: warm\n", out);
    std::fclose(out);
  }
  try {
    read_scenario(path);
    FAIL() << "accepted";
  } catch (const std::runtime_error& e) {
    EXPECT_NE(
        std::string(e.what()).find("unclear.scenario:2: not a line of a scenario: \"temperature: warm\""),
        std::string::npos)
        << e.what();
  }
}

TEST(scenario_folder, holds_scenarios) { EXPECT_GE(files().size(), 10u); }

}  // namespace
}  // namespace helmwater::scenarios
