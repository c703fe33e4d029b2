// SPDX-License-Identifier: Apache-2.0
// Several people who read the vials of one loop: each has a bias of his own beside the kit's.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>

#include "handbook/handbook.hpp"
#include "infer/carried.hpp"
#include "infer/learned.hpp"
#include "infer/posterior.hpp"
#include "infer/test_answers.hpp"
#include "log_text.hpp"

namespace helmwater::infer {
namespace {

constexpr char kKits[] = R"(
[[kit]]
id = "n1"
test = "nitrite"
basis = "NO2"
steps = [0, 0.25, 0.5, 1, 2, 5]
)";

// Rows of when,what,value,unit,detail,author.
records::LoopLog read_by(const std::string& rows, const std::string& more = "") {
  const auto loop = records::parse_loop_toml("name = \"Test loop\"\nvolume_l = 500\nstarted = 2026-03-01T08:00:00Z\n" + more, "loop.toml");
  if (!loop) throw std::runtime_error(loop.error().to_text());
  auto log = records::parse_log_csv(*loop, "when,what,value,unit,detail,author\n" + rows, "log.csv");
  if (!log) throw std::runtime_error(log.error().to_text());
  return *log;
}

// pH of still water, read by each of them `days` times at the same moments.
std::string ph_rows(int days, const std::vector<std::pair<std::string, double>>& readers) {
  std::string rows;
  for (int day = 0; day < days; ++day) {
    for (const auto& [name, shown] : readers) rows += fmt::format("2026-03-{:02}T09:00,ph,{:.2f},,,{}\n", 1 + day, shown, name);
  }
  return rows;
}

Posterior posterior_at_end(const records::LoopLog& log) {
  PosteriorOptions options;
  options.as_of = log.entries.back().when;
  return posterior_of(log, options);
}

struct Moments {
  double mean = 0, sd = 0;
};
template <class Take>
Moments moments(const Posterior& p, const Take& take) {
  Moments m;
  double square = 0;
  for (std::size_t i = 0; i < p.draws.weight.size(); ++i) {
    const double value = take(p.priors->member(p.draws.z.col(static_cast<Eigen::Index>(i)).data()));
    m.mean += p.draws.weight[i] * value;
    square += p.draws.weight[i] * value * value;
  }
  m.sd = std::sqrt(square - m.mean * m.mean);
  return m;
}

TEST(readers, from_the_second_named_one_on_each_has_a_bias_in_each_test_read_by_eye) {
  const std::string both = "2026-03-02T09:00,nitrite,0.5,mg/L,,Ann\n2026-03-02T09:00,ph,7.6,,,Ann\n"
                           "2026-03-03T09:00,nitrite,1,mg/L,,\n2026-03-04T09:00,nitrite,1,mg/L,, ann \n"
                           "2026-03-04T09:00,alkalinity,80,mg/L as CaCO3,,Ann\n2026-03-04T09:00,ph,7.61±0.05,,,Ann\n",
                    third = "2026-03-05T09:00,nitrite,2,mg/L,,Ben\n";
  const records::LoopLog log = read_by(both + third, kKits);
  const Evidence e = infer::evidence_from_log(log, *log.loop.started);
  ASSERT_EQ(e.observations.size(), 7u);
  ASSERT_EQ(e.people.size(), 4u);  // nitrite: Ann, nobody named, Ben; pH: Ann
  EXPECT_EQ(e.slots.size(), 3u);   // as without names: nitrite, pH, alkalinity
  for (const Observation& o : e.observations) {
    const bool has_one = o.kit_slot >= 0 && o.channel != Channel::alkalinity;
    EXPECT_EQ(o.person_slot >= 0, has_one) << o.line;
  }
  const auto of_line = [&](int line) {
    return std::find_if(e.observations.begin(), e.observations.end(), [&](const Observation& o) { return o.line == line; })->person_slot;
  };
  EXPECT_EQ(of_line(2), of_line(5));  // " ann " is Ann
  EXPECT_NE(of_line(2), of_line(4));
  EXPECT_NE(of_line(2), of_line(8));
  EXPECT_NE(of_line(4), of_line(8));
  // Those who dose but do not read do not count.
  const records::LoopLog alone = read_by(both + "2026-03-05T09:00,dose,1,g,ammonium chloride,Ben\n", kKits);
  EXPECT_TRUE(infer::evidence_from_log(alone, *alone.loop.started).people.empty());
  // Who comes later moves no kit to another place, so that what was carried under its name stays its own.
  const Evidence before = infer::evidence_from_log(alone, *alone.loop.started);
  ASSERT_EQ(before.slots.size(), e.slots.size());
  for (std::size_t i = 0; i < before.slots.size(); ++i) {
    EXPECT_EQ(before.slots[i].channel, e.slots[i].channel);
    EXPECT_EQ(before.slots[i].kit, e.slots[i].kit);
  }
}

TEST(readers, the_bias_is_that_of_kit_and_person) {
  Member m;
  m.kit_bias = {0.1, 0.2};
  m.person_bias = {0.01, 0.02};
  Observation o;
  EXPECT_EQ(bias_of(o, m), 0);
  o.kit_slot = 1;
  EXPECT_EQ(bias_of(o, m), 0.2);
  o.person_slot = 0;
  EXPECT_DOUBLE_EQ(bias_of(o, m), 0.21);
}

// To the last digit what it was: no unknown is added, no draw moves.
TEST(readers, one_named_reader_or_none_changes_nothing) {
  const Posterior unnamed = posterior_at_end(read_by(ph_rows(6, {{"", 7.6}}))), ann = posterior_at_end(read_by(ph_rows(6, {{"Ann", 7.6}})));
  EXPECT_EQ(unnamed.priors->names(), ann.priors->names());
  EXPECT_EQ(unnamed.draws.z, ann.draws.z);
  EXPECT_EQ(unnamed.draws.weight, ann.draws.weight);
}

// Two people read the same water side by side n times, one 0.2 pH above the other. Each pair's difference is normal about that
// of their biases with variance 2 s^2; the biases are normal with sd t each. Normal-normal conjugacy (any textbook of Bayesian
// statistics, for example Gelman et al., Bayesian Data Analysis, 2.5): mean 0.2 k and variance 2 t^2 (1 - k), with
// k = 2 t^2 / (2 t^2 + 2 s^2 / n). The pairs' means, and so water and kit, are independent of the differences. s is the 0.2
// of a plain pH number. Misreads, 1 in 20, are far off and take next to nothing of it.
TEST(readers, two_who_differ_by_a_constant_are_told_apart) {
  constexpr int n = 28;
  constexpr double offset = 0.2;
  const double t = handbook::Handbook::built_in().prior("person_bias_ph").b, s = 0.2;
  const records::LoopLog log = read_by(ph_rows(n, {{"Ann", 8.0}, {"Ben", 8.2}}));
  const Posterior p = posterior_at_end(log);
  ASSERT_EQ(p.evidence.people.size(), 2u);
  ASSERT_FALSE(p.conflict.said()) << p.conflict.p << p.conflict.text;
  const double k = 2 * t * t / (2 * t * t + 2 * s * s / n);
  const Moments apart = moments(p, [](const Member& m) { return m.person_bias[1] - m.person_bias[0]; });
  EXPECT_NEAR(apart.mean, offset * k, 0.006);  // four standard errors of 1100 draws
  EXPECT_NEAR(apart.sd, t * std::sqrt(2 * (1 - k)), 0.004);

  // What Ann's vials add is less sure than what the vials of one nameless reader add: his bias is within the kit's.
  const Posterior alone = posterior_at_end(read_by(ph_rows(n, {{"", 8.0}, {"", 8.2}})));
  const Moments ann = moments(p, [](const Member& m) { return m.kit_bias[0] + m.person_bias[0]; }),
                one = moments(alone, [](const Member& m) { return m.kit_bias[0]; });
  EXPECT_GT(ann.sd, one.sd);
}

TEST(readers, the_next_vial_is_taken_to_be_read_by_who_read_the_last) {
  const std::string rows = "2026-03-02T09:00,nitrite,0.5,mg/L,,Ann\n2026-03-03T09:00,nitrite,0.5,mg/L,,Ben\n";
  const records::LoopLog log = read_by(rows, kKits);
  Posterior p;
  p.start = *log.loop.started;
  p.as_of = log.entries.back().when;
  p.evidence = evidence_from_log(log, p.start);
  const auto answers = [&](records::Test test) {
    return answers_of_test(log, p, test, records::plus_days(p.as_of, 1)).cells.front();
  };
  const Observation nitrite = answers(records::Test::nitrite), ammonia = answers(records::Test::ammonia);
  EXPECT_EQ(nitrite.person_slot, p.evidence.observations.back().person_slot);
  EXPECT_EQ(ammonia.person_slot, -1);  // nobody has read any: as wide as a person's bias
  Posterior unnamed = p;
  unnamed.evidence.people.clear();
  const double plain = noise_on_scale(answers_of_test(log, unnamed, records::Test::ammonia, records::plus_days(p.as_of, 1)).cells.front());
  EXPECT_NEAR(noise_on_scale(ammonia), std::hypot(plain, handbook::Handbook::built_in().prior("person_bias").b), 1e-12);
}

TEST(readers, a_person_is_the_same_in_another_loop_by_name_and_test) {
  const records::Loop loop = read_by("").loop;
  const std::vector<PersonSlot> people{{Channel::nitrite, "ann"}, {Channel::ph, "ann"}, {Channel::nitrite, ""}, {Channel::nitrite, "ben"}};
  EXPECT_NE(shared_name(loop, {}, "person_bias_0", people), "");
  EXPECT_NE(shared_name(loop, {}, "person_bias_0", people), shared_name(loop, {}, "person_bias_1", people));
  EXPECT_NE(shared_name(loop, {}, "person_bias_0", people), shared_name(loop, {}, "person_bias_3", people));
  EXPECT_EQ(shared_name(loop, {}, "person_bias_2", people), "");
  EXPECT_EQ(shared_name(loop, {}, "person_bias_4", people), "");
}

TEST(readers, a_persons_bias_does_not_wander_from_window_to_window) {
  CarryInput input;
  input.day = 30;
  input.names = {"person_bias_0", "mu_a"};
  input.z = Eigen::MatrixXd::Random(2, 400);
  input.weight.assign(400, 1.0 / 400);
  input.effective = 400;
  input.water.resize(400);
  input.tracks.resize(400);
  const Carried c = carry(input);
  ASSERT_EQ(c.names[0], "person_bias_0");
  // What stays keeps the draws' own ends; what wanders gets noise on top.
  EXPECT_LE(c.marginals[0].value.back(), input.z.row(0).maxCoeff());
  EXPECT_GT(c.marginals[1].value.back(), input.z.row(1).maxCoeff());
}

}  // namespace
}  // namespace helmwater::infer
