// SPDX-License-Identifier: Apache-2.0
// Water that evaporates, and what refills it (docs/model/evaporation.md).
#pragma once
#include "loop/environment.hpp"
#include "loop/parameters.hpp"
#include "loop/state.hpp"

namespace helmwater::loop {

template <class T>
void add_evaporation(const Parameters<T>& q, const Loads& loads, const State<T>& y, State<T>& d) {
  // Eq. W1: everything there is in less water, bacteria on the surfaces too.
  if (loads.evaporation_per_d > 0) d = plus(d, T{loads.evaporation_per_d}, y);
  // Eq. W2: refilled as it goes, only what the source brings is left to see.
  if (loads.top_up_per_d > 0) {
    const T share{loads.top_up_per_d};
    d.no3 += share * q.source_no3;
    d.alk += share * q.source_alk;
    d.dic += share * q.source_dic;
    d.p += share * q.source_p;
  }
}

}  // namespace helmwater::loop
