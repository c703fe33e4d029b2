// SPDX-License-Identifier: Apache-2.0
// Conflict between prior and log. On loops drawn from the prior itself, p is a rank among equals, so P(p <= a) = a: that
// is held against binomial bounds worked out here. The owner of these loops doses by what his vials show, which the
// invented logs do not, so exactly equal they are not.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <set>

#include "infer/conflict.hpp"

#include "infer/as_written.hpp"
#include "infer/posterior.hpp"
#include "infer/timeline_from_log.hpp"
#include "log_text.hpp"
#include "loop/grid.hpp"
#include "simulated_loop.hpp"

namespace helmwater::infer {
namespace {

Conflict conflict_in(const records::LoopLog& log, const ConflictOptions& options = {}) {
  const records::Instant start = *log.loop.started, as_of = log.entries.back().when;
  const Evidence evidence = evidence_from_log(log, start);
  const Priors priors(log, evidence, as_of);
  const std::vector<Observation> used = up_to(evidence.observations, as_of);
  const double end = used.back().day;
  const loop::Timeline timeline = timeline_from_log(log, start, as_of, end, false);
  std::vector<double> days;
  for (const Observation& o : used) days.push_back(o.day);
  return conflict_of(log, evidence, used, priors, timeline, loop::make_grid(timeline, days, {}, end, {}, 0), options);
}

// P(X <= k) of a binomial.
double binomial_cdf(int k, int n, double p) {
  double sum = 0;
  for (int i = 0; i <= k; ++i) {
    sum += std::exp(std::lgamma(n + 1.0) - std::lgamma(i + 1.0) - std::lgamma(n - i + 1.0) + i * std::log(p) + (n - i) * std::log1p(-p));
  }
  return sum;
}

TEST(conflict, p_is_a_rank_on_loops_of_the_prior) {
  constexpr int kLoops = 60;
  ConflictOptions quick;
  quick.members = 512;
  quick.screen = 99;
  quick.look_closer = 0;  // the rank alone
  std::vector<double> p;
  for (int i = 0; i < kLoops; ++i) p.push_back(conflict_in(tests::simulate_loop(311, i, 16).log, quick).p);
  std::set<double> different(p.begin(), p.end());
  EXPECT_GT(different.size(), 20u);
  for (const double a : {0.05, 0.2, 0.5, 0.8}) {
    const int below = static_cast<int>(std::count_if(p.begin(), p.end(), [&](double x) { return x <= a; }));
    std::printf("p <= %.2f: %d of %d\n", a, below, kLoops);
    EXPECT_GT(binomial_cdf(below, kLoops, a), 0.001) << a;
    EXPECT_GT(1 - binomial_cdf(below - 1, kLoops, a), 0.001) << a;
  }
}

// Both growth rates three sd low: what the prior holds for one loop in some hundred thousand. Nothing happening for weeks
// is far less rare in it (few bacteria to begin with, cold water), so p cannot be tiny. By chance one loop in twenty would be at or below 0.05.
TEST(conflict, loops_slower_than_the_prior_stand_out) {
  constexpr int kLoops = 24;
  int low = 0, slower = 0;
  for (int i = 0; i < kLoops; ++i) {
    const Conflict c = conflict_in(tests::simulate_loop(312, i, 50, {{"mu_a", -3}, {"mu_n", -3}}).log);
    std::printf("p %.3f %s\n", c.p, to_text(c.kind));
    low += c.p <= 0.05;
    slower += c.kind == Conflict::Kind::slower_ammonia_step || c.kind == Conflict::Kind::slower_nitrite_step;
  }
  EXPECT_LT(1 - binomial_cdf(low - 1, kLoops, 0.05), 0.01);
  EXPECT_GE(slower, 1);
}

// Nobody's bacteria multiply like this: an unseeded loop at 12 degC whose ammonia is gone by the second day and every
// two days after. Conservation: what was given must still be there unless something ate it.
const char kTooFast[] =
    "2026-03-01T09:00,dose,7.6,g,ammonium chloride,\n2026-03-01T20:00,ammonia,2,mg/L as NH3,,\n"
    "2026-03-03T08:00,ammonia,0,mg/L as NH3,,\n2026-03-03T08:00,nitrite,0,mg/L as NO2,,\n"
    "2026-03-03T09:00,dose,7.6,g,ammonium chloride,\n"
    "2026-03-05T08:00,ammonia,0,mg/L as NH3,,\n2026-03-05T08:00,nitrite,0,mg/L as NO2,,\n"
    "2026-03-05T09:00,dose,7.6,g,ammonium chloride,\n"
    "2026-03-07T08:00,ammonia,0,mg/L as NH3,,\n2026-03-07T08:00,nitrite,0,mg/L as NO2,,\n"
    "2026-03-07T09:00,dose,7.6,g,ammonium chloride,\n"
    "2026-03-09T08:00,ammonia,0,mg/L as NH3,,\n2026-03-09T08:00,nitrite,0,mg/L as NO2,,\n";

TEST(conflict, is_said_and_the_readings_then_count_half) {
  const records::LoopLog log = tests::log_from(kTooFast, "typical_temperature_c = 12\n");
  PosteriorOptions options;
  options.as_of = log.entries.back().when;
  options.members = 1000;
  const Posterior checked = posterior_of(log, options);
  EXPECT_LE(checked.conflict.p, kConflictSaid);
  EXPECT_EQ(checked.conflict.kind, Conflict::Kind::faster) << checked.conflict.text;
  EXPECT_NE(checked.conflict.text.find("12 °C"), std::string::npos) << checked.conflict.text;
  EXPECT_EQ(conflict_power(checked.conflict), 0.5);
  // The definition, member by member: ln likelihood of a draw is half of that of the same readings taken whole.
  options.check_conflict = false;
  const Posterior whole = posterior_of(log, options);
  EXPECT_FALSE(whole.conflict.said());
  EXPECT_EQ(conflict_power(whole.conflict), 1);
  // With half the weight less is learned: the prior's sd is 1.
  const auto spread = [](const Posterior& p, const char* name) {
    const auto& names = p.priors->names();
    const auto k = static_cast<Eigen::Index>(std::find(names.begin(), names.end(), name) - names.begin());
    double mean = 0, square = 0;
    for (std::size_t i = 0; i < p.draws.weight.size(); ++i) {
      const double z = p.draws.z(k, static_cast<Eigen::Index>(i));
      mean += p.draws.weight[i] * z;
      square += p.draws.weight[i] * z * z;
    }
    return std::pair(mean, std::sqrt(square - mean * mean));
  };
  EXPECT_GT(spread(whole, "seed_ammonia_step").first, spread(checked, "seed_ammonia_step").first);
}

TEST(conflict, a_log_without_readings_conflicts_with_nothing) {
  const records::LoopLog log = tests::log_from("2026-03-01T09:00,dose,7.6,g,ammonium chloride,\n");
  PosteriorOptions options;
  options.as_of = log.entries.back().when;
  options.members = 500;
  const Posterior p = posterior_of(log, options);
  EXPECT_EQ(p.conflict.p, 1);
  EXPECT_FALSE(p.conflict.said());
}

TEST(conflict, the_same_seed_gives_the_same_p) {
  const records::LoopLog log = tests::simulate_loop(313, 1, 12).log;
  const Conflict a = conflict_in(log), b = conflict_in(log);
  EXPECT_EQ(a.p, b.p);
}

// Forms: the chart's own edges (docs/reference/loop_folder.md: half of the first step above zero, then geometric means),
// written out by hand.
TEST(conflict, an_invented_reading_takes_the_form_of_the_real_one) {
  const records::LoopLog log = tests::log_from(
      "2026-03-02T09:00,ammonia,1,mg/L as NH3,,\n2026-03-03T09:00,ammonia,1..2,mg/L as NH3,,\n2026-03-04T09:00,ammonia,<3,mg/L as NH3,,\n"
      "2026-03-05T09:00,ph,7.4+-0.1,,,\n",
      "[[kit]]\ntest = \"ammonia\"\nbasis = \"NH3\"\nsteps = [0, 0.25, 1, 2, 4]\n");
  const std::vector<Observation> o = tests::evidence_of(log).observations;
  ASSERT_EQ(o.size(), 4u);
  const double n = 14.007 / 17.031;  // IUPAC 2021
  const ReadingForm step(o[0], log);
  EXPECT_EQ(step.place_of(1.0 * n), 0);
  EXPECT_EQ(step.place_of(0.05 * n), -2);  // "0": below 0.125
  EXPECT_EQ(step.place_of(100 * n), 2);    // "4"
  EXPECT_NEAR(step.at(-2).high, 0.125 * n, 1e-9);
  EXPECT_EQ(step.at(-2).low, 0);
  EXPECT_NEAR(step.at(1).low, std::sqrt(2.0) * n, 1e-9);
  EXPECT_NEAR(step.at(1).high, std::sqrt(8.0) * n, 1e-9);
  EXPECT_TRUE(std::isinf(step.at(2).high));
  const ReadingForm gap(o[1], log);
  EXPECT_EQ(gap.place_of(1.5 * n), 0);
  EXPECT_EQ(gap.place_of(3 * n), 1);
  EXPECT_NEAR(gap.at(1).low, 2 * n, 1e-9);
  EXPECT_NEAR(gap.at(1).high, 4 * n, 1e-9);
  EXPECT_NEAR(gap.at(-2).high, 0.25 * n, 1e-9);
  const ReadingForm less(o[2], log);
  EXPECT_EQ(less.place_of(0.01), 0);
  EXPECT_GE(less.place_of(3.1 * n), 1);
  const ReadingForm meter(o[3], log);
  EXPECT_EQ(meter.place_of(7.4), 0);
  EXPECT_NEAR(meter.at(meter.place_of(8.4)).centre, 8.4, noise_on_scale(o[3]) / 4 + 1e-9);
}

}  // namespace
}  // namespace helmwater::infer
