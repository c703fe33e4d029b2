// SPDX-License-Identifier: Apache-2.0
// What the water must not pass for a kind of fish, and how many members of a posterior keep to it.
#pragma once
#include <string>
#include <vector>

#include "handbook/handbook.hpp"
#include "steer/fish_course.hpp"

namespace helmwater::steer {

struct FishLimits {
  bool warm_water = false;              // false also for a kind not known: the strictest
  const handbook::Limit* ammonia = nullptr;       // mg/L as NH3
  const handbook::Limit* free_ammonia = nullptr;  // mg N/L
  const handbook::Limit* nitrite = nullptr;       // mg/L as ion
  const handbook::Limit* oxygen = nullptr;        // mg/L
  const handbook::Limit* ph_low = nullptr;
  std::vector<const handbook::Limit*> all() const { return {ammonia, free_ammonia, nitrite, oxygen, ph_low}; }
};
// Null: a kind not known.
FishLimits limits_for(const handbook::Fish* fish);

// Probabilities that a limit is kept throughout; `all`: ammonia, free ammonia, nitrite and oxygen together.
struct Kept {
  double all = 0, ammonia = 0, free_ammonia = 0, nitrite = 0, oxygen = 0, ph = 0;
};
Kept kept(const std::vector<Extremes>& worst, const std::vector<double>& weight, const FishLimits& limits);

}  // namespace helmwater::steer
