// SPDX-License-Identifier: Apache-2.0
// Organic nitrogen and urea becoming ammonia (docs/model/mineralisation.md).
#pragma once
#include "loop/charge_balance.hpp"
#include "loop/environment.hpp"
#include "loop/parameters.hpp"
#include "loop/state.hpp"

namespace helmwater::loop {

// Carbon respired per nitrogen set free, mol/mol: food of 45 % C and 5.1 % N, six tenths respired (estimate).
inline constexpr double kRespiredCarbonPerNitrogen = 6.0;

template <class T>
void add_mineralisation(const Parameters<T>& q, const Environment& env, const State<T>& y, State<T>& d) {
  // Eq. M1 to M4.
  const T factor{env.mineral_factor}, per_mol{1 / kGramsPerMolN};
  const T organic = q.k_min * factor * y.org_n;
  const T urea = q.k_urea * factor * y.urea_n;
  d.org_n -= organic;
  d.urea_n -= urea;
  d.tan += organic + urea;
  d.alk += per_mol * (organic + urea);                                          // +1 eq per mol N in both
  d.dic += per_mol * (T{kRespiredCarbonPerNitrogen} * organic + T{0.5} * urea);  // urea: 1 C per 2 N
}

}  // namespace helmwater::loop
