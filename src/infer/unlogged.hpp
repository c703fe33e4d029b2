// SPDX-License-Identifier: Apache-2.0
// Ammonia that the vials show and the log does not explain. It is assumed, asked about (a doubt) and carried with an
// unknown size; it is never read as a string of misreadings, for advice to dose on top of it would poison fish.
#pragma once
#include <vector>

#include "records/entry.hpp"

namespace helmwater::infer {

// Something that brought ammonia between two readings.
struct UnloggedAddition {
  int line = 0;             // of the reading that shows it
  records::Instant when;    // assumed
  double tan_mg_n_l = 0;    // its likeliest size, mg N/L
};

struct Unlogged {
  // No source of ammonia is logged at all, yet there is some: a steady unknown supply is assumed from the start.
  bool steady = false;
  std::vector<UnloggedAddition> additions;  // by time, at most loop::kUnloggedMost
};

// Uses readings and deeds not later than as_of only. Additions shown by readings not later than `since` are left out.
Unlogged unlogged_in(const records::LoopLog& log, records::Instant start, records::Instant as_of,
                     records::Instant since = records::Instant::min());

}  // namespace helmwater::infer
