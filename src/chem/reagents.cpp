// SPDX-License-Identifier: Apache-2.0
#include "chem/reagents.hpp"

#include "units/convert.hpp"

namespace helmwater::chem {

Totals with_dose(const Totals& water, const ReagentLine& line, units::MmolPerL dose) {
  const double mmol = dose.value();
  Totals after = water;
  after.alkalinity = after.alkalinity + units::AlkalinityMeq{line.alkalinity_eq * mmol};
  after.total_carbon = after.total_carbon + units::MmolPerL{line.carbon_mol * mmol};
  after.dissolved.ammonia =
      after.dissolved.ammonia + units::AmmoniaN{line.ammonia_n_mol * mmol * units::kMolarMassN};
  after.dissolved.nitrite =
      after.dissolved.nitrite + units::NitriteN{line.nitrite_n_mol * mmol * units::kMolarMassN};
  after.dissolved.phosphate =
      after.dissolved.phosphate + units::PhosphateP{line.phosphate_p_mol * mmol * units::kMolarMassP};
  after.dissolved.citrate = after.dissolved.citrate + units::MmolPerL{line.citrate_mol * mmol};
  return after;
}

}  // namespace helmwater::chem
