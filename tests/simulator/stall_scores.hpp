// SPDX-License-Identifier: Apache-2.0
// How `why` did on a loop that does not move for a known reason.
#pragma once
#include <string>
#include <utility>
#include <vector>

#include "second_loop.hpp"

namespace helmwater::tests {

struct StalledLoop {
  SecondLoop loop;
  int passed_over = 0;  // loops before it that moved in spite of the cause
};
// The next loop from `index` on (in steps of a thousand) in which the cause has made a difference by as_of.
StalledLoop next_that_stalls(std::uint64_t seed, int index, Stall stall);

struct StallScore {
  std::string first, test;
  bool told = false;
  std::vector<std::pair<std::string, double>> ranked;
  double effective = 0;
};
StallScore score_why(const SecondLoop& made);

}  // namespace helmwater::tests
