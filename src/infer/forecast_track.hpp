// SPDX-License-Identifier: Apache-2.0
// How far one member's milestones have come by a moment: what has happened cannot be told from the water alone.
#pragma once

namespace helmwater::infer {

inline constexpr int kTrackParts = 11;

// Days from the loop's start, kNotYet (member_block.hpp) for what has not happened; concentrations as the outlook states
// them; flags 0 or 1; the stage as a number.
template <class T>
struct TrackState {
  T ammonia_above, ammonia_clear, nitrite_above, nitrite_clear, nitrite_peak, nitrite_peak_day, alkalinity_out, ready,
      highest_ammonia, stage, stage_since;
};
using TrackSoFar = TrackState<float>;
static_assert(sizeof(TrackSoFar) == kTrackParts * sizeof(float));

}  // namespace helmwater::infer
