// SPDX-License-Identifier: Apache-2.0
// The challenge before fish: a dose of ammonia as large as a day of their load, gone with its nitrite a day later.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "steer/fish_course.hpp"

namespace helmwater::steer {

struct Challenge {
  double ammonia = 0;              // to be given, mg/L as NH3
  double grams = 0;                // of ammonium chloride, for the stated volume
  bool capped = false;             // the planned load is larger than one dose may be
  bool now = false;                // ammonia and nitrite are low enough to begin
  double would_pass = 0;           // probability, if given now
  std::vector<std::string> cautions;
};
// `load`: the planned fish's ammonia of a day, mg/L as NH3.
Challenge plan_challenge(const records::LoopLog& log, const FishCourse& course, double load);

// What became of the last one in the log.
struct ChallengeResult {
  enum class Verdict { none, too_early, passed, not_passed, cannot_tell } verdict = Verdict::none;
  records::Instant dosed;
  double ammonia = 0;              // of the dose, mg/L as NH3
  double probability = 0;          // that ammonia and nitrite were both below 0.25 mg/L 24 h later
  bool read = false;               // both were tested 18 to 30 h after
  std::string text;
};
const char* to_text(ChallengeResult::Verdict verdict);
// `wanted`: mg/L as NH3; doses below four fifths of it prove nothing.
ChallengeResult judge_challenge(const records::LoopLog& log, const infer::Posterior& posterior, double wanted);

}  // namespace helmwater::steer
