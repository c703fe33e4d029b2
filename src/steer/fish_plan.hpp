// SPDX-License-Identifier: Apache-2.0
// May fish go in, how many, how soon, on how much feed; and with fish in: how much feed and how much new water
// (docs/model/fish_plan.md).
#pragma once
#include <optional>
#include <string>
#include <tl/expected.hpp>
#include <vector>

#include "infer/quantiles.hpp"
#include "steer/challenge.hpp"
#include "steer/fish_limits.hpp"
#include "steer/fish_ramp.hpp"

namespace helmwater::steer {

// What is planned. Absent: from the log if fish are in, else from the handbook, else it has to be asked for.
struct FishWish {
  std::optional<double> count, weight_g;
  std::string species;                  // empty: not said, the strictest limits
  std::optional<double> feed_g;         // a day for all of them
  std::optional<double> feed_percent;   // of their weight a day
  double protein_percent = 32;
  int weeks = 6;
};
struct FishWishError {
  std::string field, message;
};

struct FishPlan {
  std::string loop, zone;
  records::Instant as_of;
  int members = 0;
  double effective_members = 0;
  bool with_fish = false;

  // What was asked, completed.
  std::optional<double> count, weight_g;
  std::string species;
  const handbook::Fish* fish = nullptr;  // null: not in the handbook, or not said
  double feed_g = 0, protein_percent = 32;
  std::string feed_from;                 // one plain sentence: whose figure it is
  infer::Quantiles load;                 // of the planned feed, mg N/L/d
  FishLimits limits;
  double temperature_c = 0;

  // Without fish: the whole load at once, and by the ramp, after waiting.
  struct After {
    double days = 0;
    records::Instant when;
    Kept full;                           // now: with the plan's buffer or none; later: alkalinity held
    Ramp ramp;                           // alkalinity held; its first days now as `full`
    bool full_go() const { return full.all >= kAim; }
  };
  enum class Verdict { go, not_yet, cannot_tell } verdict = Verdict::not_yet;
  bool part_now = false;                 // not all, but the ramp can begin
  std::optional<double> held;            // full load now, if alkalinity were held: where the plan does not buffer
  std::vector<After> after;              // 0, 3, 7, 14, 21 days
  std::optional<std::size_t> first_full, first_ramp;  // into `after`
  Challenge challenge;
  ChallengeResult last_challenge;

  // With fish: feed and new water now, and by the week.
  std::optional<FeedAndWater> feed_and_water;
  std::optional<FeedAndWater> without_change;  // the most feed that needs no new water
  Ramp weeks_with_fish;
  Kept now;                              // as it is at as_of
  struct Salt {
    double chloride_mg_l = 0, grams = 0;
    std::vector<std::string> cautions;
  };
  std::optional<Salt> salt;              // against nitrite, a stopgap

  // The weeks to follow, of whichever ramp applies.
  struct Week {
    records::Instant from;
    double share = 0, fish = 0, feed_g = 0, probability = 0;
    int tests = 0;                       // in that week
  };
  std::vector<Week> weeks;

  std::string headline;
  std::vector<std::string> because, steps, hold_rules, emergency, cautions;
};
const char* to_text(FishPlan::Verdict verdict);

// `posterior` is the loop's own. Interruptible (infer::CancelScope).
tl::expected<FishPlan, FishWishError> fish_plan(const records::LoopLog& log, const infer::Posterior& posterior, const FishWish& wish);

}  // namespace helmwater::steer
