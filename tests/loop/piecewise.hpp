// SPDX-License-Identifier: Apache-2.0
// Walks a timeline from one sudden thing to the next with any integrator, so that integrators can be compared
// on the same doses, water changes, looks and changes of load. The stops are found here anew, not taken from
// the grid.
#pragma once
#include <algorithm>
#include <cmath>
#include <vector>

#include "loop/deeds.hpp"
#include "loop/grid.hpp"
#include "loop/runge_kutta.hpp"
#include "loop/simulate.hpp"
#include "loop/timeline.hpp"

namespace helmwater::loop_test {

// States at `days` (rising), before that day's deeds. `integrate(loads, y, from, to)` gives the state at
// `to`.
template <class Integrate>
std::vector<loop::State<double>> walk(const loop::Timeline& timeline, const loop::Parameters<double>& q,
                                      loop::State<double> y, const std::vector<double>& days,
                                      const Integrate& integrate) {
  std::vector<double> stops{0.0};
  const double end = days.back();
  const auto add = [&](double day) {
    if (day > 0 && day <= end) stops.push_back(day);
  };
  for (double d : days) add(d);
  for (double d : timeline.look_days) add(d);
  for (const auto& e : timeline.events) add(e.day);
  for (const auto& t : timeline.temperature_c) add(t.day);  // kinks
  for (const auto& t : timeline.oxygen_held) add(t.day);
  for (const auto& piece : timeline.loads) {
    add(piece.from);
    add(piece.to);
  }
  if (timeline.knot_days > 0) {
    for (double day = timeline.knots_from; day < end; day += timeline.knot_days) add(day);
  }
  std::sort(stops.begin(), stops.end());
  stops.erase(std::unique(stops.begin(), stops.end()), stops.end());
  std::vector<loop::State<double>> seen;
  for (std::size_t i = 0; i < stops.size(); ++i) {
    const double day = stops[i];
    for (double d : days) {
      if (d == day) seen.push_back(y);
    }
    for (const auto& e : timeline.events) {
      if (e.day == day) y = loop::apply_event(q, e, y);
    }
    if (std::find(timeline.look_days.begin(), timeline.look_days.end(), day) != timeline.look_days.end()) {
      y = loop::apply_look(timeline.policy, y);
    }
    if (i + 1 < stops.size())
      y = integrate(timeline.loads_at((day + stops[i + 1]) / 2), y, day, stops[i + 1]);
  }
  return seen;
}

inline std::vector<loop::State<double>> walk_reference(const loop::Timeline& timeline,
                                                       const loop::Parameters<double>& q,
                                                       const loop::State<double>& y,
                                                       const std::vector<double>& days, double longest_step) {
  return walk(timeline, q, y, days,
              [&](const loop::Loads& loads, const loop::State<double>& x, double from, double to) {
                return loop::integrate_reference(
                    q, [&](double day) { return timeline.environment(day); }, loads, x, from, to,
                    longest_step);
              });
}

// Keeps the states that simulate() shows at the observation days.
template <class T>
struct Recorder {
  std::vector<loop::State<T>> seen;
  std::vector<T> ln_h;
  void observe(int, const loop::State<T>& y, T h) {
    seen.push_back(y);
    ln_h.push_back(h);
  }
  void series(int, const loop::State<T>&, T) {}
  void step(double, const loop::State<T>&, double, const loop::State<T>&) {}
};

template <class T>
Recorder<T> run_simulate(const loop::Timeline& timeline, const loop::Parameters<T>& q,
                         const loop::State<T>& y, const std::vector<double>& days,
                         const loop::GridSteps& steps = {}) {
  Recorder<T> recorder;
  const loop::Grid grid = loop::make_grid(timeline, days, {}, days.back(), steps);
  loop::simulate(timeline, grid, q, y, T{-7.5 * loop::kLn10}, recorder);
  return recorder;
}

// Parameters and states side by side in a pack; lane i takes members[i % size].
inline loop::Pack pack_of(const std::vector<double>& values) {
  loop::Pack p{0.0};
  for (int lane = 0; lane < loop::kLanes; ++lane) {
    p.set(lane, static_cast<float>(values[static_cast<std::size_t>(lane) % values.size()]));
  }
  return p;
}
template <class Struct>
inline constexpr std::size_t kFields = sizeof(Struct) / sizeof(double);

// Parameters<T> and State<T> are plain runs of T: copied field by field.
template <template <class> class Struct>
Struct<loop::Pack> packed(const std::vector<Struct<double>>& members) {
  constexpr std::size_t fields = kFields<Struct<double>>;
  static_assert(sizeof(Struct<loop::Pack>) == fields * sizeof(loop::Pack));
  loop::Pack values[fields];
  for (std::size_t f = 0; f < fields; ++f) {
    std::vector<double> column;
    for (const auto& m : members) {
      double all[fields];
      std::memcpy(all, &m, sizeof all);
      column.push_back(all[f]);
    }
    values[f] = pack_of(column);
  }
  Struct<loop::Pack> out;
  std::memcpy(static_cast<void*>(&out), values, sizeof out);
  return out;
}

}  // namespace helmwater::loop_test
