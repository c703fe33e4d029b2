// SPDX-License-Identifier: Apache-2.0
// The processes of a running loop one by one: film, sloughing, denitrification, evaporation, crops,
// switched-off devices, oxygen. Expected figures are worked beside each check from the rule the model states
// (docs/model) or from mass balance.
#include <gtest/gtest.h>

#include <cmath>

#include "central_loop.hpp"
#include "piecewise.hpp"

namespace helmwater::loop {
namespace {

using loop_test::central_parameters;
using loop_test::environment;
using loop_test::kFreeOxygen;

double rate_at(double t, double filled, double theta_film = 0) {
  auto q = central_parameters();
  if (theta_film > 0) q.ln_theta_film = std::log(theta_film);
  const Environment env = environment(t);
  State<double> y = loop_test::aerated_water(3, 600, 20);
  y.tan = 2, y.r_a = filled * q.r_max;
  Equilibrium<double> e = equilibrium_at(env, y, -7.2 * kLn10);
  e.free_ammonia = 0;
  return nitrification(q, env, y, e).rate_a / y.r_a;
}
// Growth of single bacteria 10 % per degree (Vannecke), a full film 4.3 % (Zhu & Chen 2002, as 4 % in the
// prior); half-way the geometric mean. Between 20 and 10 degC.
TEST(running_loop, a_full_film_feels_the_cold_less) {
  EXPECT_NEAR(rate_at(10, 1e-6) / rate_at(20, 1e-6), std::pow(1.10, -10), 1e-6);
  EXPECT_NEAR(rate_at(10, 1) / rate_at(20, 1), std::pow(1.04, -10), 1e-9);
  EXPECT_NEAR(rate_at(10, 1.5) / rate_at(20, 1.5), std::pow(1.04, -10), 1e-9);
  EXPECT_NEAR(rate_at(10, 0.5) / rate_at(20, 0.5), std::pow(1.10 * 1.04, -5), 1e-9);
  // Zhu & Chen's own +4.3 % a degree where ammonia limits.
  EXPECT_NEAR(rate_at(21, 1, 1.043) / rate_at(20, 1, 1.043), 1.043, 1e-9);
}
// The quotient the rates use is the pH and carbonate factors as the documentation prints them.
TEST(running_loop, rates_hold_the_factors_of_ph_and_carbonate) {
  const auto q = central_parameters();
  const Environment env = environment(20);
  for (double ph : {4.6, 5.5, 6.3, 7.1, 7.3, 8.2, 9.4, 10.5}) {
    for (double alk : {0.05, 0.3, 2.0}) {
      State<double> y{};
      y.tan = 1, y.r_a = 1e-9, y.alk = alk, y.p = 1;
      Equilibrium<double> e = equilibrium_at(env, y, -ph * kLn10);
      e.free_ammonia = e.nitrous_acid = 0;
      const double expected =
          1e-9 / (1 + q.k_a) * 8 / (8 + q.k_oa) * ph_factor(q, ph) * alkalinity_factor(q, alk);
      EXPECT_NEAR(nitrification(q, env, y, e).rate_a / expected, 1, 1e-9) << ph << " " << alk;
    }
  }
}
// Twice the water on the same surface: half the capacity per litre, of what can grow too. Above it capacity
// falls off at 1/d (estimate): of 2 R_max, without growth and decay, R_max (1 + e^-t) is left.
TEST(running_loop, what_surfaces_cannot_hold_falls_off) {
  auto q = central_parameters();
  q.b_a = q.b_n = 0;
  State<double> y = loop_test::aerated_water(3, 600, 25);
  y.r_a = 2 * q.r_max, y.r_n = 0.5 * q.r_max;
  Timeline t = loop_test::steady_timeline(25);
  const auto end = loop_test::walk_reference(t, q, y, {1.5}, 1e-3).back();
  EXPECT_NEAR(end.r_a, q.r_max * (1 + std::exp(-1.5)), 1e-9);
  EXPECT_NEAR(end.r_n, 0.5 * q.r_max, 1e-9);
  y.r_a = y.r_n = q.r_max;
  t.events = {{1, VolumeEvent{2}}};
  const auto wider = loop_test::run_simulate(t, q, y, {3}).seen.back();
  EXPECT_NEAR(wider.r_a, q.r_max / 2, 1e-9);
  t.events = {{1, VolumeEvent{0.5}}};
  const auto narrower = loop_test::run_simulate(t, q, y, {3}).seen.back();
  EXPECT_NEAR(narrower.r_a, q.r_max * 2, 1e-9);
}
// Denitrification gives back 3.57 g CaCO3 per g N (published) and 1.25 mol of carbon per mol; a fifth of the
// feed's nitrogen where nitrate is plenty, half of that at the half-saturation of 1 mg N/L (estimate).
TEST(running_loop, denitrification_takes_its_share_of_the_feed) {
  auto q = central_parameters();
  q.f_den = 0.2;
  Loads loads;
  loads.feed_protein_mg_l_d = 32;
  const auto lost = [&](double nitrate) {
    State<double> y{}, d{};
    y.no3 = nitrate;
    add_denitrification(q, constants_of(q), loads, y, d);
    return d;
  };
  EXPECT_NEAR(-lost(1e6).no3, 0.2 * 5.12, 1e-5);
  EXPECT_NEAR(-lost(1).no3, 0.1 * 5.12, 1e-12);
  EXPECT_NEAR(lost(1).alk * kMgCaCO3PerMeq / -lost(1).no3, 3.57, 0.01);
  EXPECT_NEAR(lost(1).dic / (-lost(1).no3 / kGramsPerMolN), 1.25, 1e-12);
  EXPECT_EQ(lost(0).no3, 0);
  EXPECT_EQ(lost(-0.01).no3, 0);
}
// Of the nitrogen eaten, what is not excreted and no particle stays in the fish; textbooks say about a
// quarter (25 to 35 %).
TEST(running_loop, nitrogen_of_feed_goes_to_water_solids_and_fish) {
  auto q = central_parameters();
  Loads loads;
  loads.feed_protein_mg_l_d = 32;
  State<double> d{};
  Breath<double> breath{1.0, 0.0};
  add_feed_load(q, constants_of(q), loads, breath, d);
  EXPECT_NEAR(d.tan + d.org_n + 32 * retained_by_fish(q), 5.12, 1e-12);
  EXPECT_GT(retained_by_fish(q) / 0.16, 0.20);
  EXPECT_LT(retained_by_fish(q) / 0.16, 0.35);
}
// Evaporating a tenth multiplies every concentration by 1/0.9 = 1.111 (arithmetic); refilling it with empty
// water gives back what was there. Lifeless water without air, in the reference to 1e-12, in the default grid
// likewise to its order.
TEST(running_loop, evaporation_concentrates_and_topping_up_dilutes) {
  auto q = central_parameters();
  q.k_la = 0, q.sink = 0, q.k_min = 0, q.k_urea = 0, q.b_a = q.b_n = 0;
  q.source_alk = q.source_dic = q.source_no3 = q.source_p = 0;
  State<double> y{};
  y.no2 = 1, y.no3 = 10, y.alk = 2, y.dic = 2.1, y.r_a = 4, y.r_n = 3, y.org_n = 0.5, y.urea_n = 0.2,
  y.p = 0.4, y.o2 = 8;
  y.tan = 0, y.no2 = 0;
  Timeline t = loop_test::steady_timeline(20, kFreeOxygen);
  Loads loads;
  loads.evaporation_per_d = -std::log(0.9) / 5;
  t.loads.push_back({0, 5, loads});
  WaterEvent up;
  up.share = 0.1;
  up.top_up = true;
  t.events.push_back({5, up});
  const auto states = loop_test::walk_reference(t, q, y, {5, 6}, 1e-2);
  const auto compare = [&](const State<double>& s, double factor, double tolerance) {
    for (const auto& [now, then] : {std::pair{s.no3, y.no3},
                                    {s.alk, y.alk},
                                    {s.dic, y.dic},
                                    {s.r_a, y.r_a},
                                    {s.r_n, y.r_n},
                                    {s.org_n, y.org_n},
                                    {s.urea_n, y.urea_n},
                                    {s.p, y.p}}) {
      EXPECT_NEAR(now / then, factor, tolerance);
    }
  };
  EXPECT_NEAR(1 / 0.9, 1.111, 0.001);
  compare(states[0], 1 / 0.9, 1e-12);
  EXPECT_NEAR(states[0].o2 / y.o2, 1 / 0.9, 1e-12);
  compare(states[1], 1, 1e-12);
  const auto fast = loop_test::run_simulate(t, q, y, {5, 6}).seen;
  compare(fast[0], 1 / 0.9, 1e-7);
  compare(fast[1], 1, 1e-7);
}
// Topped up as it goes: alkalinity rises by what the source brings, 1.5 % of 2 meq/L a day, 0.3 in ten days
// (arithmetic).
TEST(running_loop, steady_topping_up_brings_what_the_source_holds) {
  auto q = central_parameters();
  q.sink = 0;
  q.source_alk = 2, q.source_no3 = 4, q.source_p = 0.5;
  Timeline t = loop_test::steady_timeline(20);
  Loads loads;
  loads.top_up_per_d = 0.015;
  t.loads.push_back({0, 100, loads});
  State<double> y = loop_test::aerated_water(1, 600, 20);
  y.r_a = y.r_n = 0;
  const auto end = loop_test::run_simulate(t, q, y, {10}).seen.back();
  EXPECT_NEAR(end.alk - y.alk, 0.3, 1e-9);
  EXPECT_NEAR(end.no3, 0.6, 1e-9);
  EXPECT_NEAR(end.p - y.p, 0.075, 1e-9);
}
// Straight lines from 5 to 22 to 34 degC for leafy crops, 10 to 25 to 36 for fruiting ones; a tenth of a
// canopy at planting, all of it after 28 days (estimates).
TEST(running_loop, crops_grow_and_feel_the_temperature) {
  EXPECT_EQ(crop_temperature_factor(22, false), 1);
  EXPECT_EQ(crop_temperature_factor(4, false), 0);
  EXPECT_NEAR(crop_temperature_factor(13.5, false), 0.5, 1e-12);
  EXPECT_NEAR(crop_temperature_factor(28, false), 0.5, 1e-12);
  EXPECT_EQ(crop_temperature_factor(25, true), 1);
  EXPECT_NEAR(crop_temperature_factor(17.5, true), 0.5, 1e-12);
  EXPECT_EQ(crop_temperature_factor(36, true), 0);
  Timeline t = loop_test::steady_timeline(22);
  Planting p;
  p.from = p.planted = 10, p.to = 60, p.area_m2_per_l = 2e-3;
  t.plantings = {p};
  EXPECT_EQ(t.planted_at(9.9), 0);
  EXPECT_NEAR(t.planted_at(10), 2e-4, 1e-15);
  EXPECT_NEAR(t.planted_at(24), 0.55 * 2e-3, 1e-15);
  EXPECT_NEAR(t.planted_at(38), 2e-3, 1e-15);
  EXPECT_EQ(t.planted_at(60), 0);
  const Grid grid = make_grid(t, {}, {}, 70);
  double area_days = 0;
  for (const Step& s : grid.steps) area_days += s.days * s.loads.plant_area_m2_per_l;
  EXPECT_NEAR(area_days, 2e-3 * (28 * 0.55 + 22), 1e-9);  // a straight line, then full
}
// Air off: a tenth of the transfer; pump off: three tenths, and a tenth of the filter (estimates) - both
// steps alike.
TEST(running_loop, switched_off_devices_act_on_their_own_process) {
  const auto q = central_parameters();
  const Environment env = environment(20, kFreeOxygen);
  Loads off;
  off.transfer = 0.3, off.media = 0.1;
  State<double> y = loop_test::aerated_water(3, 600, 20);
  y.tan = y.no2 = 1, y.r_a = y.r_n = 1, y.o2 = 5;
  const Equilibrium<double> e = solve_equilibrium(env, y, -8 * kLn10, 40);
  const auto on = nitrification(q, constants_of(q), env, Loads{}, y, e),
             slow = nitrification(q, constants_of(q), env, off, y, e);
  EXPECT_NEAR(slow.rate_a / on.rate_a, 0.1, 1e-12);
  EXPECT_NEAR(slow.rate_n / on.rate_n, 0.1, 1e-12);
  EXPECT_NEAR(oxygen_transfer(q, env, off) / oxygen_transfer(q, env), 0.3, 1e-12);
  Timeline t = loop_test::steady_timeline(20, kFreeOxygen);
  t.loads = {{1, 2, off}, {1.5, 3, off}};
  EXPECT_EQ(t.loads_at(0.5).transfer, 1);
  EXPECT_NEAR(t.loads_at(1.7).transfer, 0.09, 1e-15);
  EXPECT_NEAR(t.loads_at(1.7).media, 0.01, 1e-15);
  EXPECT_EQ(t.loads_at(3.5).media, 1);
}
// Lifeless water comes back to saturation as e^(-kLa t) (definition of kLa), 1.024 per degree (common
// practice).
TEST(running_loop, oxygen_returns_to_saturation) {
  auto q = central_parameters();
  q.k_la = 5;
  Timeline t = loop_test::steady_timeline(25, kFreeOxygen);
  State<double> y = loop_test::aerated_water(2, 600, 25);
  y.r_a = y.r_n = 0, y.o2 = 2;
  const double saturation = t.environment(0).oxygen_saturation_mg_l;
  EXPECT_NEAR(saturation, 8.263, 0.005);  // Benson & Krause 1984
  const double left = (saturation - 2) * std::exp(-5 * std::pow(1.024, 5) * 0.4);
  EXPECT_NEAR(loop_test::walk_reference(t, q, y, {0.4}, 1e-3).back().o2, saturation - left, 1e-9);
  EXPECT_NEAR(loop_test::run_simulate(t, q, y, {0.4}).seen.back().o2, saturation - left, 0.02);
  GridSteps fine;
  fine.refine = 64;
  EXPECT_NEAR(loop_test::run_simulate(t, q, y, {0.4}, fine).seen.back().o2, saturation - left, 1e-5);
}
// Oxygen that a strong filter takes faster than the air brings it: the default grid against the reference.
TEST(running_loop, a_filter_short_of_oxygen_is_integrated_stably) {
  auto q = central_parameters();
  q.k_la = 4;
  Timeline t = loop_test::steady_timeline(25, kFreeOxygen);
  State<double> y = loop_test::aerated_water(8, 600, 25);
  y.r_a = 20, y.r_n = 15, y.tan = 40, y.o2 = 8;
  const std::vector<double> days{0.25, 0.5, 1, 2};
  const auto truth = loop_test::walk_reference(t, q, y, days, 2e-4);
  const auto fast = loop_test::run_simulate(t, q, y, days).seen;
  for (std::size_t i = 0; i < days.size(); ++i) {
    EXPECT_LT(truth[i].o2, 5);
    EXPECT_NEAR(fast[i].o2, truth[i].o2, 0.3) << days[i];
    EXPECT_NEAR(fast[i].tan, truth[i].tan, 0.1) << days[i];
    EXPECT_NEAR(fast[i].no2, truth[i].no2, 0.1) << days[i];
  }
}

}  // namespace
}  // namespace helmwater::loop
