// SPDX-License-Identifier: Apache-2.0
#include "stalls.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace helmwater::tests {
namespace {

constexpr int kUnseeded = 0, kBottled = 1, kSeededMedia = 2, kFish = 3;
constexpr double kMeqPerMgCaCO3 = 1 / 50.04;

}  // namespace

// Shares of owners are estimates, made before any answer was seen.
Affliction draw_affliction(Dice& dice, Stall stall) {
  Affliction a;
  a.stall = stall;
  a.as_of_day = dice.whole(24, 34) + 0.5;
  // A start-up has to wait for bacteria before anything can hold them up: few begin with plenty.
  const double start = dice.uniform();
  a.start = start < 0.6 ? kUnseeded : start < 0.8 ? kBottled : kFish;
  a.air = dice.chance(0.1) ? "none" : "gentle";
  a.water = dice.chance(0.08) ? "RO water" : "tap";
  a.oxygen_meter = dice.chance(0.1);
  const double luck = dice.uniform();
  switch (stall) {
    case Stall::none: a.as_of_day = dice.whole(8, 24) + 0.5; break;
    case Stall::low_alkalinity:
      a.never_buffers = true;
      if (a.start == kFish) a.start = kUnseeded;  // what fish give off brings alkalinity
      a.wanted = 3;
      break;
    case Stall::no_phosphate:
      if (a.start == kFish) a.start = kUnseeded;  // feed brings phosphate
      if (luck < 0.6) a.water = luck < 0.4 ? "RO water" : "rain water";
      break;
    case Stall::too_much_ammonia:
      if (a.start == kFish) a.start = kUnseeded;
      a.wanted = 12 * 1.2159;
      a.pause_day = 0.5;  // once: more of it without buffer would be low alkalinity
      break;
    case Stall::cold: a.never_measures_temperature = true; break;
    case Stall::low_oxygen:
      if (luck < 0.6) a.air = "none";
      a.oxygen_meter = dice.chance(0.5);
      break;
    case Stall::disinfectant:
      a.strike_day = dice.whole(8, 16) + 0.4;
      a.strike_written = luck < 0.6   ? Affliction::Written::water_change
                         : luck < 0.8 ? Affliction::Written::medication
                                      : Affliction::Written::nothing;
      break;
    case Stall::light: break;
    case Stall::no_seed: break;
    case Stall::nitrate_unseen:
      a.start = kSeededMedia;
      a.unshaken = true;
      break;
    case Stall::starvation:
      a.start = kSeededMedia;
      a.pause_day = dice.whole(9, 13);
      a.as_of_day = *a.pause_day + dice.whole(18, 22) + 0.5;
      a.resumed_before = dice.between(2.6, 3.9);
      break;
  }
  return a;
}

void afflict(const Affliction& a, Dice& dice, Nature& n, double& stated_celsius, double& stated_alkalinity) {
  const auto slow_down = [&](double factor) {
    n.growth_a *= factor;
    n.growth_n *= factor;
    n.seed_a *= factor;  // as many bacteria as before
    n.seed_n *= factor;
  };
  const auto alkalinity = [&](double mg_l) {
    n.source.alkalinity = mg_l * kMeqPerMgCaCO3;
    stated_alkalinity = 10 * std::max(1.0, std::round(mg_l / 10));
  };
  // Soft by nature is low alkalinity as well: it is taken out of the loops whose cause is another.
  if (n.source.alkalinity < 80 * kMeqPerMgCaCO3) alkalinity(dice.between(80, 160));
  if (!a.acts) return;
  switch (a.stall) {
    case Stall::none: break;
    case Stall::low_alkalinity: alkalinity(30); break;
    case Stall::no_phosphate: slow_down(0.003 / (0.003 + dice.lognormal(0.02, 0.6))); break;
    case Stall::too_much_ammonia: alkalinity(dice.between(160, 260)); break;
    case Stall::cold: {
      const double mean =
          std::accumulate(n.temperature.begin(), n.temperature.end(), 0.0) / static_cast<double>(n.temperature.size());
      for (double& t : n.temperature) t += 10 - mean;
      stated_celsius = 22;
      break;
    }
    case Stall::low_oxygen: n.oxygen_held = dice.between(0.3, 0.8); break;
    case Stall::disinfectant: break;
    case Stall::light: {
      // A quarter of the growth on the mean, hardly any on bright days; algae in plenty.
      double today = 0;
      for (std::size_t hour = 0; hour < n.wander_a.size(); ++hour) {
        if (hour % 24 == 0) today = std::log(dice.chance(0.6) ? dice.between(0.03, 0.2) : dice.between(0.3, 0.6));
        n.wander_a[hour] += today;
        n.wander_n[hour] += today;
      }
      n.algae = dice.lognormal(2.0, 0.5);
      break;
    }
    case Stall::no_seed:
      n.seed_a = 1e-9;
      n.seed_n = 1e-9;
      break;
    case Stall::nitrate_unseen: break;
    case Stall::starvation: break;
  }
}

}  // namespace helmwater::tests
