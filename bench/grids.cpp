// SPDX-License-Identifier: Apache-2.0
#include "grids.hpp"

#include <fmt/format.h>

namespace helmwater::bench {
namespace {

loop::Grid halved(const loop::Grid& grid, const loop::Timeline& timeline) {
  loop::Grid out;
  for (std::size_t i = 0; i < grid.steps.size(); ++i) {
    const loop::Step& step = grid.steps[i];
    out.nodes.push_back(grid.nodes[i]);
    loop::Node between;
    between.day = grid.nodes[i].day + step.days / 2;
    between.environment = timeline.environment(between.day);
    out.nodes.push_back(between);
    out.steps.push_back(step);
    out.steps.back().days = step.days / 2;
    out.steps.push_back(out.steps.back());
    out.steps.back().after_event = false;
  }
  out.nodes.push_back(grid.nodes.back());
  return out;
}

}  // namespace

NamedGrid divided_grid(const StartupProblem& problem, double refine) {
  loop::GridSteps steps;
  steps.refine = refine;
  NamedGrid out;
  out.name = refine == 1  ? "default"
             : refine < 1 ? fmt::format("default x {:g}", 1 / refine)
                          : fmt::format("default / {:g}", refine);
  out.grid = loop::make_grid(problem.timeline, problem.days, {}, kDays, steps);
  return out;
}

NamedGrid extrapolated_grid(const StartupProblem& problem, double refine) {
  NamedGrid out = divided_grid(problem, refine);
  out.name += " + halved";
  out.halved = halved(out.grid, problem.timeline);
  return out;
}

}  // namespace helmwater::bench
