// SPDX-License-Identifier: Apache-2.0
#include "loop/timeline.hpp"

#include <algorithm>
#include <cmath>

#include "loop/parameters.hpp"

namespace helmwater::loop {

double interpolate(const std::vector<TimedValue>& points, double day) {
  const auto after = std::lower_bound(points.begin(), points.end(), day,
                                      [](const TimedValue& p, double d) { return p.day < d; });
  if (after == points.begin()) return points.front().value;
  if (after == points.end()) return points.back().value;
  const auto before = after - 1;
  const double share = (day - before->day) / (after->day - before->day);
  return before->value + share * (after->value - before->value);
}

Environment Timeline::environment(double day) const {
  Environment env =
      environment_at(units::Celsius{interpolate(temperature_c, day)}, units::IonicStrength{ionic_strength_mol_l});
  if (!oxygen_held.empty()) env.oxygen_held_mg_l = interpolate(oxygen_held, day);
  return env;
}

Loads Timeline::loads_at(double day) const {
  Loads sum;
  sum.knot = knot_at(day);
  sum.organic = organic;
  sum.urea = urea;
  for (const Event& e : events) {
    if (e.day > day) break;
    if (const auto* volume = std::get_if<VolumeEvent>(&e.what)) sum.surface /= volume->ratio;
  }
  for (const LoadPiece& piece : loads) {
    if (day < piece.from || day >= piece.to) continue;
    sum.feed_protein_mg_l_d += piece.loads.feed_protein_mg_l_d;
    sum.feed_n_org_mg_l_d += piece.loads.feed_n_org_mg_l_d;
    sum.unknown_feed += piece.loads.unknown_feed;
    sum.fish_oxygen_mg_l_d += piece.loads.fish_oxygen_mg_l_d;
    sum.plant_area_m2_per_l += piece.loads.plant_area_m2_per_l;
    sum.evaporation_per_d += piece.loads.evaporation_per_d;
    sum.top_up_per_d += piece.loads.top_up_per_d;
    sum.transfer *= piece.loads.transfer;
    sum.media *= piece.loads.media;
  }
  sum.unknown_feed = std::min(sum.unknown_feed, 1.0);
  sum.plant_area_m2_per_l = std::max(sum.plant_area_m2_per_l, 0.0) + planted_at(day);
  return sum;
}

int Timeline::knot_at(double day) const {
  if (knot_days <= 0) return -1;
  return static_cast<int>(std::max(std::floor((day - knots_from) / knot_days), 0.0)) % kWanderMost;
}

double Timeline::planted_at(double day) const {
  if (plantings.empty()) return 0;
  double area = 0;
  const double t = interpolate(temperature_c, day);
  for (const Planting& p : plantings) {
    if (day < p.from || day >= p.to) continue;
    const double grown = std::clamp((day - p.planted) / kDaysToFullCanopy, 0.0, 1.0);
    const double canopy = p.grows ? kSeedlingCanopy + (1 - kSeedlingCanopy) * grown : 1.0;
    area += p.area_m2_per_l * canopy * p.light * crop_temperature_factor(t, p.fruiting);
  }
  return area;
}

double crop_temperature_factor(double temperature_c, bool fruiting) {
  const double lowest = fruiting ? 10 : 5, best = fruiting ? 25 : 22, highest = fruiting ? 36 : 34;
  const double side = temperature_c < best ? (temperature_c - lowest) / (best - lowest)
                                           : (highest - temperature_c) / (highest - best);
  return std::clamp(side, 0.0, 1.0);
}

double crop_light_factor(double dli_mol_m2_d) { return std::clamp(dli_mol_m2_d / 15, 0.0, 1.5); }

}  // namespace helmwater::loop
