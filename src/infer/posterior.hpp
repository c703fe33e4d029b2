// SPDX-License-Identifier: Apache-2.0
// The posterior of one loop at one moment: its unknowns given the readings so far.
#pragma once
#include <memory>

#include "infer/block_of.hpp"
#include "infer/carried.hpp"
#include "infer/certificate.hpp"
#include "infer/conflict.hpp"
#include "infer/checkpoints.hpp"
#include "infer/member_block.hpp"
#include "infer/observation.hpp"
#include "infer/priors.hpp"
#include "infer/sampler.hpp"
#include "records/entry.hpp"

namespace helmwater::infer {

struct PosteriorOptions {
  records::Instant as_of;
  std::uint64_t seed = 1;
  int members = 4000;             // kept for the forecast
  double effective_wanted = 1100;
  int most_rounds = 80;           // of the sampler
  Checkpoints* checkpoints = nullptr;              // of closed windows; null: made anew for this call
  std::shared_ptr<const struct Posterior> earlier; // of the same loop: a start for the sampler, see posterior_of
  std::shared_ptr<const Alteration> altered;       // of the open window alone
  std::shared_ptr<const Learned> learned;          // from earlier loops; null: the plain prior
  bool check_conflict = true;  // false: readings count whole however unlike the prior; to weigh suppositions
};

struct Posterior {
  records::Instant start;         // day 0
  records::Instant as_of;
  Evidence evidence;              // of the whole log
  int readings_used = 0;          // of the whole log up to as_of
  std::shared_ptr<const Carried> carried;  // from the window before this one; null: the window is the first
  std::shared_ptr<const Alteration> altered;  // null: the plain prior; a forecast does not know it
  std::shared_ptr<const Learned> learned;  // null: nothing
  std::shared_ptr<const Priors> priors;
  Certificate certificate;        // of the time grid, by some of the draws
  Conflict conflict;              // of the window's readings with its prior; if said, they count half
  WeightedDraws draws;            // thinned to `members`

  loop::GridSteps steps() const;  // as fine as the certificate asks for
  double window_day() const { return carried == nullptr ? 0 : carried->day; }
  std::vector<Observation> readings_in_window() const;  // those the draws are conditioned on here
};

// Conditions on the readings not later than as_of; deeds after it are not evidence. A log of more than two windows
// (kWindowDays) is taken window by window: only the last is sampled if the others stand in the checkpoints, and the answer
// is the same either way. With an `earlier` posterior of the same window and unknowns the sampler starts from its draws,
// reweighted by the readings as they now are; the answer then agrees with one from scratch within the sampling error.
Posterior posterior_of(const records::LoopLog& log, const PosteriorOptions& options);

}  // namespace helmwater::infer
