// SPDX-License-Identifier: Apache-2.0
#include "stall_scores.hpp"

#include <algorithm>

#include "steer/why_stuck.hpp"

namespace helmwater::tests {
namespace {

// What the owner looked at last: the tank when he last tested ammonia or nitrite. Who asks has not seen more.
const Truth& last_look(const SecondLoop& made) {
  double day = 0;
  for (const records::Entry& e : made.log.entries) {
    const auto* reading = std::get_if<records::Reading>(&e.body);
    if (reading == nullptr || e.when > made.as_of) continue;
    if (reading->test != records::Test::ammonia && reading->test != records::Test::nitrite) continue;
    day = records::days_between(made.log.entries.front().when, e.when);
  }
  return made.truth[std::min(made.truth.size() - 1, static_cast<std::size_t>(day * 4))];
}

// How far all nitrogen has come on its way from ammonia to nitrate, 0 to 1. Nitrate of the first water is not on that way.
double progress(const SecondLoop& made, const Truth& last) {
  const Truth& first = made.truth.front();
  const double no3 = std::max(0.0, last.nitrate - first.nitrate);
  return (0.5 * last.nitrite + no3) / std::max(0.1, last.ammonia + last.nitrite + no3);
}
double waiting(const SecondLoop& made) { return last_look(made).ammonia + last_look(made).nitrite; }

// Set before any answer was seen: a quarter of the way behind its twin, and something waiting when he last looked; for the two causes without one, what their owner sees.
bool stalls(const SecondLoop& made, std::uint64_t seed, int index, Stall stall) {
  switch (stall) {
    case Stall::none: return waiting(made) > 0.5;  // an impatient owner's loop
    case Stall::nitrate_unseen: return waiting(made) < 1 && last_look(made).nitrate > 4;
    case Stall::starvation: return waiting(made) > 0.5;
    default: break;
  }
  if (waiting(made) < 0.5) return false;
  const SecondLoop twin = simulate_stalled(seed, index, stall, true);
  return progress(twin, twin.truth.back()) - progress(made, last_look(made)) > 0.25;
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
