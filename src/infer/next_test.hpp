// SPDX-License-Identifier: Apache-2.0
// What to test next and when: the expected gain of each test at each time for what the owner has to decide, against the
// minutes it costs (docs/model/next_test.md). Lies here because advice does, which speaks it.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "infer/forecast.hpp"
#include "infer/posterior.hpp"
#include "infer/timeline_from_log.hpp"
#include "records/entry.hpp"

namespace helmwater::infer {

// Gain and cost in days of start-up.
struct TestGain {
  std::vector<records::Test> tests;
  bool after_challenge = false;  // a challenge dose now, then the tests
  double in_hours = 0;
  records::Instant when;
  double gain = 0;
  double cost = 0;
  std::string decides;           // the decision it helps most, as NextTest::decision; empty: none
  std::string would_change;      // an answer that would change it, how, and how often something changes
};

struct CanWait {
  records::Test test = records::Test::nitrate;
  std::optional<records::Instant> until;  // nullopt: not worth its minutes within a week
};

struct NextTest {
  std::string text;                    // one line for people
  std::string decision;                // what it would decide: "whether to give ammonia"; empty: nothing computed
  std::vector<TestGain> tests;         // empty before the first reading
  std::vector<CanWait> can_wait;

  // What the line advises.
  std::vector<records::Test> advised;
  bool challenge = false;
  double advised_in_hours = 0;
  bool for_safety = false;             // brought forward by the rule for new fish, whatever the gain
  std::string because;
};

struct FishAtStake {
  double free_ammonia_limit = 0, nitrite_limit = 0;  // mg N/L, mg/L as ion
  bool in_danger = false;                            // a limit is likely enough passed within a day
};

// With fish in, ammonia and nitrite are tested at least this often in the first weeks (common practice, no source).
inline constexpr double kFishTestDays = 3, kFishWatchDays = 42;

// `f`: the outlook's own forecast of the same posterior. `fish`: nullopt without fish in.
NextTest next_test(const records::LoopLog& log, const Posterior& posterior, const Forecast& f, bool with_plan,
                   const std::optional<FishAtStake>& fish);

}  // namespace helmwater::infer
