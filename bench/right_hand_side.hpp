// SPDX-License-Identifier: Apache-2.0
// One member's right-hand side for the general integrators: the product's own equations in double precision,
// compiled for the machine at hand, pH warm-started from the call before.
#pragma once
#include "flat_state.hpp"
#include "loop/deeds.hpp"
#include "loop/derivatives.hpp"
#include "startup_problem.hpp"

namespace helmwater::bench {

// Most evaluations of the charge balance per call; in double precision the solver stops at rounding, after
// two or three.
inline constexpr int kPhEvaluations = 12;

struct RightHandSide {
  const Member* member = nullptr;
  const loop::Environment* environment = nullptr;
  loop::Loads loads;
  loop::MemberConstants<double> constants{};
  loop::PhStart<double> ph{-17.0};
  long calls = 0;

  // Does what happens at the segment's beginning and finds the pH anew, as the engine does after a jump.
  [[gnu::flatten]] void begin(const Segment& segment, loop::State<double>& y) {
    for (const loop::Event& e : segment.before) y = loop::apply_event(member->parameters, e, y);
    loads = segment.loads;
    ph = loop::PhStart<double>(loop::solve_equilibrium(*environment, y, ph.ln_h, ph.root_h, kPhEvaluations));
  }
  [[gnu::flatten]] void rate(const double* at, double* out) {
    ++calls;
    const loop::State<double> d = loop::derivatives(member->parameters, constants, *environment, loads,
                                                    state_of(at), ph, kPhEvaluations);
    std::memcpy(out, &d, sizeof d);
  }
};

inline RightHandSide right_hand_side(const StartupProblem& problem, std::size_t member) {
  RightHandSide f;
  f.member = &problem.members[member];
  f.environment = &problem.environment;
  f.constants = loop::constants_of(f.member->parameters);
  f.ph = loop::PhStart<double>(f.member->ln_h);
  return f;
}

inline Pools pools_of(const double* flat) {
  const loop::State<double> y = state_of(flat);
  return {y.tan, y.no2, y.no3};
}

// What a general integrator did for one member.
struct Work {
  long steps = 0, calls = 0;
};

}  // namespace helmwater::bench
