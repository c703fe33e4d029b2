// SPDX-License-Identifier: Apache-2.0
// How earlier outlooks of a loop would have done: from each earlier day, what the kits would show afterwards, against what
// they showed.
#pragma once
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "infer/history.hpp"
#include "infer/outlook.hpp"
#include "records/entry.hpp"

namespace helmwater::infer {

struct HindcastCase {
  records::Instant as_of;
  records::Instant when;       // of the reading
  int line = 0;
  std::string what;            // as in the log
  std::string value;           // the log's text, unchanged
  double low = 0, high = 0;    // the reading's interval in its own basis; ends may be infinite
  Quantiles predicted;         // of what the kit would show, in the reading's basis
  double probability = 0;      // predicted, of that interval
  double lead_days = 0;
  double rank = 0;             // randomised inside the interval, uniform in (0, 1) if the predictions are right
};

struct HindcastScores {
  int n = 0;
  std::optional<double> coverage_50, coverage_90, mean_log_score;  // nullopt: no case
};

struct Hindcast {
  std::string loop;
  std::string zone;
  std::vector<HindcastCase> cases;
  HindcastScores scores;
  std::map<std::string, HindcastScores> by_test;
};

struct HindcastOptions {
  std::optional<records::Instant> as_of;  // one moment; absent: every `every` days from the start
  double every_days = 3;
  double horizon_days = 7;
  int members = 4000;
  std::uint64_t seed = 1;
  HistoryAt history;                   // empty: nothing is taken from earlier start-ups
  Checkpoints* checkpoints = nullptr;  // of closed windows; null: the moments share some of their own
};

// `progress(done, of)` is called after each computed moment.
Hindcast hindcast_of(const records::LoopLog& log, const HindcastOptions& options,
                     const std::function<void(int, int)>& progress = {});

}  // namespace helmwater::infer
