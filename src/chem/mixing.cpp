// SPDX-License-Identifier: Apache-2.0
#include "chem/mixing.hpp"

#include <algorithm>
#include <cmath>

namespace helmwater::chem {

units::PerHour mixing_rate(const TwoTanks& tanks) {
  return units::PerHour{tanks.flow.value() * (1.0 / tanks.dosed.value() + 1.0 / tanks.other.value())};
}

double relative_in_dosed(const TwoTanks& tanks, units::Hours after) {
  return 1.0 + tanks.other / tanks.dosed * std::exp(-mixing_rate(tanks).value() * after.value());
}

double relative_in_other(const TwoTanks& tanks, units::Hours after) {
  return -std::expm1(-mixing_rate(tanks).value() * after.value());
}

units::Hours time_to_sample_dosed(const TwoTanks& tanks, double relative_error) {
  const double start = tanks.other / tanks.dosed;  // relative error right after the dose
  return units::Hours{std::max(0.0, std::log(start / relative_error)) / mixing_rate(tanks).value()};
}

units::Hours time_to_sample_other(const TwoTanks& tanks, double relative_error) {
  return units::Hours{std::max(0.0, -std::log(relative_error)) / mixing_rate(tanks).value()};
}

double turnovers(const TwoTanks& tanks, units::Hours after) {
  return (tanks.flow * after) / (tanks.dosed + tanks.other);
}

double processed_fraction(double turnover_count) { return -std::expm1(-turnover_count); }
double turnovers_to_process(double share) { return -std::log1p(-share); }

double share_to_change(double from, double to, double source) { return (from - to) / (from - source); }

double after_water_changes(double from, double source, double share, int times) {
  return source + (from - source) * std::pow(1.0 - share, times);
}

double flush_volumes(double from, double to, double source) {
  return std::log((from - source) / (to - source));
}

}  // namespace helmwater::chem
