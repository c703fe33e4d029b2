// SPDX-License-Identifier: Apache-2.0
// What the inference itself finds odd: readings that do not fit, things nobody logged, an answer that rests on too few
// draws.
#pragma once
#include <vector>

#include "infer/posterior.hpp"

namespace helmwater::infer {

// Lines of the window's readings that are more likely misread than not.
std::vector<int> misread_lines(const records::LoopLog& log, const Posterior& posterior);

std::vector<records::Doubt> doubts_of(const records::LoopLog& log, const Posterior& posterior);

}  // namespace helmwater::infer
