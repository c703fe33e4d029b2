// SPDX-License-Identifier: Apache-2.0
// The few distributions of the priors and of the readings.
#pragma once
#include <vector>

namespace helmwater::infer {

double normal_cdf(double x);
// The same from a table: absolute error below 1e-6, for likelihoods.
double quick_normal_cdf(double x);
double normal_log_density(double x, double mean, double sd);
// Inverse of normal_cdf, p in (0, 1): a rational start (Abramowitz & Stegun 26.2.23) polished to rounding.
double normal_quantile(double p);
// Quantile of a Beta(a, b) with whole a, b >= 1; p in (0, 1); by bisection to 1e-10.
double beta_quantile(double p, int a, int b);

// A monotone function of a standard normal number, tabulated on [-6, 6] and linear between 1025 points.
class QuantileTable {
 public:
  template <class Function>
  explicit QuantileTable(const Function& value_at) {
    for (int i = 0; i <= kCells; ++i) values_.push_back(value_at(-kEnd + 2 * kEnd * i / kCells));
  }
  double at(double z) const;

 private:
  static constexpr int kCells = 1024;
  static constexpr double kEnd = 6;
  std::vector<double> values_;
};

}  // namespace helmwater::infer
