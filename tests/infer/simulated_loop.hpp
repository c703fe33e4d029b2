// SPDX-License-Identifier: Apache-2.0
// Invented loops whose truth is known: unknowns drawn from the product's own prior, read by an invented owner through
// invented charts, dosed by what the vials showed. They test that the posterior is what it claims to be under the model's
// own assumptions; they say nothing about the model being right.
#pragma once
#include <cstdint>
#include <map>
#include <string>
#include <vector>

#include "infer/posterior.hpp"
#include "records/entry.hpp"

namespace helmwater::tests {

struct SimulatedLoop {
  records::LoopLog log;          // all entries
  std::vector<double> truth;     // the standard normal numbers of infer::Priors for this log
};

// Loop number `index` of `seed`, read every second day for `days` days: ammonia, nitrite and pH each time, nitrate each
// second time, alkalinity each third; 2 mg/L ammonia (as NH3) given at the start and whenever the vial shows none;
// bicarbonate when pH reads below 7. `held`: unknowns by name (infer::Priors::names) that are this instead of drawn, as
// standard normal numbers.
SimulatedLoop simulate_loop(std::uint64_t seed, int index, int days, const std::map<std::string, double>& held = {});

// The log as it stood at `as_of`.
records::LoopLog cut(const records::LoopLog& log, records::Instant as_of);

// The log with a note in place of each reading: what really happened, for forecasting the truth.
records::LoopLog unread(const records::LoopLog& log);

// A posterior that is just the truth, to be forecast like any other, with the unread log.
infer::Posterior truth_as_posterior(const SimulatedLoop& loop, const records::LoopLog& log, records::Instant as_of);

}  // namespace helmwater::tests
