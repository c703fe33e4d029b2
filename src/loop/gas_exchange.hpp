// SPDX-License-Identifier: Apache-2.0
// Carbon dioxide and oxygen between water and air (docs/model/gas_exchange.md).
#pragma once
#include "loop/charge_balance.hpp"
#include "loop/environment.hpp"
#include "loop/parameters.hpp"
#include "loop/state.hpp"

namespace helmwater::loop {

// kLa of CO2 over kLa of oxygen: square root of the diffusivities' ratio, 1.92e-9 / 2.35e-9 m2/s.
inline constexpr double kCo2OverOxygenTransfer = 0.904;

// kLa of oxygen, 1/d.
template <class T>
T oxygen_transfer(const Parameters<T>& q, const Environment& env, const Loads& loads = {}) {
  return q.k_la * T{env.kla_factor * loads.transfer};
}
template <class T>
T co2_transfer(const Parameters<T>& q, const Environment& env, const Loads& loads = {}) {
  return q.k_la * T{kCo2OverOxygenTransfer * env.kla_factor * loads.transfer};
}

template <class T>
void add_gas_exchange(const Parameters<T>& q, const Environment& env, const Loads& loads, const Equilibrium<T>& e,
                      const State<T>& y, State<T>& d) {
  // Eq. G1 to G3.
  const T co2_saturation = q.co2_ppm * T{env.k0 * 1e-3};  // mmol/L: 1e-6 atm/ppm, 1e3 mmol/mol
  d.dic += co2_transfer(q, env, loads) * (co2_saturation - e.co2);
  d.o2 += oxygen_transfer(q, env, loads) * (T{env.oxygen_saturation_mg_l} - y.o2);
}

}  // namespace helmwater::loop
