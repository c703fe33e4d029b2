// SPDX-License-Identifier: Apache-2.0
#include "infer/ammonia_dose.hpp"

#include "handbook/handbook.hpp"
#include "loop/charge_balance.hpp"

namespace helmwater::infer {

units::Grams ammonium_chloride_for(double rise_mg_n_l, units::Litres water) {
  const handbook::Reagent& salt = *handbook::Handbook::built_in().reagent("ammonium chloride");
  const double mmol_per_l = rise_mg_n_l / loop::kGramsPerMolN / salt.ammonia_n_mol_per_mol;
  return units::Grams{mmol_per_l * salt.molar_mass.value * water.value() / 1000};
}

}  // namespace helmwater::infer
