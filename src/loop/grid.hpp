// SPDX-License-Identifier: Apache-2.0
// The time grid all members of one loop share: small steps after everything sudden, growing geometrically.
#pragma once
#include <vector>

#include "loop/timeline.hpp"

namespace helmwater::loop {

struct GridSteps {
  double longest = 1.0 / 12;        // d
  double after_event = 1.0 / 512;   // d, first step after a dose or a water change
  double after_look = 1.0 / 64;     // d, first step after a look of the plan, and after a device was switched
  double growth = 1.5;
  double refine = 1;                // every step is divided by this
};

struct Node {
  double day = 0;
  Environment environment;
  int first_observation = 0, observations = 0;  // range of observe_days, taken before the events
  int first_event = 0, events = 0;              // range of Timeline::events
  bool look = false;                            // the plan's daily look, after the events
  int series = -1;                              // index of series_days taken after all that, -1: none
};
struct Step {  // from node i to node i + 1
  double days = 0;
  Loads loads;
  bool after_event = false;  // the pH has jumped
};

struct Grid {
  std::vector<Node> nodes;
  std::vector<Step> steps;  // one fewer than nodes
};

// observe_days and series_days rise; all within [start_day, end_day]. What happens at start_day itself, or before, has
// happened: a start on day 0 alone includes its own deeds.
Grid make_grid(const Timeline& timeline, const std::vector<double>& observe_days,
               const std::vector<double>& series_days, double end_day, const GridSteps& steps = {},
               double start_day = 0);

// Nothing happens but a start: `days` from `from`, for an experiment inside a member.
Grid make_quiet_grid(const Timeline& timeline, double from, double days, const GridSteps& steps = {});

}  // namespace helmwater::loop
