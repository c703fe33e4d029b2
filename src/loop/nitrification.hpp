// SPDX-License-Identifier: Apache-2.0
// Ammonia and nitrite oxidation with growth of the capacities (docs/model/nitrification.md).
#pragma once
#include "loop/breathing.hpp"
#include "loop/charge_balance.hpp"
#include "loop/environment.hpp"
#include "loop/parameters.hpp"
#include "loop/state.hpp"

namespace helmwater::loop {

template <class T>
struct Nitrification {
  T rate_a, rate_n;              // mg N/L/d converted
  T drate_a_dtan, drate_n_dno2;  // 1/d
  T chord_a, chord_n;            // rate over substrate, 1/d: what a step long enough to clear the water needs
  T drate_a_do2, drate_n_do2;    // mg N per mg O2 and day; 0 where oxygen is held
  T per_capacity_a, per_capacity_n;      // rate over capacity
  T growth_a, growth_n;                  // d capacity / dt without decay, mg N/L/d2
  T growth_per_capacity_a, growth_per_capacity_n;  // 1/d
};

// Eq. N3: rate factor of pH between 5 and 10.
template <class T>
T ph_factor(const Parameters<T>& q, T ph) {
  const T one{1.0}, steep{1.5 * kLn10};
  const T acid_side = exp(q.ln_theta_ph * min(ph - T{7.2}, T{0.0}));
  const T low = one + exp(steep * (T{5.6} - ph));
  const T high = one + exp(steep * (ph - q.ph_high));
  return acid_side / (low * high);
}

// Eq. N4: shortage of carbonate, A in mg/L CaCO3.
template <class T>
T alkalinity_factor(const Parameters<T>& q, T alk_meq) {
  const T a = max(alk_meq, T{0.0}) * T{kMgCaCO3PerMeq};
  return a * a / (q.k_alk * q.k_alk + a * a);
}

template <class T>
Nitrification<T> nitrification(const Parameters<T>& q, const MemberConstants<T>& c, const Environment& env,
                               const Loads& loads, const State<T>& y, const Equilibrium<T>& e) {
  const T one{1.0}, zero{0.0};
  // Eq. N3 without its first factor, times N4, in one quotient: 10^(1.5 (5.6 - pH)) is 10^8.4 h^1.5, and so on.
  const T h15 = e.root_h * e.root_h * e.root_h;
  const T alk = max(y.alk, zero), alk2 = alk * alk;
  const T shared = T{env.hot * loads.media} * h15 * alk2 /
                   ((one + T{251188643.15095801} * h15) * (h15 + c.high_side) * (c.k_alk_squared + alk2));
  const T acid_side = q.ln_theta_ph * min(ph_of(e) - T{7.2}, zero);  // ln of the first factor
  // Eq. N5: from the temperature factor of growth to that of a film as the surfaces fill.
  const T filled = c.per_r_max * T{1 / loads.surface};
  const T filled_a = y.r_a * filled, filled_n = y.r_n * filled;
  const T dt{env.growth_dt};
  const T warmth_a = exp(acid_side + dt * (q.ln_theta_a + c.film_a * min(max(filled_a, zero), one)));
  const T warmth_n = exp(acid_side + dt * (q.ln_theta_n + c.film_n * min(max(filled_n, zero), one)));
  const T free_a = max(e.free_ammonia, zero), hno2 = max(e.nitrous_acid, zero);
  T free_a_rate = warmth_a * shared * c.inhibition_a / ((q.ki_a_fa + free_a) * (q.ki_a_fna + hno2));
  T free_n_rate = warmth_n * shared * c.inhibition_n / ((q.ki_n_fa + free_a) * (q.ki_n_fna + hno2));
  if (loads.knot >= 0) {
    free_a_rate = free_a_rate * q.wander_a[loads.knot];
    free_n_rate = free_n_rate * q.wander_n[loads.knot];
  }
  const bool held = env.oxygen_held_mg_l >= 0;
  const T oxygen = held ? T{env.oxygen_held_mg_l} : max(y.o2, zero);
  const T inv_oa = one / (q.k_oa + oxygen), inv_on = one / (q.k_on + oxygen);
  // Odd in the substrate: a stage of a step that lands below zero is driven back no faster than at full rate.
  // A straight line there, steep as the half-saturation is small, threw single steps of strong, well fed
  // filters off by many mg/L.
  const T inv_a = one / (q.k_a + max(y.tan, -y.tan)), inv_n = one / (q.k_n + max(y.no2, -y.no2));
  const T p = max(y.p, zero), phosphate = p / (q.k_p + p);
  const T unit_a = free_a_rate * inv_a, unit_n = free_n_rate * inv_n;  // over capacity, substrate and oxygen's share
  const T slope_a = y.r_a * unit_a, slope_n = y.r_n * unit_n;
  Nitrification<T> n;
  // Eq. N1, N2 and N6.
  n.chord_a = slope_a * oxygen * inv_oa;
  n.chord_n = slope_n * oxygen * inv_on;
  n.rate_a = n.chord_a * y.tan;
  n.rate_n = n.chord_n * y.no2;
  n.drate_a_dtan = n.chord_a * q.k_a * inv_a;
  n.drate_n_dno2 = n.chord_n * q.k_n * inv_n;
  n.drate_a_do2 = held ? zero : max(slope_a * y.tan, zero) * q.k_oa * inv_oa * inv_oa;
  n.drate_n_do2 = held ? zero : max(slope_n * y.no2, zero) * q.k_on * inv_on * inv_on;
  n.per_capacity_a = max(unit_a * oxygen * inv_oa * y.tan, zero);
  n.per_capacity_n = max(unit_n * oxygen * inv_on * y.no2, zero);
  n.growth_per_capacity_a = q.mu_a * phosphate * max(zero, one - filled_a) * n.per_capacity_a;
  n.growth_per_capacity_n = q.mu_n * phosphate * max(zero, one - filled_n) * n.per_capacity_n;
  n.growth_a = n.growth_per_capacity_a * y.r_a;
  n.growth_n = n.growth_per_capacity_n * y.r_n;
  return n;
}
template <class T>
Nitrification<T> nitrification(const Parameters<T>& q, const Environment& env, const State<T>& y,
                               const Equilibrium<T>& e) {
  return nitrification(q, constants_of(q), env, Loads{}, y, e);
}

// Oxygen taken per nitrogen oxidised, g/g: 1.5 and 0.5 mol O2 per mol (no growth subtracted), 4.57 in all.
inline constexpr double kOxygenPerAmmoniaN = 1.5 * kGramsPerMolO2 / kGramsPerMolN;
inline constexpr double kOxygenPerNitriteN = 0.5 * kGramsPerMolO2 / kGramsPerMolN;

// Phosphorus bound by growth: 0.018 g P/g COD with yields 0.15 and 0.06 g COD/g N.
inline constexpr double kPhosphorusPerAmmoniaN = 0.018 * 0.15;
inline constexpr double kPhosphorusPerNitriteN = 0.018 * 0.06;

template <class T>
void add_nitrification(const Nitrification<T>& n, State<T>& d) {
  // Eq. N7 to N9.
  d.tan -= n.rate_a;
  d.no2 += n.rate_a - n.rate_n;
  d.no3 += n.rate_n;
  d.alk -= T{2 / kGramsPerMolN} * n.rate_a;  // 2 eq per mol N; the second step takes none
  d.p -= T{kPhosphorusPerAmmoniaN} * n.rate_a + T{kPhosphorusPerNitriteN} * n.rate_n;
  d.o2 -= T{kOxygenPerAmmoniaN} * n.rate_a + T{kOxygenPerNitriteN} * n.rate_n;
  d.r_a += n.growth_a;
  d.r_n += n.growth_n;
}

}  // namespace helmwater::loop
