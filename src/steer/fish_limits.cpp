// SPDX-License-Identifier: Apache-2.0
#include "steer/fish_limits.hpp"

#include <algorithm>

namespace helmwater::steer {

FishLimits limits_for(const handbook::Fish* fish) {
  const auto& book = handbook::Handbook::built_in();
  const bool warm = fish != nullptr && fish->warm_water;
  const auto either = [&](const char* of_warm, const char* of_cold) { return &book.limit(warm ? of_warm : of_cold); };
  return {warm, &book.limit("fish_ammonia_with_fish"), either("free_ammonia_warm", "free_ammonia_cold"),
          either("nitrite_warm", "nitrite_cold"), either("oxygen_warm", "oxygen_cold"), &book.limit("ph_fish_low")};
}

Kept kept(const std::vector<Extremes>& worst, const std::vector<double>& weight, const FishLimits& limits) {
  Kept k;
  for (std::size_t m = 0; m < worst.size(); ++m) {
    const Extremes& w = worst[m];
    const bool ammonia = w.ammonia <= limits.ammonia->fact.value, free = w.free_ammonia <= limits.free_ammonia->fact.value,
               nitrite = w.nitrite <= limits.nitrite->fact.value, oxygen = w.oxygen >= limits.oxygen->fact.value;
    k.ammonia += ammonia ? weight[m] : 0;
    k.free_ammonia += free ? weight[m] : 0;
    k.nitrite += nitrite ? weight[m] : 0;
    k.oxygen += oxygen ? weight[m] : 0;
    k.ph += w.ph >= limits.ph_low->fact.value ? weight[m] : 0;
    k.all += ammonia && free && nitrite && oxygen ? weight[m] : 0;
  }
  for (double* share : {&k.all, &k.ammonia, &k.free_ammonia, &k.nitrite, &k.oxygen, &k.ph}) *share = std::min(*share, 1.0);
  return k;
}

}  // namespace helmwater::steer
