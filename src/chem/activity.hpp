// SPDX-License-Identifier: Apache-2.0
// Activity coefficients of ions in fresh and slightly brackish water (Davies equation).
//
//   log10 gamma_z = -A z^2 ( sqrt(I)/(1+sqrt(I)) - 0.3 I ),   neutral species: gamma = 1
//   A = 1.82e6 (eps T)^-1.5
// Form and A from memory; checked against PHREEQC runs with the same constants (tests/reference).
// Range of use: ionic strength 0..0.1 mol/L.
#pragma once
#include "units/quantity.hpp"

namespace helmwater::chem {

inline constexpr double kHighestIonicStrength = 0.1;  // mol/L, limit of the Davies equation

// Relative permittivity of water, 0..100 degC (cubic of Malmberg and Maryott, from memory).
double relative_permittivity(units::Celsius temperature);
// The Debye-Hueckel slope A for log10, sqrt(L/mol).
double davies_a(units::Celsius temperature);
double activity_coefficient(int charge, units::Celsius temperature, units::IonicStrength ionic_strength);

// Estimates of ionic strength, for when nobody knows it.
// From conductivity at 25 degC: 1.6e-5 mol/L per uS/cm, a common water-quality factor, from memory.
units::IonicStrength ionic_strength_estimate(units::Conductivity conductivity);
// From salinity of diluted sea salt: 19.924 S / (1000 - 1.005 S), as in the DOE 1994 handbook, from memory.
units::IonicStrength ionic_strength_estimate(units::Salinity salinity);

}  // namespace helmwater::chem
