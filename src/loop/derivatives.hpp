// SPDX-License-Identifier: Apache-2.0
// The right-hand side of the loop: the sum of its processes, and the few partial derivatives the linearly
// implicit step uses.
#pragma once
#include "loop/breathing.hpp"
#include "loop/charge_balance.hpp"
#include "loop/decay.hpp"
#include "loop/denitrification.hpp"
#include "loop/evaporation.hpp"
#include "loop/feed_load.hpp"
#include "loop/gas_exchange.hpp"
#include "loop/member_constants.hpp"
#include "loop/mineralisation.hpp"
#include "loop/nitrification.hpp"
#include "loop/plant_uptake.hpp"

namespace helmwater::loop {

template <class T>
struct Stiffness {
  T ammonia;                       // d rate_a / d TAN, 1/d
  T nitrite;                       // d rate_n / d NO2, 1/d
  T ammonia_chord, nitrite_chord;  // rate_a / TAN, rate_n / NO2, 1/d
  T ammonia_o2, nitrite_o2;        // d rate_a / d O2, d rate_n / d O2, mg N per mg O2 and day
  T capacity_a, capacity_n;        // d rate / d capacity
  T growth_a, growth_n;            // d growth / d capacity, 1/d
  T carbon;                        // d outgassing / d DIC, 1/d
  T carbon_alk;                    // d outgassing / d Alk, mmol per meq and day
  T oxygen;                        // d (what leaves by gas exchange and breathing) / d O2, 1/d; 0 where oxygen is held
};

// d y / d t. The warm start of the pH is updated. Stiffness is filled when asked for.
template <class T>
State<T> derivatives(const Parameters<T>& q, const MemberConstants<T>& c, const Environment& env, const Loads& loads,
                     const State<T>& y, PhStart<T>& ph, int ph_evaluations, Stiffness<T>* stiffness = nullptr) {
  const Equilibrium<T> e = solve_equilibrium(env, y, ph.ln_h, ph.root_h, ph_evaluations);
  ph = PhStart<T>(e);
  const Nitrification<T> n = nitrification(q, c, env, loads, y, e);
  const T zero{0.0};
  const bool held = env.oxygen_held_mg_l >= 0;
  State<T> d{zero, zero, zero, zero, zero, zero, zero, zero, zero, zero, zero};
  Breath<T> breath = breath_at(env, y);
  add_nitrification(n, d);
  add_decay(q, env, loads, y, d);
  add_gas_exchange(q, env, loads, e, y, d);
  add_plant_uptake(q, c, loads, y, d);
  add_feed_load(q, c, loads, breath, d);
  add_denitrification(q, c, loads, y, d);
  add_mineralisation(q, env, loads, y, breath, d);
  add_breath(breath, d);
  add_evaporation(q, loads, y, d);
  if (held) d.o2 = zero;
  if (stiffness != nullptr) {
    const T transfer = co2_transfer(q, env, loads);
    const Co2Slopes<T> co2 = co2_slopes(e, y);
    stiffness->ammonia = n.drate_a_dtan;
    stiffness->nitrite = n.drate_n_dno2;
    stiffness->ammonia_chord = n.chord_a;
    stiffness->nitrite_chord = n.chord_n;
    stiffness->ammonia_o2 = n.drate_a_do2;
    stiffness->nitrite_o2 = n.drate_n_do2;
    stiffness->capacity_a = n.per_capacity_a;
    stiffness->capacity_n = n.per_capacity_n;
    stiffness->growth_a = n.growth_per_capacity_a;
    stiffness->growth_n = n.growth_per_capacity_n;
    stiffness->carbon = transfer * co2.by_dic;
    stiffness->carbon_alk = transfer * co2.by_alk;
    stiffness->oxygen = held ? zero
                             : oxygen_transfer(q, env, loads) +
                                   select(breath.share < T{1.0}, T{1 / kBreathlessBelow} * breath.demand, zero);
  }
  return d;
}
template <class T>
State<T> derivatives(const Parameters<T>& q, const Environment& env, const Loads& loads, const State<T>& y, T& ln_h,
                     int ph_evaluations, Stiffness<T>* stiffness = nullptr) {
  PhStart<T> ph(ln_h);
  const State<T> d = derivatives(q, constants_of(q), env, loads, y, ph, ph_evaluations, stiffness);
  ln_h = ph.ln_h;
  return d;
}

}  // namespace helmwater::loop
