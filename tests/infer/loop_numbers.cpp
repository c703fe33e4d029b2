// SPDX-License-Identifier: Apache-2.0
// Numbers of a few simulated loops, to be compared between processors (tests/aarch64). Lines of three kinds:
//   state NAME VALUE            water of one member at one reading (mg N/L, meq/L, mmol/L, ln of mol/L)
//   band NAME V05 V25 V50 V75 V95   quantiles of many members' water every 6 h, the plan acting after the log
//   with NAME TEXT              what the program ran on; not compared
// The members are given, not sampled: a sampler chooses its rounds and draws by comparing numbers, so that a difference in
// the last digit may give it other draws, as another seed would. A whole outlook is made all the same, and must be finite.
#include <cmath>
#include <cstdio>
#include <string>
#include <vector>

#include "infer/forecast.hpp"
#include "infer/outlook.hpp"
#include "infer/random.hpp"
#include "infer/timeline_from_log.hpp"
#include "loop/grid.hpp"
#include "simulated_loop.hpp"

namespace {

using namespace helmwater;

constexpr std::uint64_t kLoops = 77;  // any; the loops of tests/infer/simulated_loop.hpp
constexpr int kDays = 10;  // emulation is two hundred times slower than the machine: short logs

constexpr double kAhead = 20;  // d

// A posterior of `count` members about the loop's truth, half a standard deviation of the prior away in each unknown: about
// as far apart as those of a posterior.
infer::Posterior members_about(const tests::SimulatedLoop& made, int count) {
  infer::Posterior given = tests::truth_as_posterior(made, made.log, made.log.entries.back().when);
  const infer::Draws random(kLoops, 0xAA64u);
  given.draws.z = given.draws.z.col(0).replicate(1, count).eval();
  for (Eigen::Index m = 0; m < given.draws.z.cols(); ++m) {
    for (Eigen::Index d = 0; d < given.draws.z.rows(); ++d) {
      given.draws.z(d, m) += 0.5 * random.normal(static_cast<std::uint32_t>(m), static_cast<std::uint32_t>(d));
    }
  }
  given.draws.weight.assign(static_cast<std::size_t>(count), 1.0 / count);
  return given;
}

// A block of members at every reading of the loop.
void print_states(int index) {
  const tests::SimulatedLoop made = tests::simulate_loop(kLoops, index, kDays);
  const infer::Posterior given = members_about(made, infer::kBlockLanes);
  std::vector<infer::Member> members;
  for (Eigen::Index m = 0; m < given.draws.z.cols(); ++m) members.push_back(given.priors->member(given.draws.z.col(m).data()));
  std::vector<double> days;
  for (const infer::Observation& o : given.evidence.observations) days.push_back(o.day);
  const loop::Timeline timeline = infer::timeline_from_log(made.log, given.start, given.start, days.back(), false);
  const loop::Grid grid = loop::make_grid(timeline, days, {}, days.back());
  std::vector<infer::BlockWater> waters(days.size());
  infer::member_block_functions().water_at_readings(timeline, grid, infer::block_of(members.data(), infer::kBlockLanes),
                                                    waters.data());
  for (std::size_t k = 0; k < waters.size(); ++k) {
    for (int lane = 0; lane < infer::kBlockLanes; ++lane) {
      const auto print = [&](const char* what, const infer::Lanes& lanes) {
        std::printf("state loop%d/reading%zu/member%d/%s %.9g\n", index, k, lane, what, static_cast<double>(lanes.v[lane]));
      };
      print("tan", waters[k].y.tan);
      print("no2", waters[k].y.no2);
      print("no3", waters[k].y.no3);
      print("alk", waters[k].y.alk);
      print("dic", waters[k].y.dic);
      print("r_a", waters[k].y.r_a);
      print("r_n", waters[k].y.r_n);
      print("ln_h", waters[k].ln_h);
    }
  }
}

void print_bands(int index) {
  const tests::SimulatedLoop made = tests::simulate_loop(kLoops, index, kDays);
  const infer::Forecast f = infer::forecast(made.log, members_about(made, 12 * infer::kBlockLanes), kAhead, true);
  const std::vector<infer::SeriesQuantiles> bands = infer::series_quantiles(f);
  const char* const names[] = {"ammonia", "nitrite", "nitrate", "ph", "alkalinity"};
  for (std::size_t t = 0; t < bands.size(); ++t) {
    for (std::size_t k = 0; k < infer::Forecast::kQuantities; ++k) {
      const infer::Quantiles& q = bands[t][k];
      std::printf("band loop%d/time%zu/%s %.9g %.9g %.9g %.9g %.9g\n", index, t, names[k], q.p05, q.p25, q.p50, q.p75, q.p95);
    }
  }
}

// Sampler and all: whether it comes to an end with numbers.
bool outlook_is_finite(int index) {
  infer::OutlookOptions options;
  options.members = 200;
  options.days = 5;
  const infer::Outlook outlook = infer::outlook_of(tests::simulate_loop(kLoops, index, kDays).log, options);
  std::printf("with loop%d/outlook %s, effective members %.9g\n", index, outlook.engine.c_str(), outlook.effective_members);
  bool finite = !outlook.series.empty() && outlook.effective_members > 1;
  for (const auto& moment : outlook.series) {
    for (const infer::Quantiles& q : moment.of) {
      for (double value : {q.p05, q.p25, q.p50, q.p75, q.p95}) finite = finite && std::isfinite(value);
    }
  }
  if (!finite) std::fprintf(stderr, "the outlook of loop %d has no members or quantiles that are not numbers\n", index);
  return finite;
}

}  // namespace

int main() {
  for (const int index : {0, 1}) print_states(index);
  for (const int index : {0, 1, 2}) print_bands(index);
  return outlook_is_finite(1) ? 0 : 1;
}
