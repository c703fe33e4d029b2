// SPDX-License-Identifier: Apache-2.0
// Each sudden deed does what its words say and nothing else. Expected figures are mass balance, worked beside
// each check.
#include <gtest/gtest.h>

#include <cmath>

#include "loop/central_loop.hpp"
#include "loop/deeds.hpp"

namespace helmwater::loop {
namespace {

using loop_test::central_parameters;

State<double> some_water() {
  State<double> y{};
  y.tan = 1, y.no2 = 2, y.no3 = 10, y.alk = 2, y.dic = 2.1, y.r_a = 4, y.r_n = 3, y.org_n = 0.5,
  y.urea_n = 0.2, y.p = 0.4, y.o2 = 7;
  return y;
}

TEST(deeds, weighed_dose_is_weaker_in_more_water) {
  auto q = central_parameters();
  q.volume_factor = 1.25;  // a quarter more water than stated
  const auto y = apply_event(q, loop_test::ammonium_chloride(0, 2), some_water());
  EXPECT_DOUBLE_EQ(y.tan, 1 + 2 / 1.25);
  EXPECT_EQ(y.alk, 2);
}

TEST(deeds, dose_by_effect_does_not_depend_on_the_volume) {
  auto q = central_parameters();
  q.volume_factor = 1.25;
  q.effect_factor = 0.9;  // the owner got nine tenths of what he aimed at
  DoseEvent by;
  by.how = DoseEvent::How::raise_ammonia_by;
  by.change = plus(State<double>{}, 1 / kGramsPerMolN, loop_test::per_mmol("ammonia solution"));
  by.effect = 2;
  const auto y = apply_event(q, {0, by}, some_water());
  EXPECT_DOUBLE_EQ(y.tan, 1 + 1.8);
  EXPECT_NEAR(y.alk, 2 + 1.8 / 14.007, 1e-12);  // one equivalent per mol

  DoseEvent alkalinity;
  alkalinity.how = DoseEvent::How::raise_alkalinity_by;
  alkalinity.change = loop_test::per_mmol("sodium bicarbonate");
  alkalinity.effect = 0.5;
  const auto z = apply_event(q, {0, alkalinity}, some_water());
  EXPECT_DOUBLE_EQ(z.alk, 2.45);
  EXPECT_DOUBLE_EQ(z.dic, 2.1 + 0.45);
}

TEST(deeds, dose_up_to_a_level_fills_what_is_missing_and_never_takes_away) {
  auto q = central_parameters();
  DoseEvent to;
  to.how = DoseEvent::How::raise_ammonia_to;
  to.change = plus(State<double>{}, 1 / kGramsPerMolN, loop_test::per_mmol("ammonium chloride"));
  to.effect = 3;
  EXPECT_DOUBLE_EQ(apply_event(q, {0, to}, some_water()).tan, 3);
  to.effect = 0.5;
  EXPECT_DOUBLE_EQ(apply_event(q, {0, to}, some_water()).tan, 1);

  DoseEvent alkalinity;
  alkalinity.how = DoseEvent::How::raise_alkalinity_to;
  alkalinity.change = plus(State<double>{}, 0.5, loop_test::per_mmol("potassium carbonate"));  // per meq
  alkalinity.effect = 3;
  const auto y = apply_event(q, {0, alkalinity}, some_water());
  EXPECT_DOUBLE_EQ(y.alk, 3);
  EXPECT_DOUBLE_EQ(y.dic, 2.1 + 0.5);  // half a mol of carbon per equivalent
  alkalinity.effect = 1;
  EXPECT_DOUBLE_EQ(apply_event(q, {0, alkalinity}, some_water()).alk, 2);
}

TEST(deeds, water_change_mixes_and_leaves_the_surfaces_alone) {
  auto q = central_parameters();
  q.source_alk = 4, q.source_dic = 4.2, q.source_no3 = 2, q.source_p = 0;
  WaterEvent change;
  change.share = 0.4;
  change.source_tan = 0.5;
  const auto y = apply_event(q, {0, change}, some_water());
  EXPECT_DOUBLE_EQ(y.tan, 0.6 * 1 + 0.4 * 0.5);
  EXPECT_DOUBLE_EQ(y.no2, 0.6 * 2);
  EXPECT_DOUBLE_EQ(y.no3, 0.6 * 10 + 0.4 * 2);
  EXPECT_DOUBLE_EQ(y.alk, 0.6 * 2 + 0.4 * 4);
  EXPECT_DOUBLE_EQ(y.dic, 0.6 * 2.1 + 0.4 * 4.2);
  EXPECT_DOUBLE_EQ(y.org_n, 0.6 * 0.5);
  EXPECT_DOUBLE_EQ(y.urea_n, 0.6 * 0.2);
  EXPECT_DOUBLE_EQ(y.p, 0.6 * 0.4);
  EXPECT_EQ(y.r_a, 4);
  EXPECT_EQ(y.r_n, 3);
}

TEST(deeds, water_change_in_litres_is_a_smaller_share_of_more_water_and_never_more_than_all) {
  auto q = central_parameters();
  q.volume_factor = 1.25;
  WaterEvent change;
  change.share = 0.5;
  EXPECT_DOUBLE_EQ(apply_event(q, {0, change}, some_water()).no2, 0.6 * 2);
  change.exact_share = true;
  EXPECT_DOUBLE_EQ(apply_event(q, {0, change}, some_water()).no2, 0.5 * 2);
  q.volume_factor = 0.4;
  change.exact_share = false;
  EXPECT_DOUBLE_EQ(apply_event(q, {0, change}, some_water()).no2, 0);
}

// Two changes of 50 % leave a quarter, one of 75 % as much (arithmetic).
TEST(deeds, two_half_changes_are_one_of_three_quarters) {
  auto q = central_parameters();
  WaterEvent half, three_quarters;
  half.share = 0.5;
  three_quarters.share = 0.75;
  const auto twice = apply_event(q, {0, half}, apply_event(q, {0, half}, some_water()));
  const auto once = apply_event(q, {0, three_quarters}, some_water());
  EXPECT_DOUBLE_EQ(twice.no3, once.no3);
  EXPECT_DOUBLE_EQ(twice.alk, once.alk);
}

// A tenth of the full volume had evaporated: topping up dilutes all that was left in nine tenths, bacteria on the surfaces
// too, and brings the source's salts (mass balance on a litre). It is the loads' share, the same for every member.
TEST(deeds, top_up_dilutes_what_had_concentrated_and_adds_what_the_new_water_brings) {
  auto q = central_parameters();
  q.source_alk = 4, q.source_dic = 4.2, q.source_no3 = 2, q.source_p = 0.1;
  WaterEvent up;
  up.share = 0.1;
  up.top_up = true;
  const auto y = apply_event(q, {0, up}, some_water());
  EXPECT_DOUBLE_EQ(y.tan, 0.9);
  EXPECT_DOUBLE_EQ(y.no2, 1.8);
  EXPECT_DOUBLE_EQ(y.no3, 9.2);
  EXPECT_DOUBLE_EQ(y.alk, 2.2);
  EXPECT_NEAR(y.p, 0.37, 1e-12);
  EXPECT_DOUBLE_EQ(y.r_a, 3.6);
  EXPECT_DOUBLE_EQ(y.r_n, 2.7);
  q.volume_factor = 1.25;
  EXPECT_DOUBLE_EQ(apply_event(q, {0, up}, some_water()).tan, 0.9);
}

TEST(deeds, disinfectant_takes_decades_of_both_capacities) {
  auto q = central_parameters();
  q.kill_log10 = 2;
  WaterEvent hit;
  hit.kill_strength = 1;
  EXPECT_NEAR(apply_event(q, {0, hit}, some_water()).r_a, 0.04, 1e-12);
  EXPECT_NEAR(apply_event(q, {0, hit}, some_water()).r_n, 0.03, 1e-12);
  hit.kill_strength = 0.5;
  EXPECT_NEAR(apply_event(q, {0, hit}, some_water()).r_a, 0.4, 1e-12);
  q.kill_log10 = -1;  // a draw below zero counts as none: disinfectant never makes bacteria
  EXPECT_EQ(apply_event(q, {0, hit}, some_water()).r_a, 4);
}

// One of several moments struck; a member that takes none for true has no decades to lose.
TEST(deeds, a_hit_strikes_those_alone_who_take_it_for_true) {
  auto q = central_parameters();
  EXPECT_EQ(apply_event(q, {0, HitEvent{0}}, some_water()).r_a, 4);
  q.hit_number = 2;
  q.hit_log10 = 2;
  EXPECT_NEAR(apply_event(q, {0, HitEvent{2}}, some_water()).r_a, 0.04, 1e-12);
  EXPECT_NEAR(apply_event(q, {0, HitEvent{2}}, some_water()).r_n, 0.03, 1e-12);
  EXPECT_EQ(apply_event(q, {0, HitEvent{1}}, some_water()).r_a, 4);
  EXPECT_EQ(apply_event(q, {0, HitEvent{2}}, some_water()).tan, some_water().tan);
}

// Capacities sit on surfaces: in 10 % less water they count 1.111 times as much per litre.
TEST(deeds, less_water_concentrates_the_capacities) {
  const auto y = apply_event(central_parameters(), {0, VolumeEvent{0.9}}, some_water());
  EXPECT_NEAR(y.r_a / 4, 1.111, 0.001);
  EXPECT_NEAR(y.r_n / 3, 1.111, 0.001);
  EXPECT_EQ(y.tan, 1);
}

TEST(deeds, seed_adds_capacity_by_its_own_strength) {
  auto q = central_parameters();
  q.seed_factor_a = 2, q.seed_factor_n = 0.5, q.volume_factor = 1.25;
  const auto y = apply_event(q, {0, SeedEvent{1, 1}}, some_water());
  EXPECT_DOUBLE_EQ(y.r_a, 4 + 2 / 1.25);
  EXPECT_DOUBLE_EQ(y.r_n, 3 + 0.5 / 1.25);
}

TEST(deeds, plan_doses_only_when_both_tests_allow_it) {
  Policy plan;
  plan.redose = true;
  plan.redose_to_tan = 2, plan.redose_below_tan = 0.3, plan.redose_while_no2_below = 3;
  auto y = some_water();
  y.tan = 0.1, y.no2 = 1;
  EXPECT_DOUBLE_EQ(apply_look(plan, y).tan, 2);
  EXPECT_EQ(apply_look(plan, y).alk, y.alk);
  y.no2 = 4;
  EXPECT_DOUBLE_EQ(apply_look(plan, y).tan, 0.1);
  y.no2 = 1, y.tan = 0.5;
  EXPECT_DOUBLE_EQ(apply_look(plan, y).tan, 0.5);
  plan.redose = false;
  y.tan = 0.1;
  EXPECT_DOUBLE_EQ(apply_look(plan, y).tan, 0.1);
}

TEST(deeds, plan_buffers_with_as_much_carbon_as_alkalinity) {
  Policy plan;
  plan.buffer = true;
  plan.buffer_below_alk = 1.6, plan.buffer_to_alk = 2.4;
  auto y = some_water();
  EXPECT_EQ(apply_look(plan, y).alk, 2);
  y.alk = 1.5;
  const auto after = apply_look(plan, y);
  EXPECT_DOUBLE_EQ(after.alk, 2.4);
  EXPECT_DOUBLE_EQ(after.dic - y.dic, 2.4 - 1.5);
}

// In a pack each member decides for itself.
TEST(deeds, plan_acts_lane_by_lane) {
  Policy plan;
  plan.redose = true;
  plan.redose_to_tan = 2, plan.redose_below_tan = 0.3, plan.redose_while_no2_below = 3;
  State<Pack> y = to_number_type<Pack>(some_water());
  for (int lane = 0; lane < kLanes; ++lane) y.tan.set(lane, lane % 2 == 0 ? 0.1f : 0.5f);
  const State<Pack> after = apply_look(plan, y);
  for (int lane = 0; lane < kLanes; ++lane) EXPECT_EQ(after.tan[lane], lane % 2 == 0 ? 2.0f : 0.5f);
}

}  // namespace
}  // namespace helmwater::loop
