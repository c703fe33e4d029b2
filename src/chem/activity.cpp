// SPDX-License-Identifier: Apache-2.0
#include "chem/activity.hpp"

#include <cmath>

#include "units/convert.hpp"

namespace helmwater::chem {

double relative_permittivity(units::Celsius temperature) {
  const double t = temperature.value();
  return 87.740 + t * (-0.40008 + t * (9.398e-4 - t * 1.410e-6));
}

double davies_a(units::Celsius temperature) {
  const double x = relative_permittivity(temperature) * units::kelvin(temperature);
  return 1.82e6 / (x * std::sqrt(x));
}

double activity_coefficient(int charge, units::Celsius temperature, units::IonicStrength ionic_strength) {
  if (charge == 0) return 1.0;
  const double i = ionic_strength.value();
  const double root = std::sqrt(i);
  return std::pow(10.0, -davies_a(temperature) * charge * charge * (root / (1.0 + root) - 0.3 * i));
}

units::IonicStrength ionic_strength_estimate(units::Conductivity conductivity) {
  return units::IonicStrength{1.6e-5 * conductivity.value()};
}

units::IonicStrength ionic_strength_estimate(units::Salinity salinity) {
  const double s = salinity.value();
  return units::IonicStrength{19.924 * s / (1000.0 - 1.005 * s)};
}

}  // namespace helmwater::chem
