// SPDX-License-Identifier: Apache-2.0
// What the rates need of a member's parameters in another form: worked out once a run instead of at every
// evaluation.
#pragma once
#include "loop/pack.hpp"
#include "loop/parameters.hpp"

namespace helmwater::loop {

inline constexpr double kLn10 = 2.302585092994046;
inline constexpr double kMgCaCO3PerMeq = 50.0435;

template <class T>
struct MemberConstants {
  T per_true_litre;              // stated volume / true volume
  T per_r_max;                   // 1 / r_max, L d/mg N
  T high_side;                   // 10^(-1.5 pH_high), of Eq. N3
  T k_alk_squared;               // meq2/L2
  T inhibition_a, inhibition_n;  // products of the inhibition constants, mg2 N/L2
  T film_a, film_n;              // ln of the film's temperature factor over that of growth, 1/degC
};

template <class T>
MemberConstants<T> constants_of(const Parameters<T>& q) {
  const T one{1.0}, k_alk = q.k_alk * T{1 / kMgCaCO3PerMeq};
  return {one / q.volume_factor,
          one / q.r_max,
          exp(T{-1.5 * kLn10} * q.ph_high),
          k_alk * k_alk,
          q.ki_a_fa * q.ki_a_fna,
          q.ki_n_fa * q.ki_n_fna,
          q.ln_theta_film - q.ln_theta_a,
          q.ln_theta_film - q.ln_theta_n};
}

}  // namespace helmwater::loop
