// SPDX-License-Identifier: Apache-2.0
#include "loop/grid.hpp"

#include <algorithm>
#include <cmath>
#include <set>

namespace helmwater::loop {
namespace {

// Instants closer than this are one (a tenth of a second, in days).
constexpr double kSameDay = 1.2e-6;

// Fills the way from `node` to `to` with steps not longer than `allowed`, which grows.
void fill_steps(const Timeline& timeline, double to, double& allowed, bool jumped, const GridSteps& how, Grid& grid) {
  const double longest = how.longest / how.refine;
  Loads loads = timeline.loads_at(grid.nodes.back().day + kSameDay);
  const double steady_plants = loads.plant_area_m2_per_l - timeline.planted_at(grid.nodes.back().day + kSameDay);
  if (!grid.steps.empty()) {
    const Loads& before = grid.steps.back().loads;
    if (before.transfer != loads.transfer || before.media != loads.media) {
      allowed = std::min(allowed, how.after_look / how.refine);
    }
  }
  bool first = true;
  while (grid.nodes.back().day < to - kSameDay) {
    const double from = grid.nodes.back().day, left = to - from;
    double h = std::min(allowed, longest);
    if (h >= left) {
      h = left;
    } else if (h * how.growth >= left - h) {
      h = left / 2;  // no sliver at the end
    }
    if (!timeline.plantings.empty()) {
      loads.plant_area_m2_per_l = std::max(steady_plants, 0.0) + timeline.planted_at(from + h / 2);
    }
    grid.steps.push_back({h, loads, jumped && first});
    first = false;
    const double day = h == left ? to : from + h;
    Node node;
    node.day = day;
    node.environment = timeline.environment(day);
    grid.nodes.push_back(node);
    allowed = std::min(longest, std::max(allowed, h) * how.growth);
  }
}

}  // namespace

Grid make_grid(const Timeline& timeline, const std::vector<double>& observe_days,
               const std::vector<double>& series_days, double end_day, const GridSteps& how, double start_day) {
  std::vector<double> stops{start_day, end_day};
  const auto add = [&](double day) {
    if (day > start_day && day < end_day) stops.push_back(day);
  };
  for (double d : observe_days) add(d);
  for (double d : series_days) add(d);
  for (double d : timeline.look_days) add(d);
  for (const Event& e : timeline.events) add(e.day);
  for (const LoadPiece& p : timeline.loads) {
    add(p.from);
    add(p.to);
  }
  for (const Planting& p : timeline.plantings) {
    add(p.from);
    add(p.to);
  }
  if (timeline.knot_days > 0) {
    for (double day = timeline.knots_from; day < end_day; day += timeline.knot_days) add(day);
  }
  std::sort(stops.begin(), stops.end());
  stops.erase(std::unique(stops.begin(), stops.end(), [](double a, double b) { return b - a < kSameDay; }), stops.end());

  Grid grid;
  Node start;
  start.day = start_day;
  start.environment = timeline.environment(start_day);
  grid.nodes.push_back(start);
  double allowed = how.after_event / how.refine;
  std::size_t observed = 0, happened = 0, series = 0, looked = 0;
  if (start_day > 0) {
    while (happened < timeline.events.size() && timeline.events[happened].day < start_day + kSameDay) ++happened;
    while (looked < timeline.look_days.size() && timeline.look_days[looked] < start_day + kSameDay) ++looked;
  }
  for (std::size_t i = 0; i < stops.size(); ++i) {
    const double day = stops[i];
    const double until = day + kSameDay;
    Node& node = grid.nodes.back();
    node.first_observation = static_cast<int>(observed);
    while (observed < observe_days.size() && observe_days[observed] < until) ++observed;
    node.observations = static_cast<int>(observed) - node.first_observation;
    node.first_event = static_cast<int>(happened);
    while (happened < timeline.events.size() && timeline.events[happened].day < until) ++happened;
    node.events = static_cast<int>(happened) - node.first_event;
    while (looked < timeline.look_days.size() && timeline.look_days[looked] < until) {
      node.look = true;
      ++looked;
    }
    while (series < series_days.size() && series_days[series] < until) node.series = static_cast<int>(series++);
    bool jumped = i == 0;
    if (node.events > 0) {
      allowed = how.after_event / how.refine;
      jumped = true;
    } else if (node.look) {
      allowed = std::min(allowed, how.after_look / how.refine);
      jumped = true;
    }
    if (i + 1 < stops.size()) fill_steps(timeline, stops[i + 1], allowed, jumped, how, grid);
  }
  return grid;
}

Grid make_quiet_grid(const Timeline& timeline, double from, double days, const GridSteps& how) {
  Grid grid;
  Node start;
  start.day = from;
  start.environment = timeline.environment(from);
  grid.nodes.push_back(start);
  double allowed = how.after_look / how.refine;
  fill_steps(timeline, from + days, allowed, true, how, grid);
  return grid;
}

}  // namespace helmwater::loop
