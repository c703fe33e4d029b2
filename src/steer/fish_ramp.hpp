// SPDX-License-Identifier: Apache-2.0
// Searches: how fast fish and their feed may come up to the planned load, and how much feed and how little new water a loop
// with fish gets by with.
#pragma once
#include <optional>
#include <vector>

#include "steer/fish_course.hpp"
#include "steer/fish_limits.hpp"

namespace helmwater::steer {

// "Go", and each week of a ramp, only at this probability (ESTIMATE: what one start in twenty lost is worth, our choice).
inline constexpr double kAim = 0.95;
inline constexpr double kJudgedDays = 14;  // after fish go in
inline constexpr int kSearchMembers = 800;

// The search looks at few members, the answer at all.
struct Crowds {
  const FishCourse& few;
  const FishCourse& all;
};

struct Ramp {
  struct Week {
    double share = 0;  // of the planned load
    Kept kept;
  };
  std::vector<Week> weeks;
  Kept first_days;  // of the first kJudgedDays
  bool holds() const;  // every week at the aim, and fish in from the first
};

// One ramp of given shares, a week each.
Ramp follow_ramp(const FishCourse& course, const Waters& from, const Care& full, const FishLimits& limits, const std::vector<double>& shares);

// Greedy and never falling: each week takes the highest level that would hold to the end of the ramp. `full` is the care at
// the planned load. `careful`: the first weeks stay below a quarter, a half and three quarters.
Ramp find_ramp(const Crowds& crowds, const Waters& few_from, const Waters& all_from, const Care& full, const FishLimits& limits,
               int weeks, bool careful);

struct FeedAndWater {
  Care care;
  double share = 0;      // of the planned feed
  Kept kept;             // over kJudgedDays
  Kept kept_later;       // over the same without the first three days
  bool meets_aim = false, meets_aim_later = false;
  int looked_at = 0;     // combinations
};
// The most feed with the least new water that meets the aim; where none does, no feed and the least that meets it from the fourth day
// on; where none does that either, no feed and the change that passes the limits least.
// The most feed that meets the aim without new water; nullopt: not even none.
std::optional<FeedAndWater> find_feed_without_change(const Crowds& crowds, const Care& full, const FishLimits& limits);
FeedAndWater find_feed_and_water(const Crowds& crowds, const Care& full, const FishLimits& limits);

}  // namespace helmwater::steer
