// SPDX-License-Identifier: Apache-2.0
// One step of the ensemble's integrator: ROS2, a two-stage Rosenbrock-W method of order 2 for any
// approximation of the Jacobian (Verwer, Spee, Blom, Hundsdorfer 1999, SIAM J. Sci. Comput. 20:1456;
// coefficients from memory, order checked in the tests). The matrix is lower triangular: ammonia -> nitrite
// -> nitrate -> alkalinity -> carbon, with zero column sums in nitrogen, so nitrogen is conserved to
// rounding.
#pragma once
#include "loop/derivatives.hpp"

namespace helmwater::loop {

inline constexpr double kRos2Gamma = 0.29289321881345254;  // 1 - 1/sqrt(2): L-stable

// The slope of a Monod rate that the step's matrix uses. Where the step is short the tangent; where it could
// clear the water, the chord through zero: the tangent is nearly flat at a high concentration, and the stage
// then lands far below zero. The order does not depend on the choice.
template <class T>
T slope_for_step(T tangent, T chord, T g) {
  const T z = T{4.0} * g * chord;
  return tangent + (chord - tangent) * min(T{1.0}, z * z);
}

// Solves (I - g A) x = b with A from the stiffness.
template <class T>
State<T> solve_triangular(const Stiffness<T>& s, T g, State<T> b) {
  const T one{1.0};
  const T ammonia = slope_for_step(s.ammonia, s.ammonia_chord, g);
  const T nitrite = slope_for_step(s.nitrite, s.nitrite_chord, g);
  b.tan = b.tan / (one + g * ammonia);
  const T moved_a = g * ammonia * b.tan;
  b.no2 = (b.no2 + moved_a) / (one + g * nitrite);
  b.no3 += g * nitrite * b.no2;
  b.alk -= T{2 / kGramsPerMolN} * moved_a;
  b.dic = (b.dic - g * s.carbon_alk * b.alk) / (one + g * s.carbon);
  return b;
}

// From y at the step's start (conditions `begin`) to its end (`end`), h in days. Loads are constant over the
// step.
template <class T>
[[gnu::flatten]] State<T> rosenbrock_step(const Parameters<T>& q, const Environment& begin, const Environment& end,
                         const Loads& loads, const State<T>& y, T& ln_h, double h_days, int ph_iterations) {
  const T h{h_days}, g{kRos2Gamma * h_days};
  const T zero{0.0};
  const State<T> none{zero, zero, zero, zero, zero, zero, zero, zero, zero, zero};
  Stiffness<T> s;
  const State<T> f1 = derivatives(q, begin, loads, y, ln_h, ph_iterations, &s);
  const State<T> k1 = solve_triangular(s, g, plus(none, h, f1));
  const State<T> f2 = derivatives(q, end, loads, plus(y, T{1.0}, k1), ln_h, ph_iterations);
  const State<T> k2 = solve_triangular(s, g, plus(plus(none, h, f2), T{-2.0}, k1));
  return plus(plus(y, T{1.5}, k1), T{0.5}, k2);
}

}  // namespace helmwater::loop
