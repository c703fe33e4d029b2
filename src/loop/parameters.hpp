// SPDX-License-Identifier: Apache-2.0
// What is constant in one loop's model but not known exactly. Rates are at 20 degC. Values, ranges and sources:
// data/handbook/priors.toml. T is double or Pack.
#pragma once

namespace helmwater::loop {

// Most deeds nobody logged that one model carries.
inline constexpr int kUnloggedMost = 6;
// Weeks for which rates wander each in its own way; later ones repeat them (docs/model/wandering_rates.md).
inline constexpr int kWanderMost = 24;

template <class T>
struct Parameters {
  // nitrification
  T mu_a, mu_n;              // growth, 1/d
  T ln_theta_a, ln_theta_n;  // ln of the temperature factor, 1/degC
  T b_a, b_n;                // decay, 1/d
  T k_a, k_n;                // half-saturations, mg N/L
  T k_oa, k_on;              // oxygen half-saturations, mg/L
  T ki_a_fa, ki_n_fa;        // inhibition by free ammonia, mg N/L
  T ki_a_fna, ki_n_fna;      // inhibition by nitrous acid, mg N/L
  T ln_theta_ph;             // ln of the rate factor per pH unit below 7.2
  T ph_high;                 // pH at which the high side has halved the rate
  T k_alk;                   // alkalinity half-value, mg/L CaCO3
  T k_p;                     // phosphate half-saturation of growth, mg P/L
  T r_max;                   // capacity the surfaces can hold, mg N/L/d
  T ln_theta_film;           // ln of the temperature factor of a filter whose surfaces are full, 1/degC
  T wander_a[kWanderMost], wander_n[kWanderMost];  // factors of both steps' rates and growth, by Loads::knot
  // gas exchange
  T k_la;     // oxygen transfer, 1/d at 20 degC; CO2 is 0.90 of it
  T co2_ppm;  // CO2 of the air over the water
  // nitrogen in and out
  T sink;         // small unlogged uptake, mg N/L/d
  T trickle;      // ammonia from what decays unseen, mg N/L/d
  T u_crop;       // uptake of a full canopy, g N/m2/d
  T k_min;        // mineralisation of organic N, 1/d
  T k_urea;       // urea hydrolysis, 1/d
  T f_tan;        // ammonia N excreted per feed protein, g/g
  T f_sol;        // share of feed N that goes to solids
  T f_den;        // share of feed N that is denitrified
  T feed_unknown; // unlogged feed, mg N/L/d
  // amounts
  T volume_factor;  // true volume / stated volume
  T effect_factor;  // true effect / intended effect of doses logged by their effect
  T kill_log10;     // decades of capacity lost in a full-strength disinfectant hit
  T hit_number, hit_log10;  // which HitEvent it was that happened, and the decades of capacity it cost
  T unlogged[kUnloggedMost];       // true size of a suspected deed / its likeliest size; 0: it was not done
  T seed_factor_a, seed_factor_n;  // true strength of bacteria brought in later / its median
  // source water
  T source_alk;  // meq/L
  T source_dic;  // mmol/L
  T source_no3;  // mg N/L
  T source_p;    // mg P/L
};

}  // namespace helmwater::loop
