// SPDX-License-Identifier: Apache-2.0
// The right-hand side of the loop: the sum of its processes, and the few partial derivatives the linearly
// implicit step uses.
#pragma once
#include "loop/charge_balance.hpp"
#include "loop/decay.hpp"
#include "loop/feed_load.hpp"
#include "loop/gas_exchange.hpp"
#include "loop/mineralisation.hpp"
#include "loop/nitrification.hpp"
#include "loop/plant_uptake.hpp"

namespace helmwater::loop {

template <class T>
struct Stiffness {
  T ammonia;                       // d rate_a / d TAN, 1/d
  T nitrite;                       // d rate_n / d NO2, 1/d
  T ammonia_chord, nitrite_chord;  // rate_a / TAN, rate_n / NO2, 1/d
  T carbon;                        // d outgassing / d DIC, 1/d
  T carbon_alk;                    // d outgassing / d Alk, mmol per meq and day
};

// d y / d t. `ln_h` is the warm start of the pH and is updated. Stiffness is filled when asked for.
template <class T>
State<T> derivatives(const Parameters<T>& q, const Environment& env, const Loads& loads, const State<T>& y,
                     T& ln_h, int ph_iterations, Stiffness<T>* stiffness = nullptr) {
  const Equilibrium<T> e = solve_equilibrium(env, y, ln_h, ph_iterations);
  ln_h = e.ln_h;
  const Nitrification<T> n = nitrification(q, env, y, e);
  const T zero{0.0};
  State<T> d{zero, zero, zero, zero, zero, zero, zero, zero, zero, zero};
  add_nitrification(n, d);
  add_decay(q, env, y, d);
  add_gas_exchange(q, env, e, d);
  add_plant_uptake(q, loads, y, d);
  add_feed_load(q, loads, d);
  add_mineralisation(q, env, y, d);
  if (stiffness != nullptr) {
    const T transfer = co2_transfer(q, env);
    *stiffness = {n.drate_a_dtan, n.drate_n_dno2,         n.chord_a,
                  n.chord_n,      transfer * e.dco2_ddic, transfer * e.dco2_dalk};
  }
  return d;
}

}  // namespace helmwater::loop
