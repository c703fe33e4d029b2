// SPDX-License-Identifier: Apache-2.0
#include "infer/certificate.hpp"

#include <algorithm>
#include <cmath>

#include "infer/block_of.hpp"
#include "loop/grid.hpp"

namespace helmwater::infer {
namespace {

// [block * days + day]
std::vector<BlockWater> waters_on(const loop::Timeline& timeline, const std::vector<double>& days, double start_day,
                                  double end_day, const std::vector<Member>& members, double refine) {
  loop::GridSteps steps;
  steps.refine = refine;
  const loop::Grid grid = loop::make_grid(timeline, days, {}, end_day, steps, start_day);
  const std::size_t blocks = (members.size() + kBlockLanes - 1) / kBlockLanes;
  std::vector<BlockWater> waters(blocks * days.size());
  for (std::size_t b = 0; b < blocks; ++b) {
    const std::size_t first = b * kBlockLanes, count = std::min<std::size_t>(kBlockLanes, members.size() - first);
    member_block_functions().water_at_readings(timeline, grid, block_of(&members[first], static_cast<int>(count)),
                                               &waters[b * days.size()]);
  }
  return waters;
}

// +infinity if a member is lost on either grid.
double largest_difference(const std::vector<BlockWater>& a, const std::vector<BlockWater>& b) {
  double largest = 0;
  const auto compare = [&](const Lanes& x, const Lanes& y) {
    for (int lane = 0; lane < kBlockLanes; ++lane) {
      const double apart = std::abs(static_cast<double>(x.v[lane]) - static_cast<double>(y.v[lane]));
      largest = std::isfinite(apart) ? std::max(largest, apart) : INFINITY;
      if (std::isinf(largest)) return;
    }
  };
  for (std::size_t i = 0; i < a.size() && !std::isinf(largest); ++i) {
    compare(a[i].y.tan, b[i].y.tan);
    if (!std::isinf(largest)) compare(a[i].y.no2, b[i].y.no2);
    if (!std::isinf(largest)) compare(a[i].y.no3, b[i].y.no3);
  }
  return largest;
}

}  // namespace

Certificate certify(const loop::Timeline& timeline, const std::vector<double>& observe_days, double start_day,
                    double end_day, const std::vector<Member>& members, double from_refine) {
  Certificate c;
  c.refine = from_refine;
  if (observe_days.empty() || members.empty()) return c;
  std::vector<BlockWater> here = waters_on(timeline, observe_days, start_day, end_day, members, c.refine);
  for (;;) {
    std::vector<BlockWater> finer = waters_on(timeline, observe_days, start_day, end_day, members, 2 * c.refine);
    c.error_mg_n_l = 4.0 / 3 * largest_difference(here, finer);
    c.certified = c.error_mg_n_l <= kErrorAllowed;
    if (c.certified || c.refine >= kMostRefined) return c;
    c.refine *= 2;
    here = std::move(finer);
  }
}

}  // namespace helmwater::infer
