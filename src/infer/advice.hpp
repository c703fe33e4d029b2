// SPDX-License-Identifier: Apache-2.0
// The first advice an outlook can give: wait, test, dose, buffer, stop. Amounts are for the median water; limits with
// their sources are the handbook's.
#pragma once
#include <vector>

#include "infer/outlook.hpp"

namespace helmwater::infer {

// The chance of passing a limit within a day from which on fish count as in danger (ESTIMATE).
inline constexpr double kDangerShare = 0.1;

// Most urgent first; never empty.
std::vector<Advice> advice_for(const records::LoopLog& log, const Outlook& outlook);

}  // namespace helmwater::infer
