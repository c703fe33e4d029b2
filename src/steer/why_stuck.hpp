// SPDX-License-Identifier: Apache-2.0
// Why does it not move? Causes ranked by what the log says for each, and the one test that tells the first two apart
// (docs/model/why_stuck.md).
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "infer/checkpoints.hpp"
#include "records/entry.hpp"
#include "steer/stall_causes.hpp"
#include "steer/telling_apart.hpp"

namespace helmwater::steer {

struct Explanation {
  std::string cause, title, says;
  double probability = 0;
  std::vector<std::string> because;  // facts of the log that raised or lowered it
  std::string look, remedy;
  std::vector<std::string> cautions;
  std::string confidence;            // of what the handbook says about it
};

struct WhyStuck {
  std::string loop;
  records::Instant as_of, started;
  int readings_used = 0;
  bool told = false;                  // the first explanation is probable enough, and enough more so than the second
  std::string verdict;                // its cause, or "cannot_tell"
  std::string says;                   // one or two plain sentences
  std::vector<Explanation> explanations;  // by probability
  std::vector<SetAside> set_aside;
  std::optional<TellingTest> next_test;   // absent: one explanation alone is left
  double least_effective = 0;         // draws the weakest of the answers rests on
  std::uint64_t seed = 1;
};

struct WhyStuckOptions {
  records::Instant as_of;
  std::uint64_t seed = 1;
  infer::Checkpoints* checkpoints = nullptr;
};

// Interruptible by infer::CancelScope.
WhyStuck why_stuck(const records::LoopLog& log, const WhyStuckOptions& options);

}  // namespace helmwater::steer
