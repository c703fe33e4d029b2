// SPDX-License-Identifier: Apache-2.0
#include "infer/predict.hpp"

#include <algorithm>

#include "infer/parallel.hpp"
#include "infer/timeline_from_log.hpp"
#include "loop/grid.hpp"

namespace helmwater::infer {

void each_predicted_reading(const records::LoopLog& log, const Posterior& posterior,
                            const std::vector<Observation>& observations,
                            const std::function<void(std::size_t, std::size_t, double, double)>& use) {
  if (observations.empty()) return;
  const double end_day = observations.back().day;
  const loop::Timeline timeline = timeline_from_log(log, posterior.start, posterior.as_of, end_day, false, {},
                                                    window_start(posterior.start, posterior.carried.get()));
  std::vector<double> days;
  for (const Observation& o : observations) days.push_back(o.day);
  const loop::Grid grid = loop::make_grid(timeline, days, {}, end_day, posterior.steps(), posterior.window_day());
  const MemberBlockFunctions& run = member_block_functions();
  const int count = static_cast<int>(posterior.draws.weight.size());
  const int blocks = (count + kBlockLanes - 1) / kBlockLanes;
  parallel_for(blocks, [&](int block) {
    const int first = block * kBlockLanes, lanes = std::min(kBlockLanes, count - first);
    std::vector<Member> members;
    for (int lane = 0; lane < lanes; ++lane) {
      members.push_back(posterior.priors->member(posterior.draws.z.col(first + lane).data()));
    }
    std::vector<BlockWater> waters(observations.size());
    run.water_at_readings(timeline, grid, block_of(members.data(), lanes), waters.data());
    for (int lane = 0; lane < lanes; ++lane) {
      const Member& m = members[static_cast<std::size_t>(lane)];
      for (std::size_t k = 0; k < observations.size(); ++k) {
        const Observation& o = observations[k];
        const double bias = bias_of(o, m);
        use(k, static_cast<std::size_t>(first + lane), met_value(o, met_of(waters[k], lane), m.nitrate_efficiency), bias);
      }
    }
  });
}

}  // namespace helmwater::infer
