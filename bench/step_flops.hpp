// SPDX-License-Identifier: Apache-2.0
// The arithmetic of the integrator over a whole grid, counted (counted.hpp), per member.
#pragma once
#include "counted.hpp"
#include "grids.hpp"

namespace helmwater::bench {

// Over all steps, deeds and samples of the grid, for the problem's first `lanes` members side by side: the
// pack's slowest member decides how often the pH is evaluated.
Tape::Count grid_flops(const StartupProblem& problem, const NamedGrid& grid, int lanes);

}  // namespace helmwater::bench
