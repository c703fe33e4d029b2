// SPDX-License-Identifier: Apache-2.0
// Why an invented loop does not move: what is wrong with it, and what of that its owner writes down
// (docs/decisions/007-second-simulator.md).
#pragma once
#include <array>
#include <optional>
#include <string>

#include "dice.hpp"
#include "two_tanks.hpp"

namespace helmwater::tests {

enum class Stall {
  none, low_alkalinity, no_phosphate, too_much_ammonia, cold, low_oxygen, disinfectant, light, no_seed, nitrate_unseen, starvation
};
inline constexpr int kStalls = 11;
inline constexpr std::array<const char*, kStalls> kStallNames{
    "young", "low_alkalinity", "no_phosphate", "too_much_ammonia", "cold", "low_oxygen",
    "disinfectant", "light", "no_seed", "nitrate_unseen", "starvation"};

// What the owner does, has and writes otherwise than he would; drawn from dice of their own.
struct Affliction {
  Stall stall = Stall::none;
  bool acts = true;                   // false: the twin, the same loop and owner without what is wrong
  int start = 0;                      // of the loop, as second_loop.cpp numbers them
  std::string air = "gentle", water = "tap";
  double as_of_day = 30;
  double wanted = 0;                  // mg/L as NH3 of a dose; 0: his own habit
  bool never_measures_temperature = false, oxygen_meter = false, never_buffers = false;
  bool unshaken = false;              // the nitrate bottle, ever
  std::optional<double> strike_day;   // of a disinfectant
  double strike_decades = 2;
  enum class Written { nothing, water_change, medication } strike_written = Written::nothing;
  std::optional<double> pause_day;    // from then on nothing is dosed, but once if `resumed_before` as_of
  std::optional<double> resumed_before;
};

Affliction draw_affliction(Dice& dice, Stall stall);
// What of it is nature's. `stated_celsius`, `stated_alkalinity` (mg/L CaCO3): what the owner says, whether true or not.
void afflict(const Affliction& affliction, Dice& dice, Nature& nature, double& stated_celsius, double& stated_alkalinity);

}  // namespace helmwater::tests
