// SPDX-License-Identifier: Apache-2.0
// Oxygen taken by what breathes in the water, and the carbon dioxide it gives (docs/model/oxygen.md).
#pragma once
#include "loop/environment.hpp"
#include "loop/pack.hpp"
#include "loop/state.hpp"

namespace helmwater::loop {

inline constexpr double kGramsPerMolO2 = 31.998;
// Below this much oxygen (mg/L) breathing falls straight to nothing: no animal takes what is not there
// (estimate).
inline constexpr double kBreathlessBelow = 0.5;

// Respiration of one step's evaluation, collected from the processes that breathe.
template <class T>
struct Breath {
  T share;        // of the full demand that the oxygen at hand allows, 0..1
  T demand{0.0};  // full demand of all, mg O2/L/d
};

template <class T>
Breath<T> breath_at(const Environment& env, const State<T>& y) {
  if (env.oxygen_held_mg_l >= 0) return {T{1.0}, T{0.0}};
  return {min(max(y.o2 * T{1 / kBreathlessBelow}, T{0.0}), T{1.0}), T{0.0}};
}

// One mole of CO2 per mole of O2 (Eq. O3); carbon dioxide that is given without oxygen is booked by its own
// process.
template <class T>
void add_breath(const Breath<T>& breath, State<T>& d) {
  d.o2 -= breath.share * breath.demand;
}

}  // namespace helmwater::loop
