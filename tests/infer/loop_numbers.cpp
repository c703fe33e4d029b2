// SPDX-License-Identifier: Apache-2.0
// Numbers of a few simulated loops, to be compared between processors (tests/aarch64). Lines of three kinds:
//   state NAME VALUE            water of one member at one reading (mg N/L, meq/L, mmol/L, ln of mol/L)
//   band NAME V05 V25 V50 V75 V95   quantiles of an outlook
//   with NAME TEXT              what the program ran on; not compared
#include <cstdio>
#include <string>
#include <vector>

#include "infer/outlook.hpp"
#include "infer/random.hpp"
#include "infer/timeline_from_log.hpp"
#include "loop/grid.hpp"
#include "simulated_loop.hpp"

namespace {

using namespace helmwater;

constexpr std::uint64_t kLoops = 77;  // any; the loops of tests/infer/simulated_loop.hpp
constexpr int kDays = 10;  // emulation is two hundred times slower than the machine: short logs

// Sixteen members drawn from the prior, at every reading of the loop.
void print_states(int index) {
  const records::LoopLog log = tests::simulate_loop(kLoops, index, kDays).log;
  const records::Instant start = *log.loop.started;
  const infer::Evidence evidence = infer::evidence_from_log(log, start);
  const infer::Priors priors(log, evidence);
  const infer::Draws random(kLoops, 0xAA64u);
  std::vector<infer::Member> members;
  for (std::uint32_t m = 0; m < loop::kLanes; ++m) {
    std::vector<double> z;
    for (int d = 0; d < priors.dimensions(); ++d) z.push_back(random.normal(m, static_cast<std::uint32_t>(d)));
    members.push_back(priors.member(z.data()));
  }
  std::vector<double> days;
  for (const infer::Observation& o : evidence.observations) days.push_back(o.day);
  const loop::Timeline timeline = infer::timeline_from_log(log, start, start, days.back(), false);
  const loop::Grid grid = loop::make_grid(timeline, days, {}, days.back());
  std::vector<infer::BlockWater> waters(days.size());
  infer::member_block_functions().water_at_readings(timeline, grid, infer::block_of(members.data(), loop::kLanes),
                                                    waters.data());
  for (std::size_t k = 0; k < waters.size(); ++k) {
    for (int lane = 0; lane < loop::kLanes; ++lane) {
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

void print_outlook(int index) {
  const records::LoopLog log = tests::simulate_loop(kLoops, index, kDays).log;
  infer::OutlookOptions options;
  options.members = 400;
  options.days = 20;
  const infer::Outlook outlook = infer::outlook_of(log, options);
  std::printf("with loop%d/outlook %s, effective members %.9g\n", index, outlook.engine.c_str(), outlook.effective_members);
  const char* const names[] = {"ammonia", "nitrite", "nitrate", "ph", "alkalinity"};
  for (std::size_t t = 0; t < outlook.series.size(); ++t) {
    for (std::size_t k = 0; k < infer::Forecast::kQuantities; ++k) {
      const infer::Quantiles& q = outlook.series[t].of[k];
      std::printf("band loop%d/time%zu/%s %.9g %.9g %.9g %.9g %.9g\n", index, t, names[k], q.p05, q.p25, q.p50, q.p75, q.p95);
    }
  }
}

}  // namespace

int main() {
  for (const int index : {0, 1}) print_states(index);
  print_outlook(1);
}
