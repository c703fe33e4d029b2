// SPDX-License-Identifier: Apache-2.0
// The plain reference: classical fourth-order Runge-Kutta in double precision with the pH solved to rounding.
#pragma once
#include <cmath>

#include "loop/derivatives.hpp"

namespace helmwater::loop {

inline constexpr int kReferencePhIterations = 40;

// `conditions(day)` gives the Environment. Integrates from `from` to `to` (days) in equal steps not longer than
// `longest_step`. kLa 60/d needs steps below 0.03 d.
template <class Conditions>
State<double> integrate_reference(const Parameters<double>& q, const Conditions& conditions, const Loads& loads,
                                  State<double> y, double from, double to, double longest_step) {
  const int steps = static_cast<int>(std::ceil((to - from) / longest_step - 1e-9));
  if (steps <= 0) return y;
  const double h = (to - from) / steps;
  PhStart<double> ph(-7.5 * kLn10);
  const MemberConstants<double> constants = constants_of(q);
  const auto f = [&](double t, const State<double>& x) {
    return derivatives(q, constants, conditions(t), loads, x, ph, kReferencePhIterations);
  };
  for (int i = 0; i < steps; ++i) {
    const double t = from + i * h;
    const State<double> k1 = f(t, y);
    const State<double> k2 = f(t + h / 2, plus(y, h / 2, k1));
    const State<double> k3 = f(t + h / 2, plus(y, h / 2, k2));
    const State<double> k4 = f(t + h, plus(y, h, k3));
    y = plus(plus(plus(plus(y, h / 6, k1), h / 3, k2), h / 3, k3), h / 6, k4);
  }
  return y;
}

}  // namespace helmwater::loop
