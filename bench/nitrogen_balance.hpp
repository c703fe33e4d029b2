// SPDX-License-Identifier: Apache-2.0
// Whether the integrator loses nitrogen: what is in the water at the end against what was in it and came in.
#pragma once
#include "startup_problem.hpp"

namespace helmwater::bench {

struct NitrogenBalance {
  double single = 0, full = 0;  // largest relative error over members, packs of floats and doubles
};
// On the product's grid, without the unlogged sink and without nitrate in what refills evaporated water: then
// doses are all that comes, and nothing goes.
NitrogenBalance nitrogen_balance(const StartupProblem& problem);

}  // namespace helmwater::bench
