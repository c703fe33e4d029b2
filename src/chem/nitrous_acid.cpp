// SPDX-License-Identifier: Apache-2.0
#include "chem/nitrous_acid.hpp"

#include <cmath>

#include "chem/activity.hpp"
#include "chem/constants.hpp"

namespace helmwater::chem {

units::NitrousAcidN free_nitrous_acid(units::NitriteN nitrite, units::Ph ph, units::Celsius temperature,
                                      units::IonicStrength ionic_strength) {
  const double a = std::pow(10.0, -ph.value());
  const double ka =
      std::pow(10.0, log_k_nitrous(temperature)) / activity_coefficient(1, temperature, ionic_strength);
  return units::NitrousAcidN{nitrite.value() * a / (a + ka)};
}

}  // namespace helmwater::chem
