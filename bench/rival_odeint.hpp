// SPDX-License-Identifier: Apache-2.0
// Boost.odeint's Dormand-Prince 5(4) under error control, one member at a time; at 1e-10 the table's
// reference.
#pragma once
#include "right_hand_side.hpp"

namespace helmwater::bench {

// Relative tolerance; the absolute one is a tenth of it (mg/L, meq/L, …).
std::vector<Pools> by_odeint(const StartupProblem& problem, std::size_t member, double tolerance, Work& work);

}  // namespace helmwater::bench
