// SPDX-License-Identifier: Apache-2.0
#include "loop/timeline.hpp"

#include <algorithm>

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
  return environment_at(units::Celsius{interpolate(temperature_c, day)},
                        units::OxygenO2{interpolate(oxygen_mg_l, day)}, units::IonicStrength{ionic_strength_mol_l});
}

Loads Timeline::loads_at(double day) const {
  Loads sum;
  for (const LoadPiece& piece : loads) {
    if (day < piece.from || day >= piece.to) continue;
    sum.feed_protein_mg_l_d += piece.loads.feed_protein_mg_l_d;
    sum.feed_n_org_mg_l_d += piece.loads.feed_n_org_mg_l_d;
    sum.unknown_feed += piece.loads.unknown_feed;
    sum.plant_area_m2_per_l += piece.loads.plant_area_m2_per_l;
  }
  sum.unknown_feed = std::min(sum.unknown_feed, 1.0);
  sum.plant_area_m2_per_l = std::max(sum.plant_area_m2_per_l, 0.0);
  return sum;
}

}  // namespace helmwater::loop
