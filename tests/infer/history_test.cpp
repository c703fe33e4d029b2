// SPDX-License-Identifier: Apache-2.0
// What is learnt from a keeper's earlier start-ups. The sums against the normal-normal hierarchical model: Gelman et al.,
// Bayesian Data Analysis, chapter 5 (formulas from memory), worked by hand.
#include "infer/history.hpp"

#include <gtest/gtest.h>

#include <chrono>
#include <cmath>
#include <filesystem>

#include "infer/outlook.hpp"
#include "infer/random.hpp"
#include "log_text.hpp"
#include "simulated_loop.hpp"

namespace helmwater::infer {
namespace {

constexpr double kManyDraws = 1e12;  // so many that nothing is taken for sampling noise

LoopSummary loop(const std::vector<std::string>& names, double mean, double variance) {
  LoopSummary s;
  s.names = names;
  const auto n = static_cast<Eigen::Index>(names.size());
  s.mean = Eigen::VectorXd::Constant(n, mean);
  s.covariance = variance * Eigen::MatrixXd::Identity(n, n);
  s.effective = kManyDraws;
  return s;
}

// Two loops with posterior N(0.75, 0.25) on the prior N(0, 1): each is a measurement y = 0.75 / 0.75 = 1 of variance
// 1 / (1/0.25 - 1) = 1/3. With 0.6 of the variance in common: mean of all loops ~ N(0, 0.6), y ~ N(that mean, 0.4 + 1/3).
// V = 1 / (1/0.6 + 2/0.73333) = 1 / 4.39394 = 0.227586; mean = V 2/0.73333 = 0.620690; the next loop has variance
// V + 0.4 = 0.627586.
TEST(Pooling, TwoLoopsByHand) {
  const NextLoop next = next_loop({loop({"mu_a"}, 0.75, 0.25), loop({"mu_a"}, 0.75, 0.25)}, {0.6, 0, 0});
  EXPECT_NEAR(next.mean[0], 0.620690, 1e-5);
  EXPECT_NEAR(next.covariance(0, 0), 0.627586, 1e-5);
}

// The log evidence of y1, y2 ~ N(0, 1.33333) with covariance 0.6 over that without covariance: for y = (1, 1),
// determinant 1.333333^2 - 0.36 = 1.417778 against 1.777778; y' S^-1 y = 2 / 1.933333 = 1.034483 against 1.5.
// -0.5 (ln 1.417778 - ln 1.777778) - 0.5 (1.034483 - 1.5) = 0.113141 + 0.232759.
TEST(Pooling, EvidenceForTheShareByHand) {
  const std::vector<LoopSummary> two{loop({"mu_a"}, 0.75, 0.25), loop({"mu_a"}, 0.75, 0.25)};
  EXPECT_NEAR(next_loop(two, {0.6, 0, 0}).log_evidence - next_loop(two, {0, 0, 0}).log_evidence, 0.345900, 1e-5);
}

// With unequal precisions: posteriors N(0.9, 0.1) and N(-0.2, 0.8): y = 1 of variance 1/9 and -1 of variance 4. Share 0.5:
// weights 1/(0.5 + 1/9) = 1.636364 and 1/4.5 = 0.222222; V = 1/(2 + 1.858586) = 0.259162; mean = V (1.636364 - 0.222222)
// = 0.366492.
TEST(Pooling, TheSurerLoopCountsMore) {
  const NextLoop next = next_loop({loop({"mu_n"}, 0.9, 0.1), loop({"mu_n"}, -0.2, 0.8)}, {0.5, 0, 0});
  EXPECT_NEAR(next.mean[0], 0.366492, 1e-5);
  EXPECT_NEAR(next.covariance(0, 0), 0.759162, 1e-5);
}

// A loop that knows only the sum of two unknowns passes on the sum. z1 + z2 = s known with variance 1/9 of the direction
// (1, 1)/sqrt 2: in that direction as the row above, across it nothing.
TEST(Pooling, WhatIsKnownOnlyTogetherIsPassedOnTogether) {
  LoopSummary one = loop({"mu_n", "seed_nitrite_step unseeded"}, 0, 1);
  const Eigen::Vector2d along(std::sqrt(0.5), std::sqrt(0.5)), across(std::sqrt(0.5), -std::sqrt(0.5));
  one.covariance = 0.1 * along * along.transpose() + across * across.transpose();
  one.mean = 0.9 * along;
  const NextLoop next = next_loop({one}, {0.5, 0, 0});
  // V = 1/(2 + 1.636364) = 0.275, mean 0.45; next variance 0.775 along, 1 across.
  EXPECT_NEAR(along.dot(next.mean), 0.45, 1e-5);
  EXPECT_NEAR(across.dot(next.mean), 0, 1e-9);
  EXPECT_NEAR(along.dot(next.covariance * along), 0.775, 1e-5);
  EXPECT_NEAR(across.dot(next.covariance * across), 1, 1e-9);
  EXPECT_NEAR(along.dot(next.covariance * across), 0, 1e-9);
}

TEST(Pooling, SharesAreWeighed) {
  const Shares shares{0.6, 0.9, 0.9, 0.5};
  // Six loops that agree far from the middle have much in common; six spread as the prior says have not.
  std::vector<LoopSummary> alike, spread;
  for (int i = 0; i < 6; ++i) {
    alike.push_back(loop({"mu_a"}, 1.4, 0.05));
    spread.push_back(loop({"mu_a"}, i % 2 == 0 ? 1.4 : -1.4, 0.05));
  }
  const Learned a = pool(alike, shares), b = pool(spread, shares);
  EXPECT_GT(a.shift[0], 0.8);
  EXPECT_LT(a.covariance(0, 0), 0.65);
  EXPECT_NEAR(b.shift[0], 0, 1e-9);
  EXPECT_GT(b.covariance(0, 0), 0.85);
  // Nothing in common for certain: the plain prior.
  const Learned none = pool(alike, {0.6, 0.9, 0.9, 1});
  EXPECT_EQ(none.shift[0], 0);
  EXPECT_NEAR(none.covariance(0, 0), 1, 1e-12);
}

TEST(Pooling, NeverNarrowerThanTheFloor) {
  std::vector<LoopSummary> many;
  for (int i = 0; i < 12; ++i) many.push_back(loop({"kit_bias nitrite n1"}, 2.0, 1e-4));
  const Learned learned = pool(many, {1, 1, 1, 0.01});
  EXPECT_NEAR(std::sqrt(learned.covariance(0, 0)), kNarrowest, 1e-6);
}

// Draws of the prior itself say nothing, though their sample covariance is not 1: 1000 draws of 25 unknowns.
TEST(Pooling, SamplingNoiseTeachesNothing) {
  std::vector<LoopSummary> loops;
  for (std::uint32_t l = 0; l < 3; ++l) {
    LoopSummary s;
    const Draws random(7, l);
    Eigen::MatrixXd z(25, 1000);
    for (std::uint32_t k = 0; k < 25; ++k) {
      s.names.push_back("mu_a" + std::to_string(k));
      for (std::uint32_t i = 0; i < 1000; ++i) z(k, i) = random.normal(i, k);
    }
    s.mean = z.rowwise().mean();
    s.covariance = (z.colwise() - s.mean) * (z.colwise() - s.mean).transpose() / 1000;
    s.effective = 1000;
    loops.push_back(s);
  }
  const Learned learned = pool(loops, {0.6, 0.9, 0.9, 0});
  EXPECT_LT(learned.shift.cwiseAbs().maxCoeff(), 0.05);
  EXPECT_GT(learned.covariance.diagonal().minCoeff(), 0.95);
}

TEST(SharedName, HoldsWhatGivesTheNumberItsMeaning) {
  const auto a = tests::log_from("", "start = \"unseeded\"\n").loop, b = tests::log_from("", "start = \"bottled culture\"\n").loop;
  EXPECT_NE(shared_name(a, {}, "seed_nitrite_step"), shared_name(b, {}, "seed_nitrite_step"));
  EXPECT_EQ(shared_name(a, {}, "mu_n"), shared_name(b, {}, "mu_n"));
  EXPECT_EQ(shared_name(a, {}, "volume"), "");
  EXPECT_EQ(shared_name(a, {}, "unlogged_addition_0"), "");
  EXPECT_EQ(shared_name(a, {}, "feed_unknown"), "");
  records::Loop kits = a;
  kits.kits.resize(2);
  const std::vector<KitSlot> slots{{Channel::nitrite, 0}, {Channel::nitrite, 1}, {Channel::nitrite, -1}};
  EXPECT_EQ(shared_name(kits, slots, "kit_bias_0"), "");  // a kit nobody named
  EXPECT_EQ(shared_name(kits, slots, "kit_bias_2"), "");  // no kit at all
  kits.kits[0].id = kits.kits[1].id = "n1";
  kits.kits[1].lot = "7";
  EXPECT_NE(shared_name(kits, slots, "kit_bias_0"), "");
  EXPECT_NE(shared_name(kits, slots, "kit_bias_0"), shared_name(kits, slots, "kit_bias_1"));
}

TEST(LearnedPlaces, AffineOnItsOwnUnknownsAndNoOthers) {
  Learned learned;
  learned.names = {"mu_n", "mu_a", "k_alk"};
  learned.shift = Eigen::Vector3d(0.5, -0.25, 3);
  learned.covariance = Eigen::Matrix3d::Identity();
  learned.covariance(0, 0) = 0.36;
  learned.covariance(0, 1) = learned.covariance(1, 0) = 0.3;
  const auto log = tests::log_from("");
  const LearnedPlaces places(learned, log.loop, {}, {}, {"mu_a", "volume", "mu_n", "k_alk"}, {"k_alk"});
  // Root of [[1, 0.3], [0.3, 0.36]] (mu_a first): 1, 0.3, sqrt(0.36 - 0.09) = 0.519615.
  std::vector<double> z{1, 2, -1, 4};
  places.apply(z.data());
  EXPECT_NEAR(z[0], -0.25 + 1, 1e-12);
  EXPECT_EQ(z[1], 2);
  EXPECT_NEAR(z[2], 0.5 + 0.3 - 0.519615, 1e-6);
  EXPECT_EQ(z[3], 4);
  ASSERT_EQ(places.unknowns().size(), 2u);
  EXPECT_EQ(places.unknowns()[1].name, "mu_n");
  EXPECT_NEAR(places.unknowns()[1].scale, 0.6, 1e-12);
}

TEST(Looks, FromTheSecondClearNitriteAfterARise) {
  const char* rows =
      "2026-03-02T08:00,nitrite,0,mg/L as NO2,,n\n"   // has not risen yet
      "2026-03-10T08:00,nitrite,2,mg/L as NO2,,n\n"
      "2026-03-20T08:00,nitrite,0,mg/L as NO2,,n\n"
      "2026-03-22T08:00,nitrite,0,mg/L as NO2,,n\n"
      "2026-03-23T08:00,note,,,,\n";
  const auto log = tests::log_from(rows, "[[kit]]\ntest = \"nitrite\"\nid = \"n\"\nbasis = \"NO2\"\nsteps = [0, 0.5, 1, 2, 5]\n");
  EXPECT_TRUE(looks(log, log.entries[1].when).empty());
  const auto at_first = looks(log, log.entries[2].when);
  ASSERT_EQ(at_first.size(), 1u);  // the last entry by then
  const auto all = looks(log, log.entries[4].when);
  ASSERT_EQ(all.size(), 2u);
  EXPECT_EQ(all[0], log.entries[3].when);
  EXPECT_EQ(all[1], log.entries[4].when);
}

// A quick start-up with media that bring much, finished before day 30; names differ, or they would be taken for copies.
std::shared_ptr<records::LoopLog> earlier(int index, const std::string& name) {
  auto log = std::make_shared<records::LoopLog>(
      tests::simulate_loop(11, index, 30, {{"seed_ammonia_step", 0.5}, {"seed_nitrite_step", 0.5}, {"mu_n", 0.5}, {"source_alkalinity", 1}}).log);
  log->loop.name = name;
  return log;
}

class Histories : public ::testing::Test {
 protected:
  static void SetUpTestSuite() {
    // Seeded media (index 1 mod 4) finish soon.
    others_ = new std::vector<EarlierLoop>{{"a", earlier(1, "a")}, {"b", earlier(5, "b")}, {"c", earlier(9, "c")}};
    kept_ = new Checkpoints;
  }
  static HistoryOptions options() {
    HistoryOptions o;
    o.members = 1000;
    o.checkpoints = kept_;
    return o;
  }
  static std::shared_ptr<const History> at(double day, const std::vector<EarlierLoop>& others, const records::LoopLog& own) {
    return history_of(own, others, records::plus_days(*own.loop.started, day), options());
  }
  static std::vector<EarlierLoop>* others_;
  static Checkpoints* kept_;
};
std::vector<EarlierLoop>* Histories::others_ = nullptr;
Checkpoints* Histories::kept_ = nullptr;

TEST_F(Histories, OffUntilTwoAreFinished) {
  const auto own = *earlier(13, "own");
  EXPECT_EQ(at(30, {}, own)->learned, nullptr);
  const auto one = at(30, {others_->begin(), others_->begin() + 1}, own);
  EXPECT_EQ(one->learned, nullptr);
  EXPECT_TRUE(one->of.empty());
  const auto two = at(30, {others_->begin(), others_->begin() + 2}, own);
  EXPECT_EQ(two->of.size(), 2u);
  ASSERT_NE(two->learned, nullptr);
  EXPECT_EQ(two->learned->loops, 2);
}

TEST_F(Histories, OnlyWhatWasKnown) {
  const auto own = *earlier(13, "own");
  // All begin on the same day: on day 3 none is finished, whatever their logs say of later.
  EXPECT_EQ(at(3, *others_, own)->of.size(), 0u);
  EXPECT_EQ(at(30, *others_, own)->of.size(), 3u);
  // What comes after as_of changes nothing.
  std::vector<EarlierLoop> shorter;
  for (const EarlierLoop& other : *others_) {
    shorter.push_back({other.id, std::make_shared<records::LoopLog>(tests::cut(*other.log, records::plus_days(*own.loop.started, 25)))});
  }
  const auto a = at(25, *others_, own), b = at(25, shorter, own);
  ASSERT_NE(a->learned, nullptr);
  ASSERT_NE(b->learned, nullptr);
  EXPECT_EQ(a->learned->key, b->learned->key);
}

TEST_F(Histories, NeverFromTheLoopItselfNorTwiceFromACopy) {
  const auto own = *(*others_)[0].log;
  const auto without = at(30, *others_, own);
  EXPECT_EQ(without->of.size(), 2u);
  std::vector<EarlierLoop> twice = *others_;
  twice.push_back({"copy of b", (*others_)[1].log});
  EXPECT_EQ(at(30, twice, own)->of.size(), 2u);
}

TEST_F(Histories, SeedsAreNotTakenFromOtherStartTypes) {
  const auto own = *earlier(12, "own");  // unseeded
  const auto history = at(30, *others_, own);
  ASSERT_NE(history->learned, nullptr);
  OutlookOptions options;
  options.as_of = records::plus_days(*own.loop.started, 0.1);
  options.members = 1000;
  options.history = history;
  const Outlook o = outlook_of(own, options);
  EXPECT_EQ(o.history.of.size(), 3u);
  EXPECT_EQ(o.history.text, "Based on 3 earlier start-ups of yours.");
  bool rate = false;
  for (const LearnedUnknown& u : o.learnt) {
    EXPECT_FALSE(u.name.starts_with("seed_")) << u.name;
    rate = rate || u.name == "mu_n";
  }
  EXPECT_TRUE(rate);
}

TEST_F(Histories, KeptOnDiskTheyAreTheSame) {
  const auto folder = std::filesystem::temp_directory_path() / "helmwater_history_test";
  std::filesystem::remove_all(folder);
  const records::LoopLog& log = *(*others_)[0].log;
  HistoryOptions o = options();
  std::optional<FinishedStartUp> made, found;
  const auto start = std::chrono::steady_clock::now();
  {
    Checkpoints kept(folder);
    o.checkpoints = &kept;
    made = finished_by(log, log.entries.back().when, o);
  }
  ASSERT_TRUE(made);
  Checkpoints kept(folder);
  o.checkpoints = &kept;
  const auto begin = std::chrono::steady_clock::now();
  found = finished_by(log, log.entries.back().when, o);
  EXPECT_LT(std::chrono::steady_clock::now() - begin, (begin - start) / 3) << "computed anew";
  ASSERT_TRUE(found);
  EXPECT_EQ(found->when, made->when);
  EXPECT_EQ(found->summary.names, made->summary.names);
  EXPECT_EQ(found->summary.mean, made->summary.mean);
  EXPECT_EQ(found->summary.covariance, made->summary.covariance);

  // A file cut short is not believed.
  for (const auto& file : std::filesystem::directory_iterator(folder)) std::filesystem::resize_file(file.path(), file.file_size() - 40);
  Checkpoints spoiled(folder);
  o.checkpoints = &spoiled;
  const auto again = finished_by(log, log.entries.back().when, o);
  ASSERT_TRUE(again);
  EXPECT_EQ(again->summary.mean, made->summary.mean);
  std::filesystem::remove_all(folder);
}

}  // namespace
}  // namespace helmwater::infer
