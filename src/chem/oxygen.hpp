// SPDX-License-Identifier: Apache-2.0
// Oxygen in water in equilibrium with moist air: Benson & Krause 1984 as in Standard Methods and the USGS
// tables. 0..40 degC, salinity 0..40, 0.5..1.1 atm.
#pragma once
#include "units/quantity.hpp"

namespace helmwater::chem {

units::OxygenO2 oxygen_saturation(units::Celsius temperature, units::Salinity salinity, units::Atm pressure);
// Per cent of what the water holds at its own pressure (not at sea level).
double oxygen_percent(units::OxygenO2 measured, units::Celsius temperature, units::Salinity salinity,
                      units::Atm pressure);
// Water vapour over the water.
units::Atm vapour_pressure(units::Celsius temperature, units::Salinity salinity);
// Air pressure at an altitude, isothermal atmosphere of 288.15 K; ordinary weather moves it by 2 to 3 %.
units::Atm air_pressure(units::Metres altitude);

}  // namespace helmwater::chem
