// SPDX-License-Identifier: Apache-2.0
// A reading taken in at once against the same reading sampled from scratch: two ways of ours to the same posterior, so
// they must agree within what their effective draws allow. Loops are simulated with known truths.
#include "infer/update.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "simulated_loop.hpp"

namespace helmwater::infer {
namespace {

struct Moments {
  double mean = 0, sd = 0;
};
template <class Take>
Moments moments(const std::vector<double>& weight, const Take& take) {
  Moments m;
  for (std::size_t i = 0; i < weight.size(); ++i) m.mean += weight[i] * take(i);
  for (std::size_t i = 0; i < weight.size(); ++i) m.sd += weight[i] * (take(i) - m.mean) * (take(i) - m.mean);
  m.sd = std::sqrt(m.sd);
  return m;
}

PosteriorOptions at(const tests::SimulatedLoop& made, double day) {
  PosteriorOptions options;
  options.as_of = records::plus_days(*made.log.loop.started, day);
  return options;
}

TEST(update_at_once, agrees_with_a_posterior_from_scratch) {
  int compared = 0;
  for (int index = 0; index < 6 && compared < 4; ++index) {
    const tests::SimulatedLoop made = tests::simulate_loop(31, index, 30);
    const auto before = tests::cut(made.log, at(made, 24.5).as_of), after = tests::cut(made.log, at(made, 26.5).as_of);
    ASSERT_LT(before.entries.size(), after.entries.size());
    const Posterior earlier = posterior_of(before, at(made, 24.5));
    const Forecast forecast_then = forecast(before, earlier, 10, true);
    const auto update = update_at_once(after, earlier, forecast_then, at(made, 26.5).as_of);
    if (!update) continue;  // a first buffering or the like between the two: new unknowns
    ++compared;
    EXPECT_GT(update->posterior.readings_used, earlier.readings_used);
    const Posterior scratch = posterior_of(after, at(made, 26.5));
    const Forecast now = forecast(after, scratch, 1, true);
    const auto agrees = [&](const char* what, Moments quick, Moments whole) {
      // Five standard errors of the difference of two means.
      const double error = 5 * whole.sd * std::sqrt(1 / update->posterior.draws.effective + 1 / scratch.draws.effective);
      EXPECT_NEAR(quick.mean, whole.mean, error + 1e-3) << what << " of loop " << index;
    };
    const auto& weight = update->posterior.draws.weight;
    agrees("nitrite, root of mg N/L", moments(weight, [&](std::size_t i) { return std::sqrt(std::max(update->water[i].no2, 0.0)); }),
           moments(now.weight, [&](std::size_t i) { return std::sqrt(now.now[i].nitrite * 14.007 / 46.005); }));
    agrees("pH", moments(weight, [&](std::size_t i) { return update->ph[i]; }),
           moments(now.weight, [&](std::size_t i) { return now.now[i].ph; }));
    agrees("alkalinity, meq/L", moments(weight, [&](std::size_t i) { return update->water[i].alk; }),
           moments(now.weight, [&](std::size_t i) { return now.now[i].alkalinity / 50.0435; }));
  }
  EXPECT_EQ(compared, 4);
}

TEST(update_at_once, without_news_changes_no_weight) {
  const tests::SimulatedLoop made = tests::simulate_loop(31, 1, 20);
  const auto log = tests::cut(made.log, at(made, 15.5).as_of);
  const Posterior earlier = posterior_of(log, at(made, 15.5));
  const auto update = update_at_once(log, earlier, forecast(log, earlier, 5, true), at(made, 15.9).as_of);
  ASSERT_TRUE(update);
  for (std::size_t i = 0; i < earlier.draws.weight.size(); ++i) {
    ASSERT_NEAR(update->posterior.draws.weight[i], earlier.draws.weight[i], 1e-12);
  }
}

TEST(update_at_once, leaves_what_it_cannot_do_to_the_sampler) {
  const tests::SimulatedLoop made = tests::simulate_loop(31, 1, 20);
  auto log = tests::cut(made.log, at(made, 15.5).as_of);
  const Posterior earlier = posterior_of(log, at(made, 15.5));
  const Forecast f = forecast(log, earlier, 5, true);
  EXPECT_FALSE(update_at_once(log, earlier, f, at(made, 14).as_of)) << "back in time";
  EXPECT_FALSE(update_at_once(log, earlier, f, at(made, 61).as_of)) << "a closed window lies between";
  records::Entry feed;
  feed.line = 900;
  feed.when = at(made, 15.7).as_of;
  feed.body = records::Feed{units::Grams{5}, 32};
  log.entries.push_back(feed);
  EXPECT_FALSE(update_at_once(log, earlier, f, at(made, 16).as_of)) << "a first feed brings new unknowns";
}

}  // namespace
}  // namespace helmwater::infer
