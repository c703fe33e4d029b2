// SPDX-License-Identifier: Apache-2.0
#include "infer/distributions.hpp"

#include <cmath>
#include <numbers>

namespace helmwater::infer {

double normal_cdf(double x) { return 0.5 * std::erfc(-x / std::numbers::sqrt2); }

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

}  // namespace helmwater::infer
