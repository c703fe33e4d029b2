// SPDX-License-Identifier: Apache-2.0
// The few distributions of the priors and of the readings.
#pragma once

namespace helmwater::infer {

double normal_cdf(double x);
double normal_log_density(double x, double mean, double sd);
// Inverse of normal_cdf, p in (0, 1): a rational start (Abramowitz & Stegun 26.2.23) polished to rounding.
double normal_quantile(double p);
// Quantile of a Beta(a, b) with whole a, b >= 1; p in (0, 1); by bisection to 1e-10.
double beta_quantile(double p, int a, int b);

}  // namespace helmwater::infer
