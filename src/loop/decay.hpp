// SPDX-License-Identifier: Apache-2.0
// Loss of capacity without food (docs/model/decay.md).
#pragma once
#include "loop/environment.hpp"
#include "loop/parameters.hpp"
#include "loop/state.hpp"

namespace helmwater::loop {

template <class T>
void add_decay(const Parameters<T>& q, const Environment& env, const State<T>& y, State<T>& d) {
  // Eq. D1.
  const T factor{env.decay_factor};
  d.r_a -= q.b_a * factor * y.r_a;
  d.r_n -= q.b_n * factor * y.r_n;
}

}  // namespace helmwater::loop
