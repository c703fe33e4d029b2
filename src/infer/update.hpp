// SPDX-License-Identifier: Apache-2.0
// A new reading taken into an outlook at once, before a sampler has run: the members stay, their weights change.
#pragma once
#include "infer/forecast.hpp"
#include "infer/posterior.hpp"

namespace helmwater::infer {

// The water of a posterior's members a moment later, and what they are worth by then.
struct Update {
  Posterior posterior;                        // `earlier`'s draws under new weights; draws.effective says what they are worth
  std::vector<loop::State<double>> water;     // per draw, at as_of; units as in State
  std::vector<double> ph;
};

// Carries each member of `earlier` from the water `forecast` saw at its as_of on to `as_of` (not earlier) with the deeds of
// `log`, and weighs it by the readings in between. `forecast` is of `earlier`. `log` may differ from the one `earlier` was
// made from only after earlier.as_of, and must call for no further unknown (another kit, a first feed): then nullopt, as
// when a closed window lies between; the sampler has to answer. Quick and rough: below some hundred effective draws ask
// for a posterior with PosteriorOptions::earlier.
std::optional<Update> update_at_once(const records::LoopLog& log, const Posterior& earlier, const Forecast& forecast,
                                     records::Instant as_of);

}  // namespace helmwater::infer
