// SPDX-License-Identifier: Apache-2.0
// Carbon dioxide between water and air (docs/model/gas_exchange.md).
#pragma once
#include "loop/charge_balance.hpp"
#include "loop/environment.hpp"
#include "loop/parameters.hpp"
#include "loop/state.hpp"

namespace helmwater::loop {

// kLa of CO2 over kLa of oxygen: square root of the diffusivities' ratio, 1.92e-9 / 2.35e-9 m2/s.
inline constexpr double kCo2OverOxygenTransfer = 0.904;

template <class T>
T co2_transfer(const Parameters<T>& q, const Environment& env) {
  return q.k_la * T{kCo2OverOxygenTransfer * env.kla_factor};
}

template <class T>
void add_gas_exchange(const Parameters<T>& q, const Environment& env, const Equilibrium<T>& e, State<T>& d) {
  // Eq. G2 and G1.
  const T saturation = q.co2_ppm * T{env.k0 * 1e-3};  // mmol/L: 1e-6 atm/ppm, 1e3 mmol/mol
  d.dic += co2_transfer(q, env) * (saturation - e.co2);
}

}  // namespace helmwater::loop
