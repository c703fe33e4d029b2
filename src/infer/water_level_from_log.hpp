// SPDX-License-Identifier: Apache-2.0
// How full the loop was: what had evaporated before each logged top-up, and what evaporates unlogged
// (docs/model/evaporation.md).
#pragma once
#include <vector>

#include "loop/timeline.hpp"
#include "records/entry.hpp"

namespace helmwater::infer {

struct WaterLevel {
  std::vector<loop::LoadPiece> pieces;  // evaporation and unlogged top-up
  std::vector<double> as_exchange;      // days of top-ups before which nothing can have evaporated
  double at(double day) const;          // of the full volume, 0..1
};

// Top-ups later than as_of change nothing before it.
WaterLevel water_level_from_log(const records::LoopLog& log, records::Instant start, records::Instant as_of);

}  // namespace helmwater::infer
