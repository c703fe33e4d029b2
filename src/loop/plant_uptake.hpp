// SPDX-License-Identifier: Apache-2.0
// Nitrogen taken by plants and by a small unlogged sink: algae, film, roots (docs/model/plant_uptake.md).
#pragma once
#include "loop/charge_balance.hpp"
#include "loop/environment.hpp"
#include "loop/member_constants.hpp"
#include "loop/parameters.hpp"
#include "loop/state.hpp"

namespace helmwater::loop {

// Ammonium is preferred fivefold (from memory); alkalinity -0.9 eq per mol as ammonium, +0.3 as nitrate.
inline constexpr double kAmmoniumPreference = 5.0;
inline constexpr double kUptakeHalfSaturation = 0.7;  // mg N/L, estimate

template <class T>
void add_plant_uptake(const Parameters<T>& q, const MemberConstants<T>& c, const Loads& loads, const State<T>& y,
                      State<T>& d) {
  const T zero{0.0};
  const T tan = max(y.tan, zero), no3 = max(y.no3, zero);
  // Eq. P1 to P4.
  T most = q.sink;
  if (loads.plant_area_m2_per_l > 0) most += q.u_crop * T{1000 * loads.plant_area_m2_per_l} * c.per_true_litre;
  const T taken = most * (tan + no3) / (T{kUptakeHalfSaturation} + tan + no3);
  const T preferred = T{kAmmoniumPreference} * tan;
  const T share = preferred / (preferred + no3 + T{1e-6});
  const T as_ammonium = taken * share, as_nitrate = taken - as_ammonium;
  d.tan -= as_ammonium;
  d.no3 -= as_nitrate;
  d.alk += T{1 / kGramsPerMolN} * (T{0.3} * as_nitrate - T{0.9} * as_ammonium);
}

}  // namespace helmwater::loop
