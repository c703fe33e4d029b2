// SPDX-License-Identifier: Apache-2.0
#include "rival_odeint.hpp"

#include <boost/numeric/odeint.hpp>

namespace helmwater::bench {
namespace {

// The library takes one absolute tolerance for all states: a tenth of a unit is where most stop to matter.
constexpr double kUsualSize = 0.1;

}  // namespace

std::vector<Pools> by_odeint(const StartupProblem& problem, std::size_t member, double tolerance,
                             Work& work) {
  namespace odeint = boost::numeric::odeint;
  RightHandSide f = right_hand_side(problem, member);
  const auto rate = [&f](const Flat& at, Flat& out, double) { f.rate(at.data(), out.data()); };
  std::vector<Pools> seen;
  loop::State<double> y = f.member->start;
  for (const Segment& segment : problem.segments) {
    f.begin(segment, y);
    Flat flat = flat_of(y);
    // The stepper keeps the last slope, which a deed makes void: a new one for each segment.
    const auto stepper =
        odeint::make_controlled(kUsualSize * tolerance, tolerance, odeint::runge_kutta_dopri5<Flat>());
    std::vector<double> times{segment.from};
    times.insert(times.end(), segment.days.begin(), segment.days.end());
    if (times.back() < segment.to) times.push_back(segment.to);
    std::size_t index = 0;
    const auto look = [&](const Flat& at, double) {
      if (index > 0 && index <= segment.days.size()) seen.push_back(pools_of(at.data()));
      ++index;
    };
    work.steps += static_cast<long>(
        odeint::integrate_times(stepper, rate, flat, times.begin(), times.end(), 1e-3, look));
    y = state_of(flat.data());
  }
  work.calls += f.calls;
  return seen;
}

}  // namespace helmwater::bench
