// SPDX-License-Identifier: Apache-2.0
// Loss of capacity: without food, and where there is more than the surfaces hold (docs/model/decay.md).
#pragma once
#include "loop/environment.hpp"
#include "loop/member_constants.hpp"
#include "loop/parameters.hpp"
#include "loop/state.hpp"

namespace helmwater::loop {

// What the surfaces cannot hold falls off at this rate, 1/d (estimate). It leaves the model: the nitrogen bound in
// bacteria is not booked either, and is some 0.02 mg N/L per mg N/L/d of capacity (yield 0.15, 0.086 g N/g COD, mu 0.7).
inline constexpr double kSloughingPerDay = 1.0;

template <class T>
void add_decay(const Parameters<T>& q, const Environment& env, const Loads& loads, const State<T>& y, State<T>& d) {
  // Eq. D1 and D2.
  const T factor{env.decay_factor}, held = q.r_max * T{loads.surface}, zero{0.0};
  d.r_a -= q.b_a * factor * y.r_a + T{kSloughingPerDay} * max(y.r_a - held, zero);
  d.r_n -= q.b_n * factor * y.r_n + T{kSloughingPerDay} * max(y.r_n - held, zero);
}

}  // namespace helmwater::loop
