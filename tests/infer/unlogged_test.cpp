// SPDX-License-Identifier: Apache-2.0
// Deeds nobody logged, as hypotheses; and rates that wander. The Bayes factor is held against one worked out by hand.
#include "infer/unlogged.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>

#include "handbook/handbook.hpp"
#include "infer/distributions.hpp"
#include "infer/outlook.hpp"
#include "infer/windows.hpp"
#include "log_text.hpp"
#include "loop/nitrification.hpp"

using namespace helmwater;
using namespace helmwater::infer;
using helmwater::tests::log_from;
using helmwater::tests::start_instant;

namespace {

const std::string kKits =
    "[[kit]]\ntest = \"ammonia\"\nbasis = \"NH3\"\nsteps = [0, 0.3, 0.6, 1.2, 2.4, 4.8]\n"
    "[[kit]]\ntest = \"nitrite\"\nbasis = \"NO2\"\nsteps = [0, 0.3, 0.6, 1.2, 2.4, 4.8]\n"
    "[[kit]]\ntest = \"nitrate\"\nbasis = \"NO3\"\nsteps = [0, 5, 10, 20, 40, 80]\n";

std::string reading(int day, const char* test, const char* value) {
  return "2026-03-" + std::string(day < 9 ? "0" : "") + std::to_string(day + 1) + "T09:00Z," + test + "," + value + ",mg/L,,\n";
}

Posterior posterior_at(const records::LoopLog& log, double day) {
  OutlookOptions options;
  options.as_of = records::plus_days(start_instant(log), day);
  options.members = 2000;
  return posterior_for(log, options);
}

// A cool loop in which nothing moves yet: what goes in stays.
const std::string kCool = "start = \"unseeded\"\ntypical_temperature_c = 12\n" + kKits;

TEST(Unlogged, AForgottenDoseIsFoundAskedAboutAndSized) {
  const std::string dose = "2026-03-01T08:30Z,dose,1.91,g,ammonium chloride,\n";  // 0.5 mg N/L in 1000 L
  const std::string before = dose + reading(1, "ammonia", "0.6") + reading(3, "ammonia", "0.6");
  // 1.8 mg/L more from day 4 on.
  const auto log = log_from(before + reading(5, "ammonia", "2.4") + reading(7, "ammonia", "2.4"), kCool);
  const auto suspected = suspected_by(log, posterior_at(log, 8));
  ASSERT_EQ(suspected.size(), 1u);
  EXPECT_EQ(suspected[0].suspicion.kind, Suspicion::Kind::ammonia);
  EXPECT_GT(suspected[0].probability, 0.5);
  EXPECT_GT(suspected[0].size, 0.7);  // mg N/L; 1.8 mg/L as NH3 is 1.5
  EXPECT_LT(suspected[0].size, 3.0);
  OutlookOptions options;
  options.as_of = records::plus_days(start_instant(log), 8);
  const Outlook outlook = outlook_of(log, options);
  EXPECT_TRUE(std::any_of(outlook.doubts.begin(), outlook.doubts.end(),
                          [](const records::Doubt& d) { return d.code == "unlogged_addition"; }));

  // The same with the second dose written down: nothing is suspected.
  const auto honest = log_from(before + "2026-03-05T09:00Z,dose,5.7,g,ammonium chloride,\n" + reading(5, "ammonia", "2.4") +
                                   reading(7, "ammonia", "2.4"), kCool);
  EXPECT_TRUE(unlogged_in(honest, start_instant(honest), records::plus_days(start_instant(honest), 8)).suspicions.empty());
}

TEST(Unlogged, WhatCreepsUpIsASupply) {
  const std::string dose = "2026-03-01T08:30Z,dose,0.95,g,ammonium chloride,\n";  // 0.25 mg N/L in 1000 L
  std::string rows = dose;
  const char* seen[] = {"0.3", "0.6", "0.6", "1.2", "1.2", "2.4", "2.4"};  // about 0.25 mg/L more a day
  for (int i = 0; i < 7; ++i) rows += reading(1 + i + i / 2, "ammonia", seen[i]);
  const auto log = log_from(rows, kCool);
  const Posterior posterior = posterior_at(log, 11);
  const auto supply = supply_by(log, posterior);
  ASSERT_TRUE(supply.has_value());
  double all = supply->probability;
  for (const Suspected& s : suspected_by(log, posterior)) all += s.probability;
  EXPECT_GT(all, 0.9);  // a supply, or several doses: something was not logged
  EXPECT_GT(supply->probability, 0.3);
  EXPECT_GT(supply->mg_n_l_d, 0.05);
  EXPECT_LT(supply->mg_n_l_d, 0.6);
  // A level reading hints at none.
  const auto level = log_from(dose + reading(1, "ammonia", "0.3") + reading(3, "ammonia", "0.3") + reading(6, "ammonia", "0.3"), kCool);
  EXPECT_FALSE(supply_by(level, posterior_at(level, 7)).has_value());
}

TEST(Unlogged, OneHighVialAmongLowOnesStaysAMisread) {
  const auto log = log_from("2026-03-01T08:30Z,dose,1.91,g,ammonium chloride,\n" + reading(1, "ammonia", "0.6") +
                                reading(3, "ammonia", "0.6") + reading(5, "ammonia", "2.4") + reading(6, "ammonia", "0.6") +
                                reading(7, "ammonia", "0.6"),
                            kCool);
  const auto suspected = suspected_by(log, posterior_at(log, 8));
  ASSERT_EQ(suspected.size(), 1u);  // it is weighed
  EXPECT_LT(suspected[0].probability, 0.2);
}

TEST(Unlogged, WaterChangedAndNotLogged) {
  // 40 mg/L of nitrate given at the start (0.645 mmol/L of nitric acid, 63.01 g/mol), into water that holds none; a quarter is left.
  const std::string source = "start = \"unseeded\"\ntypical_temperature_c = 20\n" + kKits + "[source_water]\nnitrate_mg_l = 0\nph = 7.5\n";
  std::string rows = "2026-03-01T08:30Z,dose,76.7,g,nitric acid 53 %,\n";
  for (int day : {1, 3, 5}) rows += reading(day, "nitrite", "0") + reading(day, "nitrate", "40");
  for (int day : {7, 8, 9, 10}) rows += reading(day, "nitrite", "0") + reading(day, "nitrate", "10");
  const auto log = log_from(rows, source);
  const auto suspected = suspected_by(log, posterior_at(log, 11));
  ASSERT_EQ(suspected.size(), 1u);
  EXPECT_EQ(suspected[0].suspicion.kind, Suspicion::Kind::water_change);
  EXPECT_GT(suspected[0].probability, 0.5);
  EXPECT_NEAR(suspected[0].size, 0.75, 0.2);
  // With a logged change in between there is nothing to suspect.
  const auto honest = log_from(rows + "2026-03-07T09:00Z,water change,75,%,,\n", source);
  EXPECT_TRUE(unlogged_in(honest, start_instant(honest), records::plus_days(start_instant(honest), 11)).suspicions.empty());
}

// P(happened | readings) = p B / (p B + 1 - p), by Bayes' rule, with B the ratio of the two likelihoods. Where the readings
// say nothing B is 1 and the prior's probability stays.
TEST(Unlogged, BeforeTheReadingsTheProbabilityIsThePriors) {
  const auto log = log_from("2026-03-01T08:30Z,dose,1.91,g,ammonium chloride,\n" + reading(1, "ammonia", "0.6") +
                                reading(5, "ammonia", "2.4"), kCool);
  const Posterior posterior = posterior_at(log, 6);
  const auto& names = posterior.priors->names();
  const auto row = std::find(names.begin(), names.end(), "unlogged_ammonia_0") - names.begin();
  ASSERT_LT(row, static_cast<std::ptrdiff_t>(names.size()));
  const double p = handbook::Handbook::built_in().prior("unlogged_deed").a;
  std::vector<double> z(names.size(), 0.0);
  int happened = 0;
  constexpr int kPoints = 2000;
  for (int i = 0; i < kPoints; ++i) {
    z[static_cast<std::size_t>(row)] = normal_quantile((i + 0.5) / kPoints);
    happened += posterior.priors->member(z.data()).parameters.unlogged[0] > 0;
  }
  EXPECT_EQ(happened, std::lround(p * kPoints));
}

TEST(WanderingRates, EachWeekHasItsOwnFactorOfBothSteps) {
  const auto log = log_from("2026-03-01T08:30Z,dose,3.82,g,ammonium chloride,\n" + reading(10, "ammonia", "1.2"), kCool);
  const Posterior posterior = posterior_at(log, 11);
  EXPECT_EQ(posterior.priors->known(), posterior.priors->dimensions() - 2 * loop::kWanderMost + 4);  // two weeks, two steps
  const loop::Timeline timeline = tests::clock_of(log);
  EXPECT_EQ(timeline.loads_at(0).knot, 0);
  EXPECT_EQ(timeline.loads_at(6.9).knot, 0);
  EXPECT_EQ(timeline.loads_at(7.1).knot, 1);
  // The factor acts on the rate and on growth alike.
  loop::Parameters<double> q = posterior.priors->member(posterior.draws.z.col(0).data()).parameters;
  for (double& w : q.wander_a) w = 1;
  for (double& w : q.wander_n) w = 1;
  q.wander_a[1] = 0.5;
  q.wander_n[1] = 2;
  const loop::Environment env = timeline.environment(3);
  loop::State<double> y{};
  y.tan = 1, y.no2 = 1, y.alk = 2, y.dic = 2, y.r_a = 1, y.r_n = 1, y.p = 0.3, y.o2 = 8;
  const auto e = loop::solve_equilibrium(env, y, -8 * loop::kLn10, 60);
  const auto c = loop::constants_of(q);
  const auto plain = loop::nitrification(q, c, env, timeline.loads_at(1), y, e), other = loop::nitrification(q, c, env, timeline.loads_at(8), y, e);
  EXPECT_NEAR(other.rate_a / plain.rate_a, 0.5, 1e-12);
  EXPECT_NEAR(other.rate_n / plain.rate_n, 2, 1e-12);
  EXPECT_NEAR(other.growth_a / plain.growth_a, 0.5, 1e-12);
  EXPECT_NEAR(other.growth_n / plain.growth_n, 2, 1e-12);
}

// Weeks no reading speaks of are as the prior has them: ln-sd 0.30 (trials with loops of another structure).
TEST(WanderingRates, ComingWeeksAreDrawnFromThePrior) {
  const auto log = log_from("2026-03-01T08:30Z,dose,3.82,g,ammonium chloride,\n" + reading(10, "ammonia", "1.2"), kCool);
  const Posterior posterior = posterior_at(log, 11);
  double sum = 0, squares = 0;
  const auto draws = static_cast<double>(posterior.draws.z.cols());
  for (Eigen::Index i = 0; i < posterior.draws.z.cols(); ++i) {
    const double w = std::log(posterior.priors->member(posterior.draws.z.col(i).data()).parameters.wander_n[5]);
    sum += w;
    squares += w * w;
  }
  EXPECT_NEAR(sum / draws, 0, 4 * 0.30 / std::sqrt(draws));
  EXPECT_NEAR(std::sqrt(squares / draws), 0.30, 4 * 0.30 / std::sqrt(2 * draws));
}

}  // namespace
