// SPDX-License-Identifier: Apache-2.0
// Ammonia and nitrite oxidation with growth of the capacities (docs/model/nitrification.md).
#pragma once
#include "loop/charge_balance.hpp"
#include "loop/environment.hpp"
#include "loop/parameters.hpp"
#include "loop/state.hpp"

namespace helmwater::loop {

inline constexpr double kMgCaCO3PerMeq = 50.0435;

template <class T>
struct Nitrification {
  T rate_a, rate_n;              // mg N/L/d converted
  T drate_a_dtan, drate_n_dno2;  // 1/d
  T chord_a, chord_n;            // rate over substrate, 1/d: what a step long enough to clear the water needs
  T growth_a, growth_n;          // d capacity / dt without decay, mg N/L/d2
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
Nitrification<T> nitrification(const Parameters<T>& q, const Environment& env, const State<T>& y,
                               const Equilibrium<T>& e) {
  const T one{1.0}, zero{0.0}, oxygen{env.oxygen_mg_l}, growth_dt{env.growth_dt}, hot{env.hot};
  // Eq. N5 is in the environment.
  const T shared = ph_factor(q, ph_of(e)) * alkalinity_factor(q, y.alk) * hot;
  const T oxygen_a = oxygen / (q.k_oa + oxygen), oxygen_n = oxygen / (q.k_on + oxygen);
  const T free_a = max(e.free_ammonia, zero), hno2 = max(e.nitrous_acid, zero);
  const T inhibited_a = q.ki_a_fa * q.ki_a_fna / ((q.ki_a_fa + free_a) * (q.ki_a_fna + hno2));
  const T inhibited_n = q.ki_n_fa * q.ki_n_fna / ((q.ki_n_fa + free_a) * (q.ki_n_fna + hno2));
  const T full_a = y.r_a * exp(q.ln_theta_a * growth_dt) * oxygen_a * inhibited_a * shared;
  const T full_n = y.r_n * exp(q.ln_theta_n * growth_dt) * oxygen_n * inhibited_n * shared;
  // Odd in the substrate: a stage of a step that lands below zero is driven back no faster than at full rate.
  // A straight line there, steep as the half-saturation is small, threw single steps of strong, well fed
  // filters off by many mg/L.
  const T inv_a = one / (q.k_a + max(y.tan, -y.tan)), inv_n = one / (q.k_n + max(y.no2, -y.no2));
  const T phosphate = max(y.p, zero) / (q.k_p + max(y.p, zero));
  Nitrification<T> n;
  // Eq. N1, N2 and N6.
  n.rate_a = full_a * y.tan * inv_a;
  n.rate_n = full_n * y.no2 * inv_n;
  n.drate_a_dtan = full_a * q.k_a * inv_a * inv_a;
  n.drate_n_dno2 = full_n * q.k_n * inv_n * inv_n;
  n.chord_a = full_a * inv_a;
  n.chord_n = full_n * inv_n;
  n.growth_a = q.mu_a * phosphate * max(zero, one - y.r_a / q.r_max) * max(n.rate_a, zero);
  n.growth_n = q.mu_n * phosphate * max(zero, one - y.r_n / q.r_max) * max(n.rate_n, zero);
  return n;
}

// Phosphorus bound by growth: 0.018 g P/g COD with yields 0.15 and 0.06 g COD/g N.
inline constexpr double kPhosphorusPerAmmoniaN = 0.018 * 0.15;
inline constexpr double kPhosphorusPerNitriteN = 0.018 * 0.06;

template <class T>
void add_nitrification(const Nitrification<T>& n, State<T>& d) {
  // Eq. N7 and N8.
  d.tan -= n.rate_a;
  d.no2 += n.rate_a - n.rate_n;
  d.no3 += n.rate_n;
  d.alk -= T{2 / kGramsPerMolN} * n.rate_a;  // 2 eq per mol N; the second step takes none
  d.p -= T{kPhosphorusPerAmmoniaN} * n.rate_a + T{kPhosphorusPerNitriteN} * n.rate_n;
  d.r_a += n.growth_a;
  d.r_n += n.growth_n;
}

}  // namespace helmwater::loop
