// SPDX-License-Identifier: Apache-2.0
// Is this log's water unlike anything the prior holds? Its readings are compared with those that loops drawn from the
// prior would have given at the same schedule (docs/model/conflict.md).
#pragma once
#include <cstdint>
#include <string>
#include <vector>

#include "infer/observation.hpp"
#include "infer/priors.hpp"
#include "loop/grid.hpp"
#include "loop/timeline.hpp"
#include "records/entry.hpp"

namespace helmwater::infer {

// Said, and the readings counted half, from this probability on.
inline constexpr double kConflictSaid = 0.01;

struct Conflict {
  enum class Kind { none, slower_ammonia_step, slower_nitrite_step, faster, ph_unlike, nitrogen_unlike, vial_unlike, unexplained };
  double p = 1;           // share of the prior's loops whose readings are at least as unlike the others'; at least 1 in 1000
  Kind kind = Kind::none; // what is most unlike; none if nothing stood out at the first look
  Channel channel = Channel::ammonia;  // of vial_unlike
  int readings = 0;       // compared
  std::string text;       // one plain sentence if said
  bool said() const { return p <= kConflictSaid; }
};

struct ConflictOptions {
  std::uint64_t seed = 1;
  int members = 1024;    // of the prior, against which readings are held
  int screen = 199;      // invented logs
  int refined = 999;     // the same for a closer look, if the first finds p at or below `look_closer`
  double look_closer = 0.05;
};

// `used`: the window's readings, of `evidence`; `grid` observes the water at each of them, in this order.
Conflict conflict_of(const records::LoopLog& log, const Evidence& evidence, const std::vector<Observation>& used,
                     const Priors& priors, const loop::Timeline& timeline, const loop::Grid& grid, const ConflictOptions& options);

// The power of the readings' likelihood: a half where the conflict is said, else 1.
double conflict_power(const Conflict& conflict);

const char* to_text(Conflict::Kind kind);  // "slower_ammonia_step"

}  // namespace helmwater::infer
