// SPDX-License-Identifier: Apache-2.0
#include "nitrogen_balance.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "engine_runs.hpp"
#include "loop/simulate.hpp"

namespace helmwater::bench {
namespace {

template <class Y>
double nitrogen(const Y& y) {
  return y.tan + y.no2 + y.no3 + y.org_n + y.urea_n;
}

// What one member's water began with and was given, mg N/L.
double given(const StartupProblem& problem, const Member& m) {
  double sum = nitrogen(m.start);
  for (const loop::Event& e : problem.timeline.events) {
    const auto* dose = std::get_if<loop::DoseEvent>(&e.what);
    if (dose == nullptr || dose->how != loop::DoseEvent::How::by_amount) {
      throw std::logic_error("the balance is drawn for doses by amount only");
    }
    sum += nitrogen(loop::apply_dose(m.parameters, *dose, loop::State<double>{}));
  }
  return sum;
}

struct Last {
  loop::State<double> y{};
  void observe(int, const loop::State<double>& state, double) { y = state; }
  void series(int, const loop::State<double>&, double) {}
  void step(double, const loop::State<double>&, double, const loop::State<double>&) {}
};

}  // namespace

NitrogenBalance nitrogen_balance(const StartupProblem& problem) {
  StartupProblem closed = problem;
  for (Member& m : closed.members) m.parameters.sink = m.parameters.source_no3 = 0;
  for (const Segment& s : closed.segments) {
    if (s.loads.feed_protein_mg_l_d > 0 || s.loads.feed_n_org_mg_l_d > 0 || s.loads.unknown_feed > 0 ||
        s.loads.evaporation_per_d > 0) {
      throw std::logic_error("the balance is drawn for a loop with doses alone");
    }
  }
  const NamedGrid grid = divided_grid(closed, 1);
  NitrogenBalance worst;
  for (std::size_t m = 0; m < closed.members.size(); ++m) {
    const Member& member = closed.members[m];
    Last last;
    loop::simulate(closed.timeline, grid.grid, member.parameters, member.start, member.ln_h, last);
    const double expected = given(closed, member);
    worst.full = std::max(worst.full, std::abs(nitrogen(last.y) / expected - 1));
  }
  PackEngine packs(closed, infer::member_block_functions(), grid);
  packs.run();
  const std::vector<double> left = packs.last_nitrogen();
  for (std::size_t m = 0; m < left.size(); ++m) {
    worst.single = std::max(worst.single, std::abs(left[m] / given(closed, closed.members[m]) - 1));
  }
  return worst;
}

}  // namespace helmwater::bench
