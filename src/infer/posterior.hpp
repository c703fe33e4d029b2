// SPDX-License-Identifier: Apache-2.0
// The posterior of one loop at one moment: its unknowns given the readings so far.
#pragma once
#include <memory>

#include "infer/block_of.hpp"
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
};

struct Posterior {
  records::Instant start;         // day 0
  records::Instant as_of;
  Evidence evidence;              // of the whole log
  int readings_used = 0;
  std::shared_ptr<const Priors> priors;
  WeightedDraws draws;            // thinned to `members`
};

// Conditions on the readings not later than as_of; deeds after it are not evidence.
Posterior posterior_of(const records::LoopLog& log, const PosteriorOptions& options);

}  // namespace helmwater::infer
