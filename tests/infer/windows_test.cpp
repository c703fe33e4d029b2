// SPDX-License-Identifier: Apache-2.0
// What moves a kept window's marks with the rows of log.csv, what wanders, and sampling that starts from an earlier
// posterior. Loops are simulated; posteriors are compared with ones of ours from scratch unless a closed form is named.
#include "infer/windows.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "infer/forecast.hpp"
#include "infer/outlook.hpp"
#include "infer/random.hpp"
#include "simulated_loop.hpp"

namespace helmwater::infer {
namespace {

records::Instant at(const records::LoopLog& log, double day) { return records::plus_days(*log.loop.started, day); }

// A row written above all others (today's reading, say) moves every line and changes no entry of a closed window.
TEST(windows, misread_readings_of_kept_windows_are_found_on_their_lines) {
  records::LoopLog log = tests::simulate_loop(3, 1, 70).log;
  int wrong_line = 0;
  for (records::Entry& e : log.entries) {  // a plain misread: nitrite of 30 mg/L on day 1
    auto* reading = std::get_if<records::Reading>(&e.body);
    if (reading == nullptr || reading->test != records::Test::nitrite || wrong_line != 0) continue;
    reading->seen.low = 25;
    reading->seen.high = 35;
    wrong_line = e.line;
  }
  OutlookOptions options;
  options.as_of = at(log, 69);
  options.days = 1;
  options.members = 500;
  Checkpoints kept;
  options.checkpoints = &kept;
  const auto surprising = [&](const records::LoopLog& some) {
    std::vector<int> lines;
    for (const records::Doubt& d : outlook_of(some, options).doubts) {
      if (d.code == "surprising_reading" && d.entry) lines.push_back(*d.entry);
    }
    return lines;
  };
  const std::vector<int> before = surprising(log);
  ASSERT_EQ(std::count(before.begin(), before.end(), wrong_line), 1);
  for (records::Entry& e : log.entries) e.line += 3;
  std::vector<int> moved = before;
  for (int& line : moved) line += 3;
  EXPECT_EQ(surprising(log), moved) << "with the windows kept";
}

// sqrt(1 - w^2) z + w e of standard normal z and e is standard normal (closed form), however often it is done.
TEST(windows, what_was_never_learned_wanders_about_its_prior) {
  constexpr int kDraws = 20000;
  CarryInput input;
  input.names = {"mu_a"};
  input.weight.assign(kDraws, 1.0 / kDraws);
  input.effective = kDraws;
  input.water.resize(kDraws);
  input.tracks.resize(kDraws);
  input.z.resize(1, kDraws);
  const Draws random(9, 0);
  for (std::uint32_t i = 0; i < kDraws; ++i) input.z(0, i) = random.normal(i, 0);
  for (int window = 1; window <= 12; ++window) {
    input.day = window * kWindowDays;
    const Marginal m = carry(input).marginals[0];
    // Four standard errors of a quantile of 20,000 draws, sqrt(p (1 - p) / n) / density: 0.036, 0.043, 0.078 at 0, 1, 2; the
    // errors of twelve windows add up to at most that of twelve independent samples' root mean, so no more is allowed.
    for (double z : {0.0, 1.0, -1.0}) EXPECT_NEAR(m.at(z), z, 0.043 * 1.5) << window;
    for (double z : {2.0, -2.0}) EXPECT_NEAR(m.at(z), z, 0.078 * 1.5) << window;
    for (int k = 1; k < Marginal::kKnots; ++k) EXPECT_GE(m.value[static_cast<std::size_t>(k)], m.value[static_cast<std::size_t>(k) - 1]);
    for (std::uint32_t i = 0; i < kDraws; ++i) input.z(0, i) = m.at(random.normal(i, static_cast<std::uint32_t>(window)));
  }
}

struct Moments {
  double mean = 0, sd = 0;
};
Moments moments_of(const Posterior& p, Eigen::Index k) {
  Moments m;
  for (Eigen::Index i = 0; i < p.draws.z.cols(); ++i) m.mean += p.draws.weight[static_cast<std::size_t>(i)] * p.draws.z(k, i);
  for (Eigen::Index i = 0; i < p.draws.z.cols(); ++i) {
    m.sd += p.draws.weight[static_cast<std::size_t>(i)] * std::pow(p.draws.z(k, i) - m.mean, 2);
  }
  m.sd = std::sqrt(m.sd);
  return m;
}

// Means of every unknown within five standard errors of a difference (some 30 unknowns and 8 cases: one in 10^4 by chance),
// spreads within five of theirs, sd / sqrt(2 n); heavier tails than the normal's allow half as much again.
void expect_agreement(const Posterior& warm, const Posterior& scratch, const char* what) {
  ASSERT_EQ(warm.priors->names(), scratch.priors->names()) << what;
  const double share = std::sqrt(1 / warm.draws.effective + 1 / scratch.draws.effective);
  double farthest = 0;
  for (std::size_t k = 0; k < scratch.priors->names().size(); ++k) {
    const Moments a = moments_of(warm, static_cast<Eigen::Index>(k)), b = moments_of(scratch, static_cast<Eigen::Index>(k));
    const double sd = std::max(a.sd, b.sd);
    farthest = std::max(farthest, std::abs(a.mean - b.mean) / (sd * share));
    EXPECT_NEAR(a.mean, b.mean, 5 * sd * share) << what << ": " << scratch.priors->names()[k];
    EXPECT_NEAR(a.sd, b.sd, 1.5 * 5 * sd * share / std::sqrt(2.0)) << what << ": sd of " << scratch.priors->names()[k];
  }
  std::printf("%s: warm worth %.0f draws after %d rounds, from scratch %.0f after %d; farthest mean %.1f standard errors\n", what,
              warm.draws.effective, warm.draws.rounds, scratch.draws.effective, scratch.draws.rounds, farthest);
}

PosteriorOptions options_at(const records::LoopLog& log, double day, std::shared_ptr<const Posterior> earlier = nullptr) {
  PosteriorOptions options;
  options.as_of = at(log, day);
  options.earlier = std::move(earlier);
  return options;
}
std::shared_ptr<const Posterior> sampled(const records::LoopLog& log, double day, std::shared_ptr<const Posterior> earlier = nullptr) {
  return std::make_shared<const Posterior>(posterior_of(log, options_at(log, day, std::move(earlier))));
}

// The pH of the last visits one chart step (0.4) higher: near enough to be believed, far enough to matter.
records::LoopLog with_higher_ph(records::LoopLog log, int visits) {
  for (auto e = log.entries.rbegin(); e != log.entries.rend() && visits > 0; ++e) {
    auto* reading = std::get_if<records::Reading>(&e->body);
    if (reading == nullptr || reading->test != records::Test::ph) continue;
    reading->seen.low += 0.4;
    reading->seen.high += 0.4;
    --visits;
  }
  return log;
}

TEST(warm_start, two_more_readings_agree_with_scratch) {
  for (int index = 0; index < 2; ++index) {
    const records::LoopLog log = tests::simulate_loop(41, index, 26).log;
    const records::LoopLog before = tests::cut(log, at(log, 21.5)), after = tests::cut(log, at(log, 25.5));
    expect_agreement(*sampled(after, 25.5, sampled(before, 21.5)), *sampled(after, 25.5), "two visits more");
  }
}

TEST(warm_start, a_corrected_reading_agrees_with_scratch_both_ways) {
  for (int index = 0; index < 2; ++index) {
    const records::LoopLog whole = tests::simulate_loop(41, index, 10).log, log = tests::cut(whole, at(whole, 9.5));
    const records::LoopLog corrected = with_higher_ph(log, index + 2), wrong = log;
    const auto of_wrong = sampled(wrong, 9.5), of_corrected = sampled(corrected, 9.5);
    double apart = 0;  // in the standard errors of expect_agreement: a start that stuck to the old reading would be seen
    const double share = std::sqrt(1 / of_wrong->draws.effective + 1 / of_corrected->draws.effective);
    for (Eigen::Index k = 0; k < of_wrong->draws.z.rows(); ++k) {
      const Moments a = moments_of(*of_wrong, k), b = moments_of(*of_corrected, k);
      apart = std::max(apart, std::abs(a.mean - b.mean) / (std::max(a.sd, b.sd) * share));
    }
    std::printf("the correction moves a mean by %.1f standard errors\n", apart);
    EXPECT_GT(apart, 8) << "the correction must matter";
    expect_agreement(*sampled(corrected, 9.5, of_wrong), *of_corrected, "pH corrected upward");
    expect_agreement(*sampled(wrong, 9.5, of_corrected), *of_wrong, "pH corrected downward");
  }
}

TEST(warm_start, a_chain_of_ten_visits_agrees_with_scratch) {
  const records::LoopLog log = tests::simulate_loop(41, 2, 30).log;
  std::shared_ptr<const Posterior> chain;
  for (double day = 9.5; day < 28; day += 2) chain = sampled(tests::cut(log, at(log, day)), day, chain);
  expect_agreement(*chain, *sampled(tests::cut(log, at(log, 27.5)), 27.5), "ten visits in a row");
}

TEST(warm_start, is_the_same_again_for_a_seed) {
  const records::LoopLog log = tests::simulate_loop(41, 1, 16).log;
  const auto before = sampled(tests::cut(log, at(log, 11.5)), 11.5);
  const auto a = sampled(log, 15.5, before), b = sampled(log, 15.5, before);
  EXPECT_EQ(a->draws.z, b->draws.z);
  EXPECT_EQ(a->draws.weight, b->draws.weight);
}

TEST(warm_start, new_unknowns_agree_with_scratch) {
  records::LoopLog log = tests::cut(tests::simulate_loop(41, 1, 20).log, at(tests::simulate_loop(41, 1, 1).log, 19.5));
  const auto before = sampled(log, 19.5);
  records::Kit other = log.loop.kits[1];  // a second nitrite kit with a chart of its own
  other.id = "other";
  log.loop.kits.push_back(other);
  records::Reading reading;
  reading.test = records::Test::nitrite;
  reading.basis = records::Basis::no2;
  reading.kit = static_cast<int>(log.loop.kits.size()) - 1;
  reading.seen.low = 0.3;
  reading.seen.high = 0.8;
  records::Entry e;
  e.line = 900;
  e.when = at(log, 20.4);
  e.body = reading;
  log.entries.push_back(e);
  const auto scratch = sampled(log, 20.5);
  EXPECT_GT(scratch->priors->dimensions(), before->priors->dimensions());
  expect_agreement(*sampled(log, 20.5, before), *scratch, "a new kit");
  expect_agreement(*sampled(tests::cut(log, at(log, 19.5)), 19.5, scratch), *before, "a kit gone again");
}

TEST(warm_start, another_window_is_no_start) {
  const records::LoopLog log = tests::simulate_loop(41, 1, 64).log;
  const auto young = sampled(tests::cut(log, at(log, 58.5)), 58.5);  // the first window, open
  const auto here = sampled(log, 63.5, young), scratch = sampled(log, 63.5);
  EXPECT_EQ(here->draws.z, scratch->draws.z);
  EXPECT_EQ(here->draws.weight, scratch->draws.weight);

  records::LoopLog elsewhere = tests::simulate_loop(41, 1, 64).log;
  elsewhere.loop.started = at(log, -1);
  const auto other = sampled(elsewhere, 64.5, young);
  EXPECT_EQ(other->draws.z, sampled(elsewhere, 64.5)->draws.z) << "another start";
}

}  // namespace
}  // namespace helmwater::infer
