// SPDX-License-Identifier: Apache-2.0
// Free nitrous acid HNO2, which slows nitrite oxidisers. Ka of Anthonisen et al. 1976 with the Davies
// correction; HNO2 = nitrite x a_H/(a_H + Ka').
#pragma once
#include "units/quantity.hpp"

namespace helmwater::chem {

units::NitrousAcidN free_nitrous_acid(units::NitriteN nitrite, units::Ph ph, units::Celsius temperature,
                                      units::IonicStrength ionic_strength);

}  // namespace helmwater::chem
