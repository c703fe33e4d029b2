// SPDX-License-Identifier: Apache-2.0
// The step-size certificate against the plain double reference (fourth order Runge-Kutta, tests/loop/piecewise.hpp) of the
// same equations. Loops are made up.
#include "infer/certificate.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "central_loop.hpp"
#include "infer/block_of.hpp"
#include "infer/timeline_from_log.hpp"
#include "loop/charge_balance.hpp"
#include "loop/grid.hpp"
#include "piecewise.hpp"
#include "simulated_loop.hpp"

namespace helmwater::infer {
namespace {

// Ammonia given every second day; read daily, a little after and long after.
loop::Timeline fed_with(double tan_mg_l) {
  loop::Timeline timeline;
  timeline.temperature_c = {{0, 25}};
  for (int day = 0; day < 10; day += 2) {
    loop::DoseEvent dose;
    dose.change.tan = tan_mg_l;
    timeline.events.push_back({day + 0.1, dose});
  }
  return timeline;
}

std::vector<double> days_read() {
  std::vector<double> days;
  for (int day = 0; day < 10; ++day) {
    days.push_back(day + 0.2);
    days.push_back(day + 0.6);
  }
  return days;
}

Member member_with(double capacity) {
  Member m{};  // nothing but what is set below: a plain `Member m;` leaves its water undefined
  m.parameters = loop_test::central_parameters();
  m.parameters.r_max = 4 * capacity;
  m.start.alk = m.start.dic = 8;
  m.start.p = 1;
  m.start.o2 = 8;
  m.start.r_a = m.start.r_n = capacity;
  m.ln_h = -7.8 * loop::kLn10;
  return m;
}

// Largest over the days and the three concentrations, mg N/L.
double true_error(const loop::Timeline& timeline, const std::vector<double>& days, const Member& member, double refine) {
  loop::GridSteps steps;
  steps.refine = refine;
  const loop::Grid grid = loop::make_grid(timeline, days, {}, days.back(), steps);
  std::vector<BlockWater> waters(days.size());
  member_block_functions().water_at_readings(timeline, grid, block_of(&member, 1), waters.data());
  const auto truth = loop_test::walk_reference(timeline, member.parameters, member.start, days, 0.001);
  if (truth.size() != days.size()) return INFINITY;
  double worst = 0;
  for (std::size_t k = 0; k < days.size(); ++k) {
    for (const double apart : {waters[k].y.tan.v[0] - truth[k].tan, waters[k].y.no2.v[0] - truth[k].no2,
                               waters[k].y.no3.v[0] - truth[k].no3}) {
      worst = std::isfinite(apart) ? std::max(worst, std::abs(apart)) : INFINITY;
      if (std::isinf(worst)) return worst;
    }
  }
  return worst;
}

TEST(certificate, the_usual_grid_is_enough_for_a_usual_loop) {
  const loop::Timeline timeline = fed_with(2);
  const Member member = member_with(2);
  const Certificate c = certify(timeline, days_read(), 0, days_read().back(), {member});
  EXPECT_EQ(c.refine, 1);
  EXPECT_TRUE(c.certified);
  EXPECT_LE(true_error(timeline, days_read(), member, c.refine), kErrorAllowed);
}

// Simulated start-ups of 30 days, each with its truth for a member.
TEST(certificate, simulated_loops_are_as_exact_as_it_says) {
  int usual = 0;
  constexpr int kLoops = 8;
  for (int index = 0; index < kLoops; ++index) {
    const tests::SimulatedLoop made = tests::simulate_loop(19, index, 30);
    const Posterior truth = tests::truth_as_posterior(made, made.log, made.log.entries.back().when);
    const Member member = truth.priors->member(made.truth.data());
    std::vector<double> days;
    for (const Observation& o : truth.evidence.observations) {
      if (days.empty() || o.day > days.back()) days.push_back(o.day);
    }
    const loop::Timeline timeline = timeline_from_log(made.log, truth.start, truth.as_of, days.back(), false);
    const Certificate c = certify(timeline, days, 0, days.back(), {member});
    const double found = true_error(timeline, days, member, c.refine);
    std::printf("simulated loop %d: refine %.0f, estimated %.4f, true %.4f mg N/L\n", index, c.refine, c.error_mg_n_l, found);
    EXPECT_TRUE(c.certified) << index;
    EXPECT_LE(found, kErrorAllowed) << index;
    usual += c.refine == 1;
  }
  EXPECT_GE(usual, kLoops / 2);  // the grid was made for start-ups
}

TEST(certificate, strong_filters_get_the_grid_they_need_or_no_certificate) {
  bool refined = false;
  for (double capacity : {10.0, 30.0, 60.0, 120.0}) {
    const loop::Timeline timeline = fed_with(capacity / 3);
    const Member member = member_with(capacity);
    const Certificate c = certify(timeline, days_read(), 0, days_read().back(), {member});
    const double coarse = true_error(timeline, days_read(), member, 1), found = true_error(timeline, days_read(), member, c.refine);
    std::printf("capacity %.0f mg N/L/d: refine %.0f, estimated %.4f, true %.4f (usual grid %.4f) mg N/L\n", capacity, c.refine,
                c.error_mg_n_l, found, coarse);
    // What step halving promises is an estimate: half as much again is granted to the truth.
    if (c.certified) {
      EXPECT_LE(found, 1.5 * kErrorAllowed) << capacity;
    }
    if (coarse > 1.5 * kErrorAllowed) {
      EXPECT_TRUE(c.refine > 1 || !c.certified) << capacity;
    }
    refined = refined || c.refine > 1;
  }
  EXPECT_TRUE(refined);
}

TEST(certificate, without_readings_nothing_can_be_wrong) {
  const Certificate c = certify(fed_with(2), {}, 0, 10, {member_with(60)});
  EXPECT_EQ(c.refine, 1);
  EXPECT_TRUE(c.certified);
}

}  // namespace
}  // namespace helmwater::infer
