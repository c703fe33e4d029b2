// SPDX-License-Identifier: Apache-2.0
// Ammonium chloride for a rise of total ammonia, by the handbook's molar mass and stoichiometry.
#pragma once
#include "units/quantity.hpp"

namespace helmwater::infer {

// `rise_mg_n_l`: mg N/L, 0 or more.
units::Grams ammonium_chloride_for(double rise_mg_n_l, units::Litres water);

}  // namespace helmwater::infer
