// SPDX-License-Identifier: Apache-2.0
// pH from alkalinity and total inorganic carbon (docs/model/charge_balance.md). Solved, never integrated.
// The general solver with every species is in src/chem; this one keeps the terms that matter between pH 4.5 and 10
// (carbonate, water, ammonia, second phosphate step, nitrous acid) and is warm-started. Within 0.003 of it there; with
// more than 1 mg P/L and below pH 5 within 0.01.
#pragma once
#include <type_traits>

#include "loop/environment.hpp"
#include "loop/member_constants.hpp"
#include "loop/pack.hpp"
#include "loop/state.hpp"

namespace helmwater::loop {

inline constexpr double kGramsPerMolN = 14.007;
inline constexpr double kGramsPerMolP = 30.974;

template <class T>
struct Equilibrium {
  T ln_h;               // ln of the hydrogen ion activity
  T root_h;             // its square root
  T residual;           // alkalinity at ln_h minus the state's, meq/L
  T slope;              // d residual / d ln_h, meq/L, negative
  T charge;             // of carbonate, meq per mmol of carbon
  T ammonium, nitrite;  // shares of total ammonia and of nitrite
  T co2;                // mmol/L
  T free_ammonia;       // mg N/L
  T nitrous_acid;       // mg N/L
};

// Hydrogen ions are counted in 1e-8 mol/L inside: then every product stays within single precision.
inline constexpr double kHydrogenUnit = 1e-8;

// `root_h` is the square root of the activity whose logarithm is ln_h.
template <class T>
Equilibrium<T> equilibrium_at(const Environment& env, const State<T>& y, T ln_h, T root_h) {
  constexpr double per_unit = 1 / kHydrogenUnit;
  const T h = root_h * root_h * T{per_unit};
  const T k1{env.k1 * per_unit}, k12{env.k1 * env.k2 * per_unit * per_unit}, kn{env.kn * per_unit},
      kp{env.kp2 * per_unit}, knit{env.knit * per_unit};
  const T one{1.0}, two{2.0};
  // One division serves all five denominators.
  const T carbonate = h * h + k1 * h + k12, ammonia = kn + h, phosphate = kp + h, nitrous = h + knit;
  const T left = carbonate * ammonia, right = phosphate * nitrous, all = left * right;
  const T inverse = one / (all * h), inv_h = inverse * all, inv_all = inverse * h;
  const T inv_left = inv_all * right, inv_right = inv_all * left, inv_carbonate = inv_left * ammonia;
  const T a0 = h * h * inv_carbonate, a1 = k1 * h * inv_carbonate, a2 = k12 * inv_carbonate;
  const T f_nh3 = kn * (inv_left * carbonate), f_hpo4 = kp * (inv_right * nitrous), f_hno2 = h * (inv_right * phosphate);
  const T tan = y.tan * T{1 / kGramsPerMolN}, no2 = y.no2 * T{1 / kGramsPerMolN}, p = y.p * T{1 / kGramsPerMolP};
  const T hydroxide = T{1000 * env.kw * per_unit} * inv_h, proton = T{1000 * env.inv_gamma1 * kHydrogenUnit} * h;
  Equilibrium<T> e;
  e.ln_h = ln_h;
  e.root_h = root_h;
  e.charge = a1 + two * a2;
  e.ammonium = one - f_nh3;
  e.nitrite = one - f_hno2;
  // Eq. C2, its slope C4, the species C3 and C5.
  e.residual = y.dic * e.charge + hydroxide - proton + tan * f_nh3 + p * f_hpo4 - no2 * f_hno2 - y.alk;
  e.slope = -(y.dic * (a1 * a0 + T{4.0} * a0 * a2 + a1 * a2) + hydroxide + proton + tan * f_nh3 * e.ammonium +
              p * f_hpo4 * (one - f_hpo4) + no2 * f_hno2 * e.nitrite);
  e.co2 = y.dic * a0;
  e.free_ammonia = y.tan * f_nh3;
  e.nitrous_acid = y.no2 * f_hno2;
  return e;
}

template <class T>
Equilibrium<T> equilibrium_at(const Environment& env, const State<T>& y, T ln_h) {
  return equilibrium_at(env, y, ln_h, exp(T{0.5} * ln_h));
}

// Newton in ln h, steps held to +-2 (about 0.9 pH), with at most so many evaluations: three suffice from the previous
// step's value, twelve from anywhere between pH 3 and 11. The species follow the last step, no longer than kSmallStep
// unless the evaluations ran out, to first order: its square is the error, and an evaluation is saved.
inline constexpr double kSmallStep = 0.02;

template <class T>
Equilibrium<T> solve_equilibrium(const Environment& env, const State<T>& y, T ln_h, T root_h, int evaluations) {
  const T lowest{-11.0 * kLn10}, highest{-3.0 * kLn10}, one{1.0};
  const T small{std::is_same_v<T, double> ? 1e-9 : kSmallStep};  // the reference solves to rounding
  Equilibrium<T> e;
  T step;
  for (int i = 1;; ++i) {
    e = equilibrium_at(env, y, ln_h, root_h);
    const T next = min(max(ln_h + min(max(-e.residual / e.slope, T{-2.0}), T{2.0}), lowest), highest);
    step = next - ln_h;
    ln_h = next;
    if (i >= evaluations || !any(max(step, -step) > small)) break;
    root_h = exp(T{0.5} * ln_h);
  }
  e.ln_h = ln_h;
  e.root_h = root_h * (one + T{0.5} * step * (one + T{0.25} * step));
  e.co2 = e.co2 * (one + e.charge * step);
  e.free_ammonia = e.free_ammonia * (one - e.ammonium * step);
  e.nitrous_acid = e.nitrous_acid * (one + e.nitrite * step);
  return e;
}
template <class T>
Equilibrium<T> solve_equilibrium(const Environment& env, const State<T>& y, T ln_h, int evaluations) {
  return solve_equilibrium(env, y, ln_h, exp(T{0.5} * ln_h), evaluations);
}

// How carbon dioxide follows carbon (at constant alkalinity) and alkalinity (at constant carbon).
template <class T>
struct Co2Slopes {
  T by_dic, by_alk;  // mmol/mmol, mmol/meq
};
template <class T>
Co2Slopes<T> co2_slopes(const Equilibrium<T>& e, const State<T>& y) {
  const T by_alk = e.co2 * e.charge / e.slope;
  return {e.co2 / y.dic - by_alk * e.charge, by_alk};
}

// The warm start of the pH, carried from one evaluation to the next.
template <class T>
struct PhStart {
  T ln_h, root_h;
  explicit PhStart(T guess) : ln_h(guess), root_h(exp(T{0.5} * guess)) {}
  explicit PhStart(const Equilibrium<T>& e) : ln_h(e.ln_h), root_h(e.root_h) {}
};

template <class T>
T ph_of(const Equilibrium<T>& e) {
  return e.ln_h * T{-1 / kLn10};
}

}  // namespace helmwater::loop
