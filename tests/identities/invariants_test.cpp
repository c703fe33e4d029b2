// SPDX-License-Identifier: Apache-2.0
// What must be true of any start-up, whatever the numbers: conservation along the way, and what everybody who
// keeps a loop has seen. The latter are marked "common practice, no source".
#include <gtest/gtest.h>

#include <cmath>

#include "loop/central_loop.hpp"
#include "loop/piecewise.hpp"

namespace helmwater::loop {
namespace {

using loop_test::aerated_water;
using loop_test::ammonium_chloride;
using loop_test::central_parameters;
using loop_test::dose;
using loop_test::environment;
using loop_test::ph;
using loop_test::run_simulate;
using loop_test::steady_timeline;

Parameters<double> without_sink() {
  auto q = central_parameters();
  q.sink = 0;
  return q;
}

std::vector<double> daily(double last) {
  std::vector<double> days;
  for (double d = 1; d <= last; ++d) days.push_back(d);
  return days;
}

// Mass balance; tolerance as the reference problem's notes ask.
TEST(invariants, nitrogen_is_constant_and_alkalinity_pays_two_equivalents) {
  const auto timeline = steady_timeline(25);
  auto start = aerated_water(3, 600, 25);
  start.tan = 2, start.no3 = 1;
  for (const auto& y : run_simulate(timeline, without_sink(), start, daily(40)).seen) {
    EXPECT_NEAR(y.tan + y.no2 + y.no3, 3, 1e-9);
    EXPECT_NEAR(y.alk, start.alk - 2 / 14.007 * (start.tan - y.tan), 1e-9);
  }
}

// The reference is converged: half the step changes nothing above 1e-4.
TEST(invariants, halving_the_step_of_the_reference_changes_nothing) {
  auto timeline = steady_timeline(25);
  timeline.events = {ammonium_chloride(0, 2), ammonium_chloride(12, 2)};
  const auto start = aerated_water(3, 600, 25);
  const auto once = loop_test::walk_reference(timeline, without_sink(), start, daily(30), 0.01);
  const auto twice = loop_test::walk_reference(timeline, without_sink(), start, daily(30), 0.005);
  for (std::size_t i = 0; i < once.size(); ++i) {
    const auto &a = once[i], &b = twice[i];
    for (double apart : {a.tan - b.tan, a.no2 - b.no2, a.no3 - b.no3, a.alk - b.alk, a.dic - b.dic,
                         a.r_a - b.r_a, a.r_n - b.r_n}) {
      EXPECT_LT(std::abs(apart), 1e-4) << "day " << i + 1;
    }
    for (double x : {a.tan, a.no2, a.no3, a.r_a, a.r_n}) EXPECT_GE(x, -1e-12);
  }
}

State<double> dosed(const State<double>& y, const char* reagent, double mmol) {
  return apply_event(without_sink(), dose(0, reagent, mmol), y);
}

// Ammonium is a weak acid (charge balance): alkalinity stays, the pH falls a little.
TEST(invariants, ammonium_chloride_leaves_alkalinity_and_lowers_ph_slightly) {
  const auto y = aerated_water(3, 600, 25);
  const auto after = dosed(y, "ammonium chloride", 2 / kGramsPerMolN);
  EXPECT_EQ(after.alk, y.alk);
  const double fall = ph(environment(25), y) - ph(environment(25), after);
  EXPECT_GT(fall, 0.001);
  EXPECT_LT(fall, 0.1);
}

// Charge balance, and common practice, no source: ammonia solution raises the pH.
TEST(invariants, ammonia_solution_raises_alkalinity_and_ph) {
  const auto y = aerated_water(3, 600, 25);
  const auto after = dosed(y, "ammonia solution", 2 / kGramsPerMolN);
  EXPECT_NEAR(after.alk - y.alk, 2 / 14.007, 1e-12);
  EXPECT_GT(ph(environment(25), after), ph(environment(25), y) + 0.05);
}

// Bicarbonate into aerated water: little at once, and the pH climbs as carbon dioxide leaves, alkalinity
// unchanged (chemistry of open water).
TEST(invariants, bicarbonate_then_degassing_raises_ph) {
  auto timeline = steady_timeline(25);
  timeline.events = {dose(0, "sodium bicarbonate", 1)};
  auto q = without_sink();
  auto start = aerated_water(1.5, 600, 25);
  start.r_a = start.r_n = 0;
  const auto env = environment(25);
  const auto at_once = dosed(start, "sodium bicarbonate", 1);
  const auto later = run_simulate(timeline, q, start, {1}).seen.back();
  EXPECT_NEAR(later.alk, 2.5, 1e-12);
  EXPECT_GT(ph(env, later), ph(env, at_once) + 0.05);
  EXPECT_GT(ph(env, later), ph(env, start) + 0.1);
}

// Common practice, no source: the pH measured soon after a dose of acid is lower than the one that settles;
// the carbon dioxide set free has to leave first.
TEST(invariants, ph_rebounds_after_acid) {
  auto timeline = steady_timeline(25);
  timeline.events = {dose(0, "hydrochloric acid", 1)};
  auto start = aerated_water(3, 600, 25);
  start.r_a = start.r_n = 0;
  const auto env = environment(25);
  const double before = ph(env, start), at_once = ph(env, dosed(start, "hydrochloric acid", 1));
  const auto run = run_simulate(timeline, without_sink(), start, {1.0 / 24, 1});
  const double hour = ph(env, run.seen[0]), day = ph(env, run.seen[1]);
  EXPECT_LT(at_once, hour);
  EXPECT_LT(hour, day);
  EXPECT_LT(day, before);
  EXPECT_GT(day - at_once, 0.5);
  EXPECT_NEAR(run.seen[1].alk, 2, 1e-12);
}

// Common practice, no source: tap water rich in carbon dioxide rises in pH when aerated, faster with more
// air.
TEST(invariants, aeration_raises_the_ph_of_fresh_tap_water) {
  auto start = aerated_water(3, 20000, 20);
  start.r_a = start.r_n = 0;
  const auto env = environment(20);
  auto gentle = without_sink(), strong = without_sink();
  gentle.k_la = 10, strong.k_la = 200;
  const double tap = ph(env, start);
  const double slow = ph(env, run_simulate(steady_timeline(20), gentle, start, {0.25}).seen.back());
  const double fast = ph(env, run_simulate(steady_timeline(20), strong, start, {0.25}).seen.back());
  EXPECT_GT(slow, tap + 0.05);
  EXPECT_GT(fast, slow + 0.05);
  const double balance = ph(env, aerated_water(3, gentle.co2_ppm, 20));
  EXPECT_NEAR(ph(env, run_simulate(steady_timeline(20), strong, start, {2}).seen.back()), balance, 0.01);
}

// Common practice, no source: a start-up is quicker when warmer, seeded or aerated; nitrite comes after
// ammonia.
TEST(invariants, warmth_seed_and_oxygen_speed_a_start_up) {
  const auto day_ammonia_gone = [](double t, double oxygen, double seed) {
    auto timeline = steady_timeline(t, oxygen);
    timeline.events = {ammonium_chloride(0, 2)};
    auto start = aerated_water(3, 600, t);
    start.r_a = start.r_n = seed;
    const auto days = daily(80);
    const auto run = run_simulate(timeline, without_sink(), start, days);
    for (std::size_t i = 0; i < days.size(); ++i) {
      if (run.seen[i].tan < 0.3) return days[i];
    }
    return 1000.0;
  };
  const double usual = day_ammonia_gone(20, 8, 1e-3);
  EXPECT_LT(usual, 80);
  EXPECT_LT(day_ammonia_gone(26, 8, 1e-3), usual);
  EXPECT_GT(day_ammonia_gone(14, 8, 1e-3), usual);
  EXPECT_LT(day_ammonia_gone(20, 8, 1e-1), usual);
  EXPECT_GT(day_ammonia_gone(20, 1, 1e-3), usual);
}

// Growth stops above 42 degC and holds between 30 and 34 (the model's rule; optimum 35/38 degC for pure
// cultures, Grunditz & Dalhammar 2001; the rest is an estimate).
TEST(invariants, heat_stops_nitrification) {
  const auto rate = [](double t) {
    const auto env = environment(t);
    auto y = aerated_water(3, 600, 25);
    y.tan = 2, y.r_a = 1;
    return nitrification(without_sink(), env, y, solve_equilibrium(env, y, -8 * kLn10, 40)).rate_a;
  };
  EXPECT_GT(rate(30), rate(25));
  EXPECT_NEAR(rate(33) / rate(30), 1, 0.05);
  EXPECT_LT(rate(38), 0.6 * rate(33));
  EXPECT_EQ(rate(42), 0);
  EXPECT_EQ(rate(45), 0);
}

}  // namespace
}  // namespace helmwater::loop
