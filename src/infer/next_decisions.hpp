// SPDX-License-Identifier: Apache-2.0
// What an owner has to decide next and what each way of deciding costs in each possible water. Losses are in days: what one
// day longer to start up is worth to him (docs/model/next_test.md).
#pragma once
#include <Eigen/Core>
#include <optional>
#include <string>
#include <vector>

#include "records/entry.hpp"

namespace helmwater::infer {

// All ESTIMATE unless said otherwise; reasons stand in docs/model/next_test.md.
namespace losses {
// Start-up without fish, ammonia.
inline constexpr double kLookAgainDays = 2;      // what is not done now is done at the next look, d
inline constexpr double kStarvedDay = 1;         // neither bacteria has anything to eat
inline constexpr double kHalfStarvedDay = 0.25;  // ammonia gone, nitrite still there
// Fish too early: 9 to 1 makes the best day the one by which 9 loops in 10 are ready.
inline constexpr double kLateDay = 1;
inline constexpr double kEarlyDay = 9;
inline constexpr double kEarlyDaysMost = 14;     // then all fish are lost; earlier loses no more
inline constexpr double kDateOffDay = 0.1;       // a date planned and told to others, per day it is off
// Alkalinity.
inline constexpr double kBufferDays = 4;         // until the next chance to give some, d
inline constexpr double kBufferWork = 0.15;
inline constexpr double kBufferRaise = 40;       // mg/L CaCO3
inline constexpr double kSlowedDay = 0.5;        // below alkalinity_nitrification
inline constexpr double kStoppedDay = 1;         // below alkalinity_low
// Fish.
inline constexpr double kRiskDays = 3;
inline constexpr double kHalfFeed = 0.3;         // of three days
inline constexpr double kNoFeedAndChange = 1.1;  // no feed for three days, and a water change
inline constexpr double kWaterChange = 0.3;      // share changed
inline constexpr double kPassed = 10;            // a limit passed, times how far: at the limit 10, at twice the limit 20
inline constexpr double kPassedMost = 5;         // times the limit; beyond it loses no more
// The owner's work: an hour of it for a day of start-up.
inline constexpr double kMinutesPerDay = 60;
}  // namespace losses

// The members' courses with nothing dosed from now on; units of Forecast. Row: time, column: member.
struct QuietCourse {
  std::vector<double> days;  // after as_of, rising, from 0
  Eigen::MatrixXf ammonia, nitrite, nitrate, ph, alkalinity, free_ammonia;
  // Linear between two times.
  Eigen::VectorXd at(const Eigen::MatrixXf& quantity, double day) const;
};

struct Question {
  bool fish = false;
  double free_ammonia_limit = 0, nitrite_limit = 0;  // with fish
  records::Plan plan;
  records::Instant as_of;
  std::string zone;
  double horizon_days = 60;           // of the dates below
  Eigen::VectorXd ready_days;         // without fish: after as_of, negative: past, +infinity: not by the horizon
};

struct Decision {
  std::string code;                   // fish_safety, ammonia_dose, fish_day, fish_date, buffer
  std::string says;                   // "whether to give ammonia"
  Eigen::MatrixXd loss;               // members x actions
  std::vector<std::string> actions;   // "give ammonia"
  int closed = 0;                     // leading actions that lie before `day`
};

// As they stand when an answer comes `day` days after as_of.
std::vector<Decision> decisions_at(const Question& question, const QuietCourse& course, double day);

}  // namespace helmwater::infer
