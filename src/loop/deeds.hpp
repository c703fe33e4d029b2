// SPDX-License-Identifier: Apache-2.0
// What a dose, a water change, new bacteria or the plan does to a member's water at once (docs/model/deeds.md).
#pragma once
#include "loop/charge_balance.hpp"
#include "loop/nitrification.hpp"
#include "loop/pack.hpp"
#include "loop/parameters.hpp"
#include "loop/state.hpp"
#include "loop/timeline.hpp"

namespace helmwater::loop {

template <class T>
State<T> to_number_type(const State<double>& s) {
  return {T{s.tan}, T{s.no2}, T{s.no3}, T{s.alk}, T{s.dic}, T{s.r_a}, T{s.r_n}, T{s.org_n}, T{s.urea_n}, T{s.p}, T{s.o2}};
}

template <class T>
State<T> apply_dose(const Parameters<T>& q, const DoseEvent& dose, const State<T>& y) {
  const T effect = T{dose.effect} * (dose.unlogged < 0 ? q.effect_factor : q.unlogged[dose.unlogged]), zero{0.0};
  T amount{1.0};
  switch (dose.how) {
    case DoseEvent::How::by_amount: amount = T{1.0} / q.volume_factor; break;
    case DoseEvent::How::raise_ammonia_by:
    case DoseEvent::How::raise_alkalinity_by: amount = effect; break;
    case DoseEvent::How::raise_ammonia_to: amount = max(zero, effect - y.tan); break;
    case DoseEvent::How::raise_alkalinity_to: amount = max(zero, effect - y.alk); break;
  }
  return plus(y, amount, to_number_type<T>(dose.change));
}

// New water is taken to hold as much oxygen as the loop's: any difference is gone within the hour.
// Disinfectant in untreated new water: capacity falls by decades (Wang et al. 2014 saw 0.8-2.4 decades; the scaling
// with strength is an estimate).
template <class T>
State<T> apply_water(const Parameters<T>& q, const WaterEvent& water, State<T> y) {
  T share{water.share};
  if (!water.exact_share && !water.top_up) share = share / q.volume_factor;
  if (water.unlogged >= 0) share = share * q.unlogged[water.unlogged];
  share = min(share, T{1.0});
  const T kept = T{1.0} - share;
  y.tan = kept * y.tan + share * T{water.source_tan};
  y.no2 = kept * y.no2;
  y.no3 = kept * y.no3 + share * q.source_no3;
  y.alk = kept * y.alk + share * q.source_alk;
  y.dic = kept * y.dic + share * q.source_dic;
  y.org_n = kept * y.org_n;
  y.urea_n = kept * y.urea_n;
  y.p = kept * y.p + share * q.source_p;
  if (water.top_up) {  // it had evaporated (evaporation.hpp): the surfaces are in more water again
    y.r_a = kept * y.r_a;
    y.r_n = kept * y.r_n;
  }
  if (water.kill_strength > 0) {
    const T survivors = exp(T{-kLn10 * water.kill_strength} * max(q.kill_log10, T{0.0}));
    y.r_a = y.r_a * survivors;
    y.r_n = y.r_n * survivors;
  }
  return y;
}

template <class T>
State<T> apply_event(const Parameters<T>& q, const Event& event, State<T> y) {
  if (const auto* dose = std::get_if<DoseEvent>(&event.what)) return apply_dose(q, *dose, y);
  if (const auto* water = std::get_if<WaterEvent>(&event.what)) return apply_water(q, *water, y);
  if (const auto* volume = std::get_if<VolumeEvent>(&event.what)) {
    y.r_a = y.r_a * T{1 / volume->ratio};
    y.r_n = y.r_n * T{1 / volume->ratio};
    return y;
  }
  if (const auto* hit = std::get_if<HitEvent>(&event.what)) {
    const T off = q.hit_number - T{static_cast<double>(hit->number)};
    const auto it = max(off, -off) < T{0.5};
    const T survivors = exp(T{-kLn10} * select(it, max(q.hit_log10, T{0.0}), T{0.0}));
    y.r_a = y.r_a * survivors;
    y.r_n = y.r_n * survivors;
    return y;
  }
  const auto& seed = std::get<SeedEvent>(event.what);
  y.r_a += q.seed_factor_a * T{seed.capacity_a} / q.volume_factor;
  y.r_n += q.seed_factor_n * T{seed.capacity_n} / q.volume_factor;
  return y;
}

// The plan's daily look: each member decides on its own true values. Ammonia comes as ammonium chloride (no alkalinity),
// buffer as bicarbonate.
template <class T>
State<T> apply_look(const Policy& policy, State<T> y) {
  if (policy.redose) {
    const auto wanted = (y.tan < T{policy.redose_below_tan}) & (y.no2 < T{policy.redose_while_no2_below});
    y.tan = select(wanted, max(y.tan, T{policy.redose_to_tan}), y.tan);
  }
  if (policy.buffer) {
    const auto wanted = y.alk < T{policy.buffer_below_alk};
    const T added = select(wanted, max(T{0.0}, T{policy.buffer_to_alk} - y.alk), T{0.0});
    y.alk += added;
    y.dic += added;
  }
  return y;
}

}  // namespace helmwater::loop
