// SPDX-License-Identifier: Apache-2.0
// Free (un-ionised) ammonia: the part of total ammonia that harms fish and slows nitrifiers.
//
// Fresh water: fraction = 1/(1 + 10^(pKa' - pH)), pKa' = pKa + A (sqrt(I)/(1+sqrt(I)) - 0.3 I) with pKa of
// Emerson et al. 1975 and the Davies correction; pH is an activity, as meters and colour tests give it. At I
// = 0 this is the published table. 0..50 degC, I 0..0.1 mol/L.
#pragma once
#include "units/quantity.hpp"

namespace helmwater::chem {

double free_ammonia_fraction(units::Ph ph, units::Celsius temperature, units::IonicStrength ionic_strength);
units::FreeAmmoniaN free_ammonia(units::AmmoniaN total, units::Ph ph, units::Celsius temperature,
                                 units::IonicStrength ionic_strength);
// The total ammonia at which so much is free.
units::AmmoniaN total_ammonia_for_free(units::FreeAmmoniaN free, units::Ph ph, units::Celsius temperature,
                                       units::IonicStrength ionic_strength);

// Salt water: Clegg & Whitfield 1995, salinity 0..40, -2..40 degC. These count hydrogen ions by
// concentration: on the free scale only H+, on the total scale H+ and HSO4-. A meter calibrated in
// fresh-water buffers shows neither exactly.
enum class HydrogenScale { free, total };
double free_ammonia_fraction_salt(units::Ph ph, units::Celsius temperature, units::Salinity salinity,
                                  HydrogenScale scale);

}  // namespace helmwater::chem
