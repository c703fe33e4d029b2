// SPDX-License-Identifier: Apache-2.0
// The same members come to the same water whatever instruction set the processor brings. The members are drawn once per
// loop and run by each set in turn: the sampler chooses its rounds and draws by comparing numbers, so that a difference in
// the last digit may give it other draws, as another seed would; that is no matter of the integrator.
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <string>
#include <vector>

#include "infer/block_of.hpp"
#include "infer/member_block.hpp"
#include "infer/parallel.hpp"
#include "infer/posterior.hpp"
#include "infer/quantiles.hpp"
#include "infer/timeline_from_log.hpp"
#include "infer/windows.hpp"
#include "loop/grid.hpp"
#include "simulated_loop.hpp"

namespace helmwater::infer {
namespace {

constexpr int kMembers = 1000;
constexpr double kAhead = 30;  // d
constexpr const char* kNames[] = {"ammonia", "nitrite", "nitrate", "pH", "alkalinity"};  // by BlockForecast::series

// Simulated loop `index`, read for 20 days; number 4 then gets fish, feed and plants, which simulated loops do without.
records::LoopLog log_of(int index) {
  records::LoopLog log = tests::simulate_loop(53, index, 20).log;
  if (index != 4) return log;
  const records::Instant from = log.entries.back().when;
  const auto add = [&](double day, records::Body body) {
    records::Entry e;
    e.line = log.entries.back().line + 1;
    e.when = records::plus_days(from, day);
    e.body = std::move(body);
    log.entries.push_back(std::move(e));
  };
  records::FishMove fish;
  fish.count = 20;
  fish.species = "tilapia";
  add(0.1, fish);
  records::PlantMove plants;
  plants.area = units::SquareMetres{2};
  plants.crop = "lettuce";
  add(0.2, plants);
  records::Feed feed;
  feed.amount = units::Grams{15};
  for (double day = 0.3; day < 5; day += 1) add(day, feed);
  return log;
}

// Everything a forecast of this loop needs, made once.
struct Task {
  Posterior posterior;
  loop::Timeline timeline;
  std::vector<double> days;  // every 6 h, and as_of
  std::vector<loop::Environment> environments;
  loop::Grid grid;
  double as_of_day = 0;
  std::vector<MemberBlock> blocks;
};

Task task_of(const records::LoopLog& log) {
  Task t;
  PosteriorOptions options;
  options.as_of = log.entries.back().when;
  options.members = kMembers;
  options.effective_wanted = 300;
  t.posterior = posterior_of(log, options);
  t.as_of_day = records::days_between(t.posterior.start, t.posterior.as_of);
  const double end_day = t.as_of_day + kAhead;
  for (double day = 0; day <= end_day; day += 0.25) t.days.push_back(day);
  t.days.insert(std::upper_bound(t.days.begin(), t.days.end(), t.as_of_day), t.as_of_day);
  t.timeline = timeline_from_log(log, t.posterior.start, t.posterior.as_of, end_day, true, {},
                                 window_start(t.posterior.start, nullptr));
  for (double day : t.days) t.environments.push_back(t.timeline.environment(day));
  t.grid = loop::make_grid(t.timeline, {}, t.days, end_day, t.posterior.steps());
  const int members = static_cast<int>(t.posterior.draws.weight.size());
  for (int first = 0; first < members; first += kBlockLanes) {
    std::vector<Member> some;
    for (int m = first; m < std::min(first + kBlockLanes, members); ++m) {
      some.push_back(t.posterior.priors->member(t.posterior.draws.z.col(m).data()));
    }
    t.blocks.push_back(block_of(some.data(), static_cast<int>(some.size())));
  }
  return t;
}

// [quantity][time * stride + member]
struct Courses {
  std::size_t stride = 0;
  std::array<std::vector<float>, 5> of;
};

Courses run(const Task& t, const MemberBlockFunctions& set) {
  Courses out;
  out.stride = t.blocks.size() * kBlockLanes;
  for (auto& course : out.of) course.assign(t.days.size() * out.stride, NAN);
  parallel_for(static_cast<int>(t.blocks.size()), [&](int block) {
    const auto b = static_cast<std::size_t>(block);
    BlockForecast task;
    task.timeline = &t.timeline;
    task.grid = &t.grid;
    task.series_days = &t.days;
    task.environments = &t.environments;
    task.as_of_day = t.as_of_day;
    task.end_day = t.days.back();
    task.load_tan = 0;  // readiness is a date, not part of the course
    task.stride = out.stride;
    for (std::size_t k = 0; k < out.of.size(); ++k) task.series[k] = out.of[k].data() + b * kBlockLanes;
    BlockTrack track{};
    set.forecast(task, t.blocks[b], track);
  });
  return out;
}

// Two sets agree if every quantile does within this share of the band from p05 to p95, or within the floor where there is
// no band (water nobody has touched yet). Both are requirements of ours.
constexpr double kShareOfBand = 0.005, kFloor = 1e-4;  // floor: mg/L, pH

struct Difference {
  std::size_t outside = 0, of = 0;
  double worst = 0;  // share of the band
  std::string where;
};

Difference difference(const Courses& a, const Courses& b, const std::vector<double>& days, const std::vector<double>& weight) {
  Difference d;
  QuantilesByDigits quantiles_of;
  for (std::size_t k = 0; k < a.of.size(); ++k) {
    for (std::size_t i = 0; i < days.size(); ++i) {
      const Quantiles x = quantiles_of(a.of[k].data() + i * a.stride, weight.data(), weight.size());
      const Quantiles y = quantiles_of(b.of[k].data() + i * b.stride, weight.data(), weight.size());
      const double width = x.p95 - x.p05;
      for (const double apart : {x.p05 - y.p05, x.p25 - y.p25, x.p50 - y.p50, x.p75 - y.p75, x.p95 - y.p95}) {
        ++d.of;
        if (!(std::abs(apart) <= std::max(kShareOfBand * width, kFloor))) ++d.outside;
        if (std::abs(apart) > kFloor && std::abs(apart) / width > d.worst) {
          d.worst = std::abs(apart) / width;
          d.where = std::string(kNames[k]) + " on day " + std::to_string(days[i]);
        }
      }
    }
  }
  return d;
}

class InstructionSets : public testing::TestWithParam<int> {};

TEST_P(InstructionSets, bring_the_same_members_to_the_same_quantiles) {
  const std::vector<const MemberBlockFunctions*> sets = member_block_sets();
  if (sets.size() < 2) GTEST_SKIP() << "this processor has one set alone";
  const Task task = task_of(log_of(GetParam()));
  ASSERT_GE(task.posterior.draws.weight.size(), 300u);
  ASSERT_EQ(task.posterior.carried, nullptr);
  const Courses plain = run(task, *sets[0]);
  for (std::size_t s = 1; s < sets.size(); ++s) {
    const Difference d = difference(plain, run(task, *sets[s]), task.days, task.posterior.draws.weight);
    std::printf("loop %d, %s: worst quantile apart by %.4f %% of its band (%s)\n", GetParam(), sets[s]->instructions,
                100 * d.worst, d.where.c_str());
    ASSERT_GE(d.of, 5u * 5 * 4 * 45);  // five quantiles of five quantities every 6 h of some 50 days
    EXPECT_EQ(d.outside, 0u) << sets[s]->instructions << ": of " << d.of << "; worst " << 100 * d.worst << " % of its band, "
                             << d.where;
  }
}

INSTANTIATE_TEST_SUITE_P(Loop, InstructionSets, testing::Range(0, 5));

// The comparison sees one quantile of one moment that is a little too far off, and a number that is none.
TEST(InstructionSetsDifference, finds_one_planted_quantile) {
  constexpr std::size_t kValues = 401, kTimes = 3;
  const std::vector<double> days{0, 0.25, 0.5}, weight(kValues, 1.0 / kValues);
  Courses a;
  a.stride = kValues;
  for (auto& course : a.of) {
    for (std::size_t i = 0; i < kTimes * kValues; ++i) course.push_back(static_cast<float>(i % kValues) / 100);
  }
  EXPECT_EQ(difference(a, a, days, weight).outside, 0u);
  // From 0 to 4: the band is 3.6 wide, 0.5 % of it 0.018; the median is value 200.
  const auto moved = [&](float by) {
    Courses b = a;
    for (std::size_t v = 200; v < 205; ++v) b.of[3][kValues + v] += by;
    return difference(a, b, days, weight).outside;
  };
  EXPECT_EQ(moved(0.008f), 0u);
  EXPECT_EQ(moved(0.03f), 1u);
  Courses lost = a;
  for (std::size_t v = 0; v < kValues; ++v) lost.of[1][2 * kValues + v] = NAN;
  EXPECT_EQ(difference(a, lost, days, weight).outside, 5u);
}

}  // namespace
}  // namespace helmwater::infer
