// SPDX-License-Identifier: Apache-2.0
// Organic nitrogen and urea becoming ammonia (docs/model/mineralisation.md).
#pragma once
#include "loop/breathing.hpp"
#include "loop/charge_balance.hpp"
#include "loop/environment.hpp"
#include "loop/parameters.hpp"
#include "loop/state.hpp"

namespace helmwater::loop {

// Carbon respired per nitrogen set free, mol/mol: food of 45 % C and 5.1 % N, six tenths respired (estimate).
inline constexpr double kRespiredCarbonPerNitrogen = 6.0;

template <class T>
void add_mineralisation(const Parameters<T>& q, const Environment& env, const Loads& loads, const State<T>& y,
                        Breath<T>& breath, State<T>& d) {
  // Eq. M1 to M6.
  const T factor{env.mineral_factor}, per_mol{1 / kGramsPerMolN};
  d.tan += q.trickle;
  d.alk += per_mol * q.trickle;
  if (loads.organic) {
    const T organic = q.k_min * factor * y.org_n;
    const T carbon = T{kRespiredCarbonPerNitrogen / kGramsPerMolN} * organic;
    d.org_n -= organic;
    d.tan += organic;
    d.alk += per_mol * organic;
    d.dic += carbon;
    breath.demand += T{kGramsPerMolO2} * carbon;
  }
  if (loads.urea) {
    const T urea = q.k_urea * factor * y.urea_n;
    d.urea_n -= urea;
    d.tan += urea;
    d.alk += per_mol * urea;
    d.dic += T{0.5 / kGramsPerMolN} * urea;  // 1 C per 2 N
  }
}

}  // namespace helmwater::loop
