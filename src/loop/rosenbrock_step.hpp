// SPDX-License-Identifier: Apache-2.0
// One step of the ensemble's integrator: ROS2, a two-stage Rosenbrock-W method of order 2 for any
// approximation of the Jacobian (Verwer, Spee, Blom, Hundsdorfer 1999, SIAM J. Sci. Comput. 20:1456;
// coefficients from memory, order checked in the tests). The matrix holds growth, ammonia -> nitrite -> nitrate
// with alkalinity and oxygen, then carbon; its columns make and lose neither nitrogen nor acid nor, but for the
// air, oxygen, so these are kept to rounding.
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

// (I - g A)^-1 in the form both stages use.
template <class T>
struct StepMatrix {
  T g;
  T ga, gn;            // g times the slopes of the two rates
  T inv_a, inv_n;      // 1 / (1 + ga), 1 / (1 + gn)
  T by_oxygen_a, by_oxygen_n;  // what one mg of oxygen moves in the two rates, times g
  T by_capacity_a, by_capacity_n;  // what capacity moves, times g
  T inv_growth_a, inv_growth_n;
  T inv_oxygen, inv_carbon;
  T gc_alk;
};

template <class T>
StepMatrix<T> step_matrix(const Stiffness<T>& s, T g) {
  const T one{1.0};
  StepMatrix<T> m;
  m.g = g;
  m.ga = g * slope_for_step(s.ammonia, s.ammonia_chord, g);
  m.gn = g * slope_for_step(s.nitrite, s.nitrite_chord, g);
  m.inv_a = one / (one + m.ga);
  m.inv_n = one / (one + m.gn);
  // Eq. I4: eliminating ammonia and nitrite leaves one equation for oxygen.
  m.by_oxygen_a = g * s.ammonia_o2 * m.inv_a;
  m.by_oxygen_n = (m.gn * m.by_oxygen_a + g * s.nitrite_o2) * m.inv_n;
  m.inv_oxygen = one / (one + g * s.oxygen + T{kOxygenPerAmmoniaN} * m.by_oxygen_a +
                        T{kOxygenPerNitriteN} * m.by_oxygen_n);
  m.by_capacity_a = g * s.capacity_a;
  m.by_capacity_n = g * s.capacity_n;
  m.inv_growth_a = one / (one - g * s.growth_a);
  m.inv_growth_n = one / (one - g * s.growth_n);
  m.inv_carbon = one / (one + g * s.carbon);
  m.gc_alk = g * s.carbon_alk;
  return m;
}

// Solves (I - g A) x = b.
template <class T>
State<T> solve(const StepMatrix<T>& m, State<T> b) {
  b.r_a = b.r_a * m.inv_growth_a;
  b.r_n = b.r_n * m.inv_growth_n;
  const T alone_a = (m.ga * b.tan + m.by_capacity_a * b.r_a) * m.inv_a;
  const T alone_n = (m.gn * (b.no2 + alone_a) + m.by_capacity_n * b.r_n) * m.inv_n;
  b.o2 = (b.o2 - T{kOxygenPerAmmoniaN} * alone_a - T{kOxygenPerNitriteN} * alone_n) * m.inv_oxygen;
  const T moved_a = alone_a + m.by_oxygen_a * b.o2, moved_n = alone_n + m.by_oxygen_n * b.o2;
  b.tan -= moved_a;
  b.no2 += moved_a - moved_n;
  b.no3 += moved_n;
  b.alk -= T{2 / kGramsPerMolN} * moved_a;
  b.dic = (b.dic - m.gc_alk * b.alk) * m.inv_carbon;
  return b;
}

// From y at the step's start (conditions `begin`) to its end (`end`), h in days. Loads are constant over the
// step.
template <class T>
[[gnu::flatten]] State<T> rosenbrock_step(const Parameters<T>& q, const MemberConstants<T>& c, const Environment& begin,
                                          const Environment& end, const Loads& loads, const State<T>& y, PhStart<T>& ph,
                                          double h_days, int ph_evaluations) {
  const T h{h_days};
  Stiffness<T> s;
  const State<T> f1 = derivatives(q, c, begin, loads, y, ph, ph_evaluations, &s);
  const StepMatrix<T> m = step_matrix(s, T{kRos2Gamma * h_days});
  const State<T> k1 = solve(m, times(h, f1));
  const State<T> f2 = derivatives(q, c, end, loads, plus(y, T{1.0}, k1), ph, ph_evaluations);
  const State<T> k2 = solve(m, plus(times(h, f2), T{-2.0}, k1));
  return plus(plus(y, T{1.5}, k1), T{0.5}, k2);
}
template <class T>
State<T> rosenbrock_step(const Parameters<T>& q, const Environment& begin, const Environment& end, const Loads& loads,
                         const State<T>& y, T& ln_h, double h_days, int ph_evaluations) {
  PhStart<T> ph(ln_h);
  const State<T> next = rosenbrock_step(q, constants_of(q), begin, end, loads, y, ph, h_days, ph_evaluations);
  ln_h = ph.ln_h;
  return next;
}

}  // namespace helmwater::loop
