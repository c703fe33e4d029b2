// SPDX-License-Identifier: Apache-2.0
// pH from alkalinity and total inorganic carbon (docs/model/charge_balance.md). Solved, never integrated.
// The general solver with every species is in src/chem; this one keeps the terms that matter between pH 4.5 and 10
// (carbonate, water, ammonia, second phosphate step, nitrous acid) and is warm-started. Within 0.003 of it there; with
// more than 1 mg P/L and below pH 5 within 0.01.
#pragma once
#include "loop/environment.hpp"
#include "loop/member_constants.hpp"
#include "loop/pack.hpp"
#include "loop/state.hpp"

namespace helmwater::loop {

inline constexpr double kGramsPerMolN = 14.007;
inline constexpr double kGramsPerMolP = 30.974;

template <class T>
struct Equilibrium {
  T ln_h;              // ln of the hydrogen ion activity
  T root_h;            // its square root
  T residual;          // alkalinity at ln_h minus the state's, meq/L
  T slope;             // d residual / d ln_h, meq/L, negative
  T co2;               // mmol/L
  T dco2_ddic;         // at constant alkalinity
  T dco2_dalk;         // mmol per meq
  T free_ammonia;      // mg N/L
  T nitrous_acid;      // mg N/L
};

// `root_h` is the square root of the activity whose logarithm is ln_h.
template <class T>
Equilibrium<T> equilibrium_at(const Environment& env, const State<T>& y, T ln_h, T root_h) {
  const T h = root_h * root_h;
  const T k1{env.k1}, k12{env.k1 * env.k2}, kn{env.kn}, kp{env.kp2}, knit{env.knit};
  const T one{1.0}, two{2.0}, thousand{1000.0};
  const T inv_d = one / (h * h + k1 * h + k12);
  const T a0 = h * h * inv_d, a1 = k1 * h * inv_d, a2 = k12 * inv_d;
  const T f_nh3 = kn / (kn + h), f_hpo4 = kp / (kp + h), f_hno2 = h / (h + knit);
  const T tan = y.tan * T{1 / kGramsPerMolN}, no2 = y.no2 * T{1 / kGramsPerMolN}, p = y.p * T{1 / kGramsPerMolP};
  const T hydroxide = thousand * T{env.kw} / h, proton = thousand * T{env.inv_gamma1} * h;
  Equilibrium<T> e;
  e.ln_h = ln_h;
  e.root_h = root_h;
  // Eq. C2, its slope C4, the species C3 and C5.
  e.residual = y.dic * (a1 + two * a2) + hydroxide - proton + tan * f_nh3 + p * f_hpo4 - no2 * f_hno2 - y.alk;
  e.slope = -(y.dic * (a1 * a0 + T{4.0} * a0 * a2 + a1 * a2) + hydroxide + proton + tan * f_nh3 * (one - f_nh3) +
              p * f_hpo4 * (one - f_hpo4) + no2 * f_hno2 * (one - f_hno2));
  e.co2 = y.dic * a0;
  const T charge = a1 + two * a2;
  e.dco2_dalk = e.co2 * charge / e.slope;
  e.dco2_ddic = a0 - e.dco2_dalk * charge;
  e.free_ammonia = y.tan * f_nh3;
  e.nitrous_acid = y.no2 * f_hno2;
  return e;
}

template <class T>
Equilibrium<T> equilibrium_at(const Environment& env, const State<T>& y, T ln_h) {
  return equilibrium_at(env, y, ln_h, exp(T{0.5} * ln_h));
}

// Newton in ln h, steps held to +-2 (about 0.9 pH). Two iterations suffice from the previous step's value, twelve
// from anywhere between pH 3 and 11.
template <class T>
Equilibrium<T> solve_equilibrium(const Environment& env, const State<T>& y, T ln_h, T root_h, int iterations) {
  const T lowest{-11.0 * kLn10}, highest{-3.0 * kLn10};
  for (int i = 0; i < iterations; ++i) {
    const Equilibrium<T> e = equilibrium_at(env, y, ln_h, root_h);
    const T step = min(max(-e.residual / e.slope, T{-2.0}), T{2.0});
    ln_h = min(max(ln_h + step, lowest), highest);
    root_h = exp(T{0.5} * ln_h);
  }
  return equilibrium_at(env, y, ln_h, root_h);
}
template <class T>
Equilibrium<T> solve_equilibrium(const Environment& env, const State<T>& y, T ln_h, int iterations) {
  return solve_equilibrium(env, y, ln_h, exp(T{0.5} * ln_h), iterations);
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
