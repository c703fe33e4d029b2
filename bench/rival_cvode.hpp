// SPDX-License-Identifier: Apache-2.0
// SUNDIALS CVODE, backward differentiation, one member at a time: dense direct solver with its own
// difference-quotient Jacobian, restarted at every sudden thing and never stepping over the next, daily
// samples by its interpolation.
#pragma once
#include "right_hand_side.hpp"

namespace helmwater::bench {

// Whether this program was built with SUNDIALS (HELMWATER_BENCH_SUNDIALS).
bool has_cvode();
// Relative tolerance; absolute ones are that times a usual size of each state.
std::vector<Pools> by_cvode(const StartupProblem& problem, std::size_t member, double tolerance, Work& work);

}  // namespace helmwater::bench
