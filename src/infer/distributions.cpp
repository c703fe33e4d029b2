// SPDX-License-Identifier: Apache-2.0
#include "infer/distributions.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <numbers>

namespace helmwater::infer {

double normal_cdf(double x) { return 0.5 * std::erfc(-x / std::numbers::sqrt2); }

double quick_normal_cdf(double x) {
  constexpr double kEnd = 8;
  constexpr int kPerUnit = 256;
  static const std::vector<double> table = [] {
    std::vector<double> t;
    for (int i = 0; i <= 2 * static_cast<int>(kEnd) * kPerUnit; ++i) t.push_back(normal_cdf(i / static_cast<double>(kPerUnit) - kEnd));
    return t;
  }();
  if (!(x > -kEnd)) return 0;
  if (x >= kEnd) return 1;
  const double place = (x + kEnd) * kPerUnit;
  const auto cell = static_cast<std::size_t>(place);
  return table[cell] + (place - static_cast<double>(cell)) * (table[cell + 1] - table[cell]);
}

double normal_log_density(double x, double mean, double sd) {
  const double z = (x - mean) / sd;
  return -0.5 * z * z - std::log(sd) - 0.91893853320467274;  // ln sqrt(2 pi)
}

namespace {
// Starting value for the quantile: Abramowitz & Stegun 26.2.23, absolute error 4.5e-4.
double rough_upper_quantile(double tail) {
  const double t = std::sqrt(-2 * std::log(tail));
  return t - (2.515517 + t * (0.802853 + t * 0.010328)) / (1 + t * (1.432788 + t * (0.189269 + t * 0.001308)));
}
}  // namespace

double normal_quantile(double p) {
  const bool upper = p > 0.5;
  const double tail = upper ? 1 - p : p;
  double x = -rough_upper_quantile(tail);  // lower tail
  for (int i = 0; i < 3; ++i) {            // Halley on cdf(x) = tail
    const double density = std::exp(-0.5 * x * x) / std::sqrt(2 * std::numbers::pi);
    const double u = (normal_cdf(x) - tail) / density;
    x -= u / (1 + 0.5 * x * u);
  }
  return upper ? -x : x;
}

double beta_quantile(double p, int a, int b) {
  // P(X <= x) is the chance of at least a successes in a + b - 1 trials (Abramowitz & Stegun 26.5.24).
  const int n = a + b - 1;
  const auto cdf = [&](double x) {
    double sum = 0, choose = 1;
    for (int j = 0; j <= n; ++j) {
      if (j >= a) sum += choose * std::pow(x, j) * std::pow(1 - x, n - j);
      choose = choose * (n - j) / (j + 1);
    }
    return sum;
  };
  double low = 0, high = 1;
  while (high - low > 1e-10) {
    const double middle = (low + high) / 2;
    (cdf(middle) < p ? low : high) = middle;
  }
  return (low + high) / 2;
}

double QuantileTable::at(double z) const {
  const double x = std::clamp((z + kEnd) / (2 * kEnd) * kCells, 0.0, static_cast<double>(kCells));
  const auto cell = std::min(static_cast<std::size_t>(x), static_cast<std::size_t>(kCells - 1));
  return values_[cell] + (x - static_cast<double>(cell)) * (values_[cell + 1] - values_[cell]);
}

}  // namespace helmwater::infer
