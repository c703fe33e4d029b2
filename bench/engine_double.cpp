// SPDX-License-Identifier: Apache-2.0
#include "engine_runs.hpp"
#include "loop/simulate.hpp"

namespace helmwater::bench {
namespace {

struct Samples {
  std::vector<Pools>& seen;
  void observe(int, const loop::State<double>& y, double) { seen.push_back({y.tan, y.no2, y.no3}); }
  void series(int, const loop::State<double>&, double) {}
  void step(double, const loop::State<double>&, double, const loop::State<double>&) {}
};

// Flattened: other parts of this program hold the same templates compiled for plainer processors.
[[gnu::flatten]] void walk(const loop::Timeline& timeline, const loop::Grid& grid, const Member& m,
                           std::vector<Pools>& seen) {
  Samples samples{seen};
  loop::simulate(timeline, grid, m.parameters, m.start, m.ln_h, samples);
}

}  // namespace

Courses by_double(const StartupProblem& problem, const NamedGrid& grid) {
  Courses all;
  for (const Member& m : problem.members) {
    std::vector<Pools> seen, fine;
    seen.reserve(problem.days.size());
    walk(problem.timeline, grid.grid, m, seen);
    if (!grid.halved.steps.empty()) {
      walk(problem.timeline, grid.halved, m, fine);
      for (std::size_t k = 0; k < seen.size(); ++k) {
        seen[k] = {(4 * fine[k].tan - seen[k].tan) / 3, (4 * fine[k].no2 - seen[k].no2) / 3,
                   (4 * fine[k].no3 - seen[k].no3) / 3};
      }
    }
    all.push_back(std::move(seen));
  }
  return all;
}

}  // namespace helmwater::bench
