// SPDX-License-Identifier: Apache-2.0
#include "chem/oxygen.hpp"

#include <cmath>

#include "units/convert.hpp"

namespace helmwater::chem {

units::Atm vapour_pressure(units::Celsius temperature, units::Salinity salinity) {
  // Green & Carritt 1967, as used with Benson & Krause in the R package wq (oxySol).
  constexpr double kBoilingKelvin = 373.16;
  const double t = units::kelvin(temperature);
  const double x = kBoilingKelvin / t;
  const double exponent = 18.1973 * (1.0 - x) +
                          3.1813e-7 * (1.0 - std::exp(26.1205 * (1.0 - t / kBoilingKelvin))) -
                          0.018726 * (1.0 - std::exp(8.03945 * (1.0 - x))) + 5.02802 * std::log(x);
  return units::Atm{(1.0 - 0.000537 * salinity.value()) * std::exp(exponent)};
}

units::OxygenO2 oxygen_saturation(units::Celsius temperature, units::Salinity salinity, units::Atm pressure) {
  const double t = units::kelvin(temperature);
  const double celsius = temperature.value();
  const double p = pressure.value();
  const double at_one_atm =
      std::exp(-139.34411 + (157570.1 + (-66423080.0 + (1.2438e10 - 8.62194900e11 / t) / t) / t) / t -
               salinity.value() * (0.017674 + (-10.754 + 2140.7 / t) / t));
  const double u = vapour_pressure(temperature, salinity).value();
  // Second virial correction of the gas.
  const double theta = 0.000975 + celsius * (-1.426e-5 + celsius * 6.436e-8);
  return units::OxygenO2{at_one_atm * (p - u) * (1.0 - theta * p) / ((1.0 - u) * (1.0 - theta))};
}

double oxygen_percent(units::OxygenO2 measured, units::Celsius temperature, units::Salinity salinity,
                      units::Atm pressure) {
  return 100.0 * (measured / oxygen_saturation(temperature, salinity, pressure));
}

units::Atm air_pressure(units::Metres altitude) {
  constexpr double kGravity = 9.80665;            // m/s2
  constexpr double kMolarMassDryAir = 0.0289644;  // kg/mol
  constexpr double kGasConstant = 8.31447;        // J/mol/K, as in the source of the formula
  constexpr double kMeanKelvin = 288.15;
  return units::Atm{std::exp(-kGravity * kMolarMassDryAir * altitude.value() / (kGasConstant * kMeanKelvin))};
}

}  // namespace helmwater::chem
