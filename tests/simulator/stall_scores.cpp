// SPDX-License-Identifier: Apache-2.0
#include "stall_scores.hpp"

#include "steer/why_stuck.hpp"

namespace helmwater::tests {
namespace {

// How far all nitrogen has come on its way from ammonia to nitrate, 0 to 1, in the tank at as_of. Nitrate of the first water
// is not on that way.
double progress(const SecondLoop& made) {
  const Truth &first = made.truth.front(), &last = made.truth.back();
  const double no3 = std::max(0.0, last.nitrate - first.nitrate);
  return (0.5 * last.nitrite + no3) / std::max(0.1, last.ammonia + last.nitrite + no3);
}
double waiting(const SecondLoop& made) { return made.truth.back().ammonia + made.truth.back().nitrite; }

// Set before any answer was seen: a quarter of the way behind its twin; for the two causes without one, what their owner sees.
bool stalls(const SecondLoop& made, std::uint64_t seed, int index, Stall stall) {
  switch (stall) {
    case Stall::none: return waiting(made) > 0.5;  // an impatient owner's loop
    case Stall::nitrate_unseen: return waiting(made) < 1 && made.truth.back().nitrate > 4;
    case Stall::starvation: return waiting(made) > 0.5;
    default: break;
  }
  return waiting(made) > 0.5 && progress(simulate_stalled(seed, index, stall, true)) - progress(made) > 0.25;
}

}  // namespace

StalledLoop next_that_stalls(std::uint64_t seed, int index, Stall stall) {
  for (int tried = 0;; ++tried) {
    const int here = index + 1000 * tried;
    SecondLoop made = simulate_stalled(seed, here, stall);
    if (stalls(made, seed, here, stall) || tried == 30) return {std::move(made), tried};
  }
}

StallScore score_why(const SecondLoop& made) {
  steer::WhyStuckOptions options;
  options.as_of = made.as_of;
  const steer::WhyStuck why = steer::why_stuck(made.log, options);
  StallScore score;
  score.told = why.told;
  score.first = why.explanations.front().cause;
  for (const auto& e : why.explanations) score.ranked.emplace_back(e.cause, e.probability);
  if (why.next_test) score.test = why.next_test->text;
  score.effective = why.least_effective;
  return score;
}

}  // namespace helmwater::tests
