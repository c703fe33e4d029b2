// SPDX-License-Identifier: Apache-2.0
// A steady feed: what fish excrete and breathe and what is left as solids (docs/model/feed_load.md).
#pragma once
#include "loop/breathing.hpp"
#include "loop/charge_balance.hpp"
#include "loop/environment.hpp"
#include "loop/member_constants.hpp"
#include "loop/parameters.hpp"
#include "loop/state.hpp"

namespace helmwater::loop {

inline constexpr double kNitrogenInProtein = 0.16;  // g N/g
// Oxygen that fish breathe per ammonia nitrogen they excrete, where the feed itself is unknown: 0.4 g O2 per g of feed
// with 32 % protein, 0.092 g N excreted per g of protein (all from memory).
inline constexpr double kOxygenPerExcretedN = 0.4 / (0.32 * 0.092);

template <class T>
void add_feed_load(const Parameters<T>& q, const MemberConstants<T>& c, const Loads& loads, Breath<T>& breath,
                   State<T>& d) {
  const bool fish = loads.feed_protein_mg_l_d > 0 || loads.unknown_feed > 0 || loads.fish_oxygen_mg_l_d > 0;
  if (loads.feed_n_org_mg_l_d > 0) d.org_n += T{loads.feed_n_org_mg_l_d} * c.per_true_litre;
  if (!fish) return;
  // Eq. F1 to F4.
  const T protein = T{loads.feed_protein_mg_l_d} * c.per_true_litre;
  const T unknown = T{loads.unknown_feed} * q.feed_unknown;
  const T excreted = protein * q.f_tan + unknown;
  d.tan += excreted;
  d.alk += T{1 / kGramsPerMolN} * excreted;  // excreted as NH3: +1 eq per mol
  d.org_n += protein * T{kNitrogenInProtein} * q.f_sol;
  const T oxygen = T{loads.fish_oxygen_mg_l_d} * c.per_true_litre + T{kOxygenPerExcretedN} * unknown;
  breath.demand += oxygen;
  d.dic += T{1 / kGramsPerMolO2} * breath.share * oxygen;
}

// What stays in the fish, g N per g of protein fed: the rest of the nitrogen eaten.
template <class T>
T retained_by_fish(const Parameters<T>& q) {
  return T{kNitrogenInProtein} * (T{1.0} - q.f_sol) - q.f_tan;
}

}  // namespace helmwater::loop
