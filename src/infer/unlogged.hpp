// SPDX-License-Identifier: Apache-2.0
// Deeds that the vials hint at and the log does not hold. Each is a hypothesis: it happened or it did not, the readings
// decide how likely it is, and forecasts mix both (docs/model/unlogged.md). None is read as a string of misreadings, for
// advice to dose on top of forgotten ammonia would poison fish.
#pragma once
#include <optional>
#include <vector>

#include "infer/posterior.hpp"
#include "records/entry.hpp"

namespace helmwater::infer {

struct Suspicion {
  enum class Kind { ammonia, water_change };
  Kind kind = Kind::ammonia;
  int line = 0;          // of the reading that hints at it
  records::Instant when; // assumed
  double size = 0;       // its likeliest: mg N/L of total ammonia, or share of the water
  bool certain = false;  // there is no other explanation
};

// A steady supply of ammonia from the start.
enum class Supply { none, suspected, certain };

struct Unlogged {
  Supply supply = Supply::none;
  std::vector<Suspicion> suspicions;  // by time, at most loop::kUnloggedMost
};

// Uses readings and deeds not later than as_of only. What readings not later than `since` hint at is left out.
Unlogged unlogged_in(const records::LoopLog& log, records::Instant start, records::Instant as_of,
                     records::Instant since = records::Instant::min());

// How likely each of them is by a posterior, and how large if it happened.
struct Suspected {
  Suspicion suspicion;
  double probability = 0;
  double size = 0;  // median, as Suspicion::size
};
std::vector<Suspected> suspected_by(const records::LoopLog& log, const Posterior& posterior);

// The same of a suspected supply, with its median in mg N/L/d; nothing where none is suspected.
struct SuspectedSupply {
  double probability = 0;
  double mg_n_l_d = 0;
};
std::optional<SuspectedSupply> supply_by(const records::LoopLog& log, const Posterior& posterior);

}  // namespace helmwater::infer
