// SPDX-License-Identifier: Apache-2.0
// Is the time grid fine enough for this loop? Step halving with a few of its members (docs/model/integrator.md).
#pragma once
#include <vector>

#include "infer/priors.hpp"
#include "loop/timeline.hpp"

namespace helmwater::infer {

// The largest error of total ammonia, nitrite or nitrate that is allowed at a reading, mg N/L.
inline constexpr double kErrorAllowed = 0.02;
// The finest grid asked for: every step divided by this.
inline constexpr double kMostRefined = 8;

struct Certificate {
  double refine = 1;         // GridSteps::refine to use: 1, 2, 4 … kMostRefined
  double error_mg_n_l = 0;   // estimated, largest over members, observe days and the three concentrations
  bool certified = true;     // error_mg_n_l <= kErrorAllowed
};

// Starts at `from_refine`. The error of a grid is 4/3 of its difference from the one twice as fine (order 2). Without
// observe days there is nothing to be wrong about. No looks of a plan may lie in the timeline up to end_day: members that
// differ in a threshold met a moment earlier differ for other reasons than the step.
Certificate certify(const loop::Timeline& timeline, const std::vector<double>& observe_days, double start_day,
                    double end_day, const std::vector<Member>& members, double from_refine = 1);

}  // namespace helmwater::infer
