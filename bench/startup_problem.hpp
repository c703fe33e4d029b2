// SPDX-License-Identifier: Apache-2.0
// The problem every integrator of the table solves: 64 members drawn from the prior of one invented loop,
// through the 100 days of deeds its keeper logged, seen once a day. The water's conditions are the same all
// the time, so that nobody pays for looking them up.
#pragma once
#include <vector>

#include "loop/parameters.hpp"
#include "loop/timeline.hpp"

namespace helmwater::bench {

inline constexpr int kMembers = 64;  // two whole blocks
inline constexpr int kDays = 100;

struct Member {
  loop::Parameters<double> parameters;
  loop::State<double> start;
  double ln_h = 0;  // of the start
};

// Between two sudden things.
struct Segment {
  double from = 0, to = 0;          // d
  std::vector<loop::Event> before;  // what happens at `from`
  loop::Loads loads;
  std::vector<double> days;  // samples in (from, to]; one at `to` is taken before that moment's deeds
};

struct StartupProblem {
  loop::Timeline timeline;
  loop::Environment environment;
  std::vector<Member> members;
  std::vector<double> days;  // of the samples: 1, 2, … 100
  std::vector<Segment> segments;
  int events = 0;
};

StartupProblem startup_problem();

// What the integrators are compared by, mg N/L.
struct Pools {
  double tan = 0, no2 = 0, no3 = 0;
};
using Courses = std::vector<std::vector<Pools>>;  // [member][day]

}  // namespace helmwater::bench
