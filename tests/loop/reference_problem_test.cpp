// SPDX-License-Identifier: Apache-2.0
// Reference problem R1: two Monod steps with growth and decay, nothing else limiting, 20 degC.
//   dTAN = -rA, dNO2 = rA - rN, dNO3 = rN, dRA = 0.70 rA - 0.07 RA, dRN = 0.60 rN - 0.06 RN,
//   rA = RA TAN/(0.6 + TAN), rN = RN NO2/(0.4 + NO2);  TAN 2, NO2 = NO3 = 0, RA = RN = 0.001.
// The table is a published simulation of these equations by another program (dt 0.002 and 0.01 agreeing to 5
// digits), not a measurement. Here the product's own processes are led to R1 by parameters that leave every
// other factor at 1.
#include <gtest/gtest.h>

#include "central_loop.hpp"
#include "loop/runge_kutta.hpp"
#include "piecewise.hpp"

namespace helmwater::loop {
namespace {

constexpr double kTolerance = 1e-3;  // mg N/L, and mg N/L/d for the capacities

struct R1Row {
  double day, tan, no2, no3, r_a, r_n;
};
constexpr R1Row kTable[] = {
    {5, 1.98458, 0.01537, 0.00005, 0.01039, 0.00077},  {10, 1.82761, 0.17182, 0.00057, 0.10582, 0.00085},
    {14, 1.02004, 0.97646, 0.00350, 0.59010, 0.00229}, {16, 0.24395, 1.74715, 0.00891, 1.01895, 0.00512},
    {20, 0.00042, 1.94467, 0.05491, 0.90534, 0.02939}, {25, 0.00000, 1.51976, 0.48024, 0.63820, 0.25315},
    {30, 0.00000, 0.01861, 1.98139, 0.44973, 0.95811}};

// No inhibition, no shortage, no ceiling; no exchange with air, no sink.
Parameters<double> unhindered() {
  Parameters<double> q = loop_test::central_parameters();
  q.mu_a = 0.70, q.mu_n = 0.60, q.b_a = 0.07, q.b_n = 0.06, q.k_a = 0.6, q.k_n = 0.4;
  q.k_oa = q.k_on = 0;
  q.ki_a_fa = q.ki_n_fa = q.ki_a_fna = q.ki_n_fna = 1e12;
  q.ln_theta_ph = 0;
  q.ph_high = 30;
  q.k_alk = 0;
  q.k_p = 0;
  q.r_max = 1e12;
  q.k_la = 0;
  q.sink = 0;
  return q;
}

// The low-pH factor is within 1e-6 of 1 only above pH 9.6: strongly buffered water at pH 10.3, where it can
// do no harm because nothing is inhibited.
State<double> alkaline_start() {
  State<double> y{};
  y.tan = 2, y.r_a = y.r_n = 1e-3, y.alk = 40, y.dic = 27, y.p = 1;
  return y;
}

std::vector<double> table_days() {
  std::vector<double> days;
  for (const R1Row& row : kTable) days.push_back(row.day);
  return days;
}

void expect_row(const R1Row& row, double tan, double no2, double no3, double r_a, double r_n) {
  const double tolerance = kTolerance;
  SCOPED_TRACE("R1, day " + std::to_string(row.day) + "; table: published simulation of the same equations");
  EXPECT_NEAR(tan, row.tan, tolerance);
  EXPECT_NEAR(no2, row.no2, tolerance);
  EXPECT_NEAR(no3, row.no3, tolerance);
  EXPECT_NEAR(r_a, row.r_a, tolerance);
  EXPECT_NEAR(r_n, row.r_n, tolerance);
}

// The reduction itself: the product's rates are R1's within 1e-6 wherever the run may go.
TEST(reference_problem, nothing_else_limits) {
  const auto q = unhindered();
  const auto env = loop_test::environment(20);
  for (const auto& [tan, no2, r_a, r_n] :
       {std::array{2.0, 0.0, 1e-3, 1e-3}, std::array{1.0, 1.0, 0.6, 2e-3}, std::array{0.01, 1.9, 1.0, 0.3}}) {
    State<double> y = alkaline_start();
    y.tan = tan, y.no2 = no2, y.r_a = r_a, y.r_n = r_n;
    y.alk -= 2 * (2 - tan) / kGramsPerMolN;
    double ln_h = -10 * kLn10;
    const State<double> d = derivatives(q, env, {}, y, ln_h, 40);
    const double rate_a = r_a * tan / (0.6 + tan), rate_n = r_n * no2 / (0.4 + no2);
    EXPECT_NEAR(d.tan / -rate_a, 1, 1e-6);
    EXPECT_NEAR(d.no3, rate_n, 1e-6 * r_n);
    EXPECT_NEAR(d.no2, rate_a - rate_n, 1e-6);
    EXPECT_NEAR(d.r_a, 0.70 * rate_a - 0.07 * r_a, 1e-6);
    EXPECT_NEAR(d.r_n, 0.60 * rate_n - 0.06 * r_n, 1e-6);
  }
}

TEST(reference_problem, reference_integrator_reproduces_the_table) {
  const auto timeline = loop_test::steady_timeline(20);
  const auto states = loop_test::walk_reference(timeline, unhindered(), alkaline_start(), table_days(), 0.01);
  ASSERT_EQ(states.size(), std::size(kTable));
  for (std::size_t i = 0; i < states.size(); ++i) {
    const auto& y = states[i];
    expect_row(kTable[i], y.tan, y.no2, y.no3, y.r_a, y.r_n);
  }
}

GridSteps refined_fourfold() {
  GridSteps steps;
  steps.refine = 4;
  return steps;
}

TEST(reference_problem, simulate_on_a_refined_grid_reproduces_the_table) {
  const auto timeline = loop_test::steady_timeline(20);
  const auto run =
      loop_test::run_simulate(timeline, unhindered(), alkaline_start(), table_days(), refined_fourfold());
  ASSERT_EQ(run.seen.size(), std::size(kTable));
  for (std::size_t i = 0; i < run.seen.size(); ++i) {
    const auto& y = run.seen[i];
    expect_row(kTable[i], y.tan, y.no2, y.no3, y.r_a, y.r_n);
  }
}

TEST(reference_problem, simulate_on_the_default_grid_reproduces_the_table) {
  const auto timeline = loop_test::steady_timeline(20);
  const auto run = loop_test::run_simulate(timeline, unhindered(), alkaline_start(), table_days());
  ASSERT_EQ(run.seen.size(), std::size(kTable));
  for (std::size_t i = 0; i < run.seen.size(); ++i) {
    const auto& y = run.seen[i];
    expect_row(kTable[i], y.tan, y.no2, y.no3, y.r_a, y.r_n);
  }
}

TEST(reference_problem, every_lane_of_a_pack_reproduces_the_table) {
  const auto timeline = loop_test::steady_timeline(20);
  const auto q = loop_test::packed<Parameters>({unhindered()});
  const auto start = loop_test::packed<State>({alkaline_start()});
  const auto run = loop_test::run_simulate(timeline, q, start, table_days());
  ASSERT_EQ(run.seen.size(), std::size(kTable));
  for (std::size_t i = 0; i < run.seen.size(); ++i) {
    const auto& y = run.seen[i];
    for (int lane = 0; lane < kLanes; ++lane) {
      expect_row(kTable[i], static_cast<double>(y.tan[lane]), static_cast<double>(y.no2[lane]),
                 static_cast<double>(y.no3[lane]), static_cast<double>(y.r_a[lane]),
                 static_cast<double>(y.r_n[lane]));
    }
  }
}

}  // namespace
}  // namespace helmwater::loop
