// SPDX-License-Identifier: Apache-2.0
// A steady feed: what fish excrete and what is left as solids (docs/model/feed_load.md).
#pragma once
#include "loop/charge_balance.hpp"
#include "loop/environment.hpp"
#include "loop/parameters.hpp"
#include "loop/state.hpp"

namespace helmwater::loop {

inline constexpr double kNitrogenInProtein = 0.16;  // g N/g

template <class T>
void add_feed_load(const Parameters<T>& q, const Loads& loads, State<T>& d) {
  // Eq. F1 to F3.
  const T per_true_litre = T{1.0} / q.volume_factor;
  const T protein = T{loads.feed_protein_mg_l_d} * per_true_litre;
  const T excreted = protein * q.f_tan + T{loads.unknown_feed} * q.feed_unknown;
  d.tan += excreted;
  d.alk += T{1 / kGramsPerMolN} * excreted;  // excreted as NH3: +1 eq per mol
  d.org_n += protein * T{kNitrogenInProtein} * q.f_sol + T{loads.feed_n_org_mg_l_d} * per_true_litre;
}

}  // namespace helmwater::loop
