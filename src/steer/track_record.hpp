// SPDX-License-Identifier: Apache-2.0
// How earlier outlooks have done, in a keeper's words: how often later readings fell into the ranges given for them
// (docs/reference/track.md). Nothing is taken from other loops, and every outlook knew only what was in the log by then.
#pragma once
#include <filesystem>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "infer/hindcast.hpp"
#include "records/entry.hpp"

namespace helmwater::steer {

inline constexpr double kNearDays = 3, kFarDays = 7;  // leads up to 3 d (each reading once) and from there to 7 d
inline constexpr std::size_t kTrackGraph = 60;        // latest cases shown

struct TrackCase {
  std::string loop;
  infer::HindcastCase hindcast;
  // Of the same interval, if the water were taken to stay as the last reading of this test had it; absent: it was the first.
  std::optional<double> persistence;
};

// What share a binomial count allows for, 95 in 100 (Clopper & Pearson 1934).
struct Range {
  double low = 0, high = 1;
};
Range binomial_range(int hits, int n);

struct TrackTally {
  int n = 0, in_50 = 0, in_90 = 0;
  Range share_50, share_90;
  int compared = 0;                                       // cases with a last reading to stay at
  std::optional<double> log_score, persistence_log_score; // means over those, ln
};

struct TrackRecord {
  std::vector<std::string> loops;          // that had a case, by name
  std::optional<records::Instant> since;   // of the first case's outlook
  std::vector<TrackCase> cases;            // by the reading's time
  TrackTally near, far;                    // by lead
  std::map<std::string, TrackTally> near_by_test, far_by_test;
  std::string text;                        // a few plain sentences
};

TrackRecord track_record_of(std::vector<TrackCase> cases);

struct TrackOptions {
  std::optional<std::filesystem::path> cache;  // where results are kept; absent: nowhere
  infer::Checkpoints* checkpoints = nullptr;
  int members = 2000;
};
// The cases of one loop: kept ones if nothing they rest on has changed.
std::vector<TrackCase> track_cases_of(const records::LoopLog& log, const TrackOptions& options,
                                      const std::function<void(int, int)>& progress = {});

}  // namespace helmwater::steer
