// SPDX-License-Identifier: Apache-2.0
// The time grids of the table: the product's own, every step of it divided, or halved exactly for
// extrapolation.
#pragma once
#include <string>
#include <vector>

#include "loop/grid.hpp"
#include "startup_problem.hpp"

namespace helmwater::bench {

struct NamedGrid {
  std::string name;  // "default", "default / 4", …
  loop::Grid grid;
  loop::Grid halved;  // filled for Richardson extrapolation only
  double steps_per_day() const {
    return static_cast<double>(grid.steps.size() + halved.steps.size()) / kDays;
  }
};

// The product's steps divided by `refine`; below 1 they are longer.
NamedGrid divided_grid(const StartupProblem& problem, double refine);
// That and every step of it cut in two: (4 fine - coarse) / 3 cancels the method's leading error, which is of
// order 2.
NamedGrid extrapolated_grid(const StartupProblem& problem, double refine);

}  // namespace helmwater::bench
