// SPDX-License-Identifier: Apache-2.0
// Nitrate lost as gas in settled solids and the depth of media (docs/model/denitrification.md).
#pragma once
#include "loop/charge_balance.hpp"
#include "loop/environment.hpp"
#include "loop/feed_load.hpp"
#include "loop/member_constants.hpp"
#include "loop/parameters.hpp"
#include "loop/state.hpp"

namespace helmwater::loop {

inline constexpr double kDenitrificationHalfSaturation = 1.0;  // mg N/L of nitrate, estimate

template <class T>
void add_denitrification(const Parameters<T>& q, const MemberConstants<T>& c, const Loads& loads,
                         const State<T>& y, State<T>& d) {
  if (!(loads.feed_protein_mg_l_d > 0)) return;
  // Eq. V1 and V2.
  const T fed = T{kNitrogenInProtein * loads.feed_protein_mg_l_d} * c.per_true_litre;
  const T nitrate = max(y.no3, T{0.0});
  const T lost = q.f_den * fed * nitrate / (T{kDenitrificationHalfSaturation} + nitrate);
  d.no3 -= lost;
  d.alk += T{1 / kGramsPerMolN} * lost;
  d.dic += T{1.25 / kGramsPerMolN} * lost;
}

}  // namespace helmwater::loop
