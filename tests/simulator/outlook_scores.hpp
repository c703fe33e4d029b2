// SPDX-License-Identifier: Apache-2.0
// How an outlook did on a loop whose truth is known.
#pragma once
#include <array>
#include <optional>
#include <string>
#include <vector>

#include "second_loop.hpp"

namespace helmwater::tests {

inline constexpr int kScored = 4;  // ammonia, nitrite, nitrate, pH
inline constexpr std::array<const char*, kScored> kScoredNames{"ammonia", "nitrite", "nitrate", "pH"};
inline constexpr double kScoredDays = 14;  // after as_of
// Added to both sides of a loss ratio, mg N/L and pH, so that a loop in which nothing happens does not decide the mean.
inline constexpr double kLossFloor = 0.01;

// What no vial can tell apart, mg N/L and pH (estimate): near zero a range may miss by less than anybody could see.
inline constexpr double kVial = 0.05;

struct QuantityScore {
  std::array<int, 2> n{}, in50{}, in90{};  // first and second week
  int below_90 = 0;                        // truth under the 90 % range
  int near_90 = 0;                         // in the 90 % range or within kVial of it
  double loss = 0;                         // mean pinball loss, mg N/L or pH
  double width_90 = 0;                     // mean
  std::optional<double> persistence;       // loss of the last reading carried on; nullopt: there is none
};

struct DateScore {  // of nitrite's first clear, loops in which it had not come by as_of
  bool in50 = false, in90 = false;
  std::optional<double> error, rule_error;  // days; nullopt: it never came. An outlook without a median is taken at its end
};

struct OutlookScores {
  std::array<QuantityScore, kScored> of;
  std::optional<DateScore> clear_date;
  double effective = 0, seconds = 0;
  std::vector<std::string> doubts;  // codes, of the inference and of the log
};

// From what the owner had written by as_of, and all deeds. `use_readings` false: from the deeds alone.
OutlookScores score_outlook(const SecondLoop& made, bool use_readings, double end_day);

}  // namespace helmwater::tests
