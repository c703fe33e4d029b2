// SPDX-License-Identifier: Apache-2.0
// Quantiles and distribution functions against printed tables and closed forms.
#include "infer/distributions.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>

namespace helmwater::infer {
namespace {

struct Printed {
  double p, z;
};

// Source: table of critical values of the normal distribution, NIST/SEMATECH e-Handbook of Statistical
// Methods 1.3.6.7.1 and Abramowitz & Stegun table 26.5 (from memory), to the digits printed.
TEST(normal, quantile_meets_printed_tables) {
  for (const Printed& row : {Printed{0.5, 0.0},
                             {0.75, 0.674490},
                             {0.9, 1.281552},
                             {0.95, 1.644854},
                             {0.975, 1.959964},
                             {0.99, 2.326348},
                             {0.995, 2.575829},
                             {0.999, 3.090232},
                             {0.9999, 3.719016}}) {
    EXPECT_NEAR(normal_quantile(row.p), row.z, 6e-7) << row.p;
    EXPECT_NEAR(normal_quantile(1 - row.p), -row.z, 6e-7) << row.p;
    EXPECT_NEAR(normal_cdf(row.z), row.p, 3e-7) << row.z;
  }
}

TEST(normal, quantile_undoes_the_distribution_function) {
  for (double z = -7; z <= 7; z += 0.01) {
    // Above the middle p is held to rounding, 1e-16 over the density.
    const double rounding = z > 0 ? 4e-16 / std::exp(-0.5 * z * z) : 0;
    ASSERT_NEAR(normal_quantile(normal_cdf(z)), z, 1e-9 + rounding) << z;
  }
}

TEST(normal, quick_distribution_function_is_within_its_promise) {
  double worst = 0;
  for (double x = -9; x <= 9; x += 0.000317)
    worst = std::max(worst, std::abs(quick_normal_cdf(x) - normal_cdf(x)));
  EXPECT_LT(worst, 1e-6);
  EXPECT_EQ(quick_normal_cdf(-INFINITY), 0);
  EXPECT_EQ(quick_normal_cdf(INFINITY), 1);
}

TEST(normal, log_density_is_the_slope_of_the_distribution_function) {
  const double mean = 1.3, sd = 0.7, h = 1e-4;
  for (double x : {-1.0, 0.5, 1.3, 2.0, 3.5}) {
    const double slope = (normal_cdf((x + h - mean) / sd) - normal_cdf((x - h - mean) / sd)) / (2 * h);
    EXPECT_NEAR(std::exp(normal_log_density(x, mean, sd)), slope, 1e-7);
  }
}

// Closed forms: Beta(1,1) is uniform; Beta(a,1) has P(X <= x) = x^a; Beta(1,b) has 1 - (1-x)^b; Beta(2,2) has
// 3x^2 - 2x^3.
TEST(beta, quantile_meets_closed_forms) {
  for (double p : {0.001, 0.05, 0.25, 0.5, 0.8, 0.95, 0.999}) {
    EXPECT_NEAR(beta_quantile(p, 1, 1), p, 1e-9);
    EXPECT_NEAR(beta_quantile(p, 2, 1), std::sqrt(p), 1e-9);
    EXPECT_NEAR(beta_quantile(p, 5, 1), std::pow(p, 0.2), 1e-9);
    EXPECT_NEAR(beta_quantile(p, 1, 3), 1 - std::cbrt(1 - p), 1e-9);
    const double x = beta_quantile(p, 2, 2);
    EXPECT_NEAR(x * x * (3 - 2 * x), p, 1e-8);
  }
}

TEST(beta, quantile_is_mirrored_when_its_counts_are_swapped) {
  for (int n : {2, 4, 9}) EXPECT_NEAR(beta_quantile(0.5, n, n), 0.5, 1e-9);
  for (double p : {0.01, 0.3, 0.6, 0.99}) {
    EXPECT_NEAR(beta_quantile(p, 6, 30), 1 - beta_quantile(1 - p, 30, 6), 1e-9);
    EXPECT_NEAR(beta_quantile(p, 4, 2), 1 - beta_quantile(1 - p, 2, 4), 1e-9);
  }
}

// Mean a/(a+b) and variance ab/((a+b)^2 (a+b+1)), by integrating the quantile over p.
TEST(beta, quantile_has_the_mean_and_variance_of_its_distribution) {
  for (const auto& [a, b] : {std::pair{2, 3}, {4, 2}, {6, 30}}) {
    constexpr int kPoints = 4000;
    double mean = 0, square = 0;
    for (int i = 0; i < kPoints; ++i) {
      const double x = beta_quantile((i + 0.5) / kPoints, a, b);
      mean += x / kPoints;
      square += x * x / kPoints;
    }
    const double n = a + b;
    EXPECT_NEAR(mean, a / n, 1e-5);
    EXPECT_NEAR(square - mean * mean, a * b / (n * n * (n + 1)), 2e-5);
  }
}

TEST(quantile_table, is_exact_on_straight_lines_and_close_on_curves) {
  const QuantileTable line{[](double z) { return 3 - 2 * z; }};
  const QuantileTable curve{[](double z) { return std::exp(z); }};
  for (double z = -5.9; z < 5.9; z += 0.0173) {
    EXPECT_NEAR(line.at(z), 3 - 2 * z, 1e-12);
    // Linear between points 12/1024 apart: relative error at most the square of that over 8.
    EXPECT_NEAR(curve.at(z) / std::exp(z), 1, 1.8e-5);
  }
  EXPECT_DOUBLE_EQ(line.at(50), line.at(6));  // held beyond the ends
}

}  // namespace
}  // namespace helmwater::infer
