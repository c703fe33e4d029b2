// SPDX-License-Identifier: Apache-2.0
// A member (or a pack of members) through the whole grid. The observer is told of every reading, deed and step:
//   observe(int index, const State<T>&, T ln_h)      at observe_days[index], before that moment's deeds
//   series(int index, const State<T>&, T ln_h)       at series_days[index], after them
//   step(double from, const State<T>&, double to, const State<T>&)   after each step; deeds lie between steps
#pragma once
#include "loop/deeds.hpp"
#include "loop/grid.hpp"
#include "loop/rosenbrock_step.hpp"

namespace helmwater::loop {

inline constexpr int kPhEvaluations = 3;           // at most, from the previous stage's value
inline constexpr int kPhEvaluationsAfterJump = 9;

template <class T, class Observer>
State<T> simulate(const Timeline& timeline, const Grid& grid, const Parameters<T>& q, State<T> y, T ln_h,
                  Observer& observer) {
  const MemberConstants<T> constants = constants_of(q);
  PhStart<T> ph(ln_h);
  for (std::size_t i = 0; i < grid.nodes.size(); ++i) {
    const Node& node = grid.nodes[i];
    if (node.environment.oxygen_held_mg_l >= 0) y.o2 = T{node.environment.oxygen_held_mg_l};
    if (node.observations > 0) {
      ph = PhStart<T>(solve_equilibrium(node.environment, y, ph.ln_h, ph.root_h, i == 0 ? kPhEvaluationsAfterJump : 3));
      for (int k = 0; k < node.observations; ++k) observer.observe(node.first_observation + k, y, ph.ln_h);
    }
    for (int k = 0; k < node.events; ++k) {
      y = apply_event(q, timeline.events[static_cast<std::size_t>(node.first_event + k)], y);
    }
    if (node.look) y = apply_look(timeline.policy, y);
    if (node.series >= 0) {
      const bool jumped = i == 0 || node.events > 0 || node.look;
      ph = PhStart<T>(solve_equilibrium(node.environment, y, ph.ln_h, ph.root_h, jumped ? kPhEvaluationsAfterJump : 3));
      observer.series(node.series, y, ph.ln_h);
    }
    if (i + 1 == grid.nodes.size()) break;
    const Step& step = grid.steps[i];
    const State<T> next =
        rosenbrock_step(q, constants, node.environment, grid.nodes[i + 1].environment, step.loads, y, ph, step.days,
                        step.after_event ? kPhEvaluationsAfterJump : kPhEvaluations);
    observer.step(node.day, y, grid.nodes[i + 1].day, next);
    y = next;
  }
  return y;
}

}  // namespace helmwater::loop
