// SPDX-License-Identifier: Apache-2.0
// The model's state as the plain run of numbers that general integrators want, however many there are.
#pragma once
#include <array>
#include <cstring>

#include "loop/state.hpp"

namespace helmwater::bench {

inline constexpr std::size_t kStates = sizeof(loop::State<double>) / sizeof(double);
using Flat = std::array<double, kStates>;

inline Flat flat_of(const loop::State<double>& y) {
  Flat flat;
  std::memcpy(flat.data(), &y, sizeof y);
  return flat;
}
inline loop::State<double> state_of(const double* flat) {
  loop::State<double> y;
  std::memcpy(&y, flat, sizeof y);
  return y;
}

}  // namespace helmwater::bench
