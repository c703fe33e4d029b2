// SPDX-License-Identifier: Apache-2.0
// Sixteen members in single precision against the same members one by one in double, and the pack's own
// arithmetic against the standard library.
#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "central_loop.hpp"
#include "piecewise.hpp"

namespace helmwater::loop {
namespace {

// The header promises a relative error below 3e-7 for |x| <= 87.
TEST(pack, exp_is_accurate_over_its_whole_range) {
  double worst = 0;
  for (int i = 0; i <= 2'000'000; i += kLanes) {
    Pack x{0.0};
    for (int lane = 0; lane < kLanes; ++lane)
      x.set(lane, static_cast<float>(-87 + 174.0 * (i + lane) / 2'000'016));
    const Pack e = exp(x);
    for (int lane = 0; lane < kLanes; ++lane) {
      const double truth = std::exp(static_cast<double>(x[lane]));
      worst = std::max(worst, std::abs(static_cast<double>(e[lane]) / truth - 1));
    }
  }
  EXPECT_LT(worst, 3e-7);
}

TEST(pack, exp_is_held_outside_its_range_and_exact_at_zero) {
  EXPECT_EQ(exp(Pack{0.0})[0], 1.0f);
  EXPECT_NEAR(exp(Pack{-1000.0})[3] / std::exp(-87.0), 1, 1e-6);
  EXPECT_NEAR(exp(Pack{1000.0})[3] / std::exp(87.0), 1, 1e-6);
}

TEST(pack, min_max_and_select_act_lane_by_lane) {
  constexpr float half = kLanes / 2 - 0.5f;
  Pack a{1.0}, b{1.0};
  for (int lane = 0; lane < kLanes; ++lane) {
    a.set(lane, static_cast<float>(lane));
    b.set(lane, half);
  }
  for (int lane = 0; lane < kLanes; ++lane) {
    EXPECT_EQ(min(a, b)[lane], std::min(static_cast<float>(lane), half));
    EXPECT_EQ(max(a, b)[lane], std::max(static_cast<float>(lane), half));
    EXPECT_EQ(select(a < b, a, -b)[lane], lane < kLanes / 2 ? static_cast<float>(lane) : -half);
    EXPECT_EQ(select(!(a > b), a, -b)[lane], lane < kLanes / 2 ? static_cast<float>(lane) : -half);
  }
  EXPECT_TRUE(any(a > b));
  EXPECT_FALSE(any(a > Pack{100.0}));
}

// Different loops through doses, a water change, a daily plan and a month.
TEST(pack, every_member_follows_its_double_twin) {
  std::mt19937 random(20240611);
  std::normal_distribution<double> normal;
  std::vector<Parameters<double>> parameters;
  std::vector<State<double>> starts;
  for (int lane = 0; lane < kLanes; ++lane) {
    auto q = loop_test::central_parameters();
    q.mu_a *= std::exp(0.3 * normal(random));
    q.mu_n *= std::exp(0.3 * normal(random));
    q.k_a *= std::exp(0.5 * normal(random));
    q.k_n *= std::exp(0.5 * normal(random));
    q.ki_n_fa *= std::exp(0.5 * normal(random));
    q.k_la *= std::exp(0.5 * normal(random));
    q.co2_ppm *= std::exp(0.4 * normal(random));
    q.volume_factor = std::exp(0.1 * normal(random));
    parameters.push_back(q);
    auto y = loop_test::aerated_water(2 + 0.3 * normal(random), q.co2_ppm, 25);
    y.r_a = 0.03 * std::exp(normal(random));
    y.r_n = 0.03 * std::exp(normal(random));
    starts.push_back(y);
  }
  Timeline timeline = loop_test::steady_timeline(25);
  WaterEvent change;
  change.share = 0.3;
  timeline.events = {loop_test::ammonium_chloride(0, 2),
                     loop_test::dose(5, "hydrochloric acid", 0.4),
                     loop_test::ammonium_chloride(8, 2),
                     {12, change}};
  timeline.policy = {true, 2, 0.3, 3, true, 1.6, 2};
  for (int d = 14; d < 30; ++d) timeline.look_days.push_back(d);
  std::vector<double> days;
  for (int d = 1; d <= 14; ++d)
    days.push_back(d - 0.1);  // before the plan: a member's look may fall differently
  for (double d : {18.0, 22.0, 26.0, 30.0}) days.push_back(d - 0.1);

  const auto fast = loop_test::run_simulate(timeline, loop_test::packed<Parameters>(parameters),
                                            loop_test::packed<State>(starts), days);
  double worst = 0, worst_ph = 0;
  for (int lane = 0; lane < kLanes; ++lane) {
    const auto l = static_cast<std::size_t>(lane);
    const auto slow = loop_test::run_simulate(timeline, parameters[l], starts[l], days);
    for (std::size_t i = 0; i < days.size(); ++i) {
      SCOPED_TRACE("lane " + std::to_string(lane) + ", day " + std::to_string(days[i]));
      const auto& f = fast.seen[i];
      const auto& s = slow.seen[i];
      const auto near = [&](Pack value, double truth, double tolerance) {
        const double apart = std::abs(static_cast<double>(value[lane]) - truth);
        EXPECT_LT(apart, tolerance * (1 + std::abs(truth))) << truth;
        worst = std::max(worst, apart / (1 + std::abs(truth)));
      };
      // Far below the integrator's own error on this grid (0.01 mg N/L).
      near(f.tan, s.tan, 2e-5);
      near(f.no2, s.no2, 2e-5);
      near(f.no3, s.no3, 2e-5);
      near(f.alk, s.alk, 2e-5);
      near(f.dic, s.dic, 2e-5);
      near(f.r_a, s.r_a, 2e-5);
      near(f.r_n, s.r_n, 2e-5);
      const double ph = -static_cast<double>(fast.ln_h[i][lane]) / kLn10, truth = -slow.ln_h[i] / kLn10;
      EXPECT_NEAR(ph, truth, 1e-4);
      worst_ph = std::max(worst_ph, std::abs(ph - truth));
    }
  }
  std::printf("single against double precision: %.1e of 1 + value, pH %.1e\n", worst, worst_ph);
}

}  // namespace
}  // namespace helmwater::loop
