// SPDX-License-Identifier: Apache-2.0
#include "engine_runs.hpp"
#include "infer/block_of.hpp"

namespace helmwater::bench {

PackEngine::PackEngine(const StartupProblem& problem, const infer::MemberBlockFunctions& set,
                       const NamedGrid& grid)
    : problem_(problem), set_(set), grid_(grid) {
  std::vector<infer::Member> members(problem.members.size());
  for (std::size_t m = 0; m < members.size(); ++m) {
    members[m].parameters = problem.members[m].parameters;
    members[m].start = problem.members[m].start;
    members[m].ln_h = problem.members[m].ln_h;
  }
  for (std::size_t first = 0; first < members.size(); first += infer::kBlockLanes) {
    blocks_.push_back(infer::block_of(members.data() + first, infer::kBlockLanes));
  }
  waters_.resize(blocks_.size() * problem.days.size());
  if (!grid.halved.steps.empty()) waters_halved_.resize(waters_.size());
}

void PackEngine::run(const loop::Grid& grid, std::vector<infer::BlockWater>& waters) {
  for (std::size_t b = 0; b < blocks_.size(); ++b) {
    set_.water_at_readings(problem_.timeline, grid, blocks_[b], waters.data() + b * problem_.days.size());
  }
}

void PackEngine::run() {
  run(grid_.grid, waters_);
  if (!waters_halved_.empty()) run(grid_.halved, waters_halved_);
}

std::vector<double> PackEngine::last_nitrogen() const {
  std::vector<double> all;
  for (std::size_t m = 0; m < problem_.members.size(); ++m) {
    const std::size_t lane = m % infer::kBlockLanes;
    const auto& y = waters_[(m / infer::kBlockLanes + 1) * problem_.days.size() - 1].y;
    double sum = 0;
    for (float pool : {y.tan.v[lane], y.no2.v[lane], y.no3.v[lane], y.org_n.v[lane], y.urea_n.v[lane]}) {
      sum += static_cast<double>(pool);
    }
    all.push_back(sum);
  }
  return all;
}

Courses PackEngine::courses() const {
  Courses all(problem_.members.size());
  for (std::size_t m = 0; m < all.size(); ++m) {
    const std::size_t lane = m % infer::kBlockLanes;
    for (std::size_t k = 0; k < problem_.days.size(); ++k) {
      const std::size_t at = m / infer::kBlockLanes * problem_.days.size() + k;
      const auto& y = waters_[at].y;
      Pools pools{y.tan.v[lane], y.no2.v[lane], y.no3.v[lane]};
      if (!waters_halved_.empty()) {
        const auto& fine = waters_halved_[at].y;
        pools = {(4 * fine.tan.v[lane] - pools.tan) / 3, (4 * fine.no2.v[lane] - pools.no2) / 3,
                 (4 * fine.no3.v[lane] - pools.no3) / 3};
      }
      all[m].push_back(pools);
    }
  }
  return all;
}

}  // namespace helmwater::bench
