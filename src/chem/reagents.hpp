// SPDX-License-Identifier: Apache-2.0
// Every dose and every biological step is a straight line in the totals of the water: so much alkalinity,
// carbon, ammonia, nitrite, phosphate and citrate per mole. The pH follows from the totals afterwards
// (carbonate.hpp). Which reagent has which line is the handbook's business.
#pragma once
#include "chem/carbonate.hpp"
#include "units/quantity.hpp"

namespace helmwater::chem {

// Change of the totals per mole of reagent (or per mole of N for a biological step).
struct ReagentLine {
  double alkalinity_eq = 0;
  double carbon_mol = 0;
  double ammonia_n_mol = 0;
  double nitrite_n_mol = 0;
  double phosphate_p_mol = 0;
  double citrate_mol = 0;
};

// The conserved totals of a water.
struct Totals {
  units::AlkalinityMeq alkalinity{0};
  units::MmolPerL total_carbon{0};
  Dissolved dissolved;
};

// The dose's own volume is neglected: below 0.5 % of the water.
Totals with_dose(const Totals& water, const ReagentLine& line, units::MmolPerL dose);

}  // namespace helmwater::chem
