// SPDX-License-Identifier: Apache-2.0
// SciPy's LSODA on the same problem, as a child process that measures its own processor time
// (scipy_lsoda.py).
#pragma once
#include <string>

#include "startup_problem.hpp"

namespace helmwater::bench {

struct ScipyRun {
  std::string missing;  // why there is nothing, "" if there is
  std::string version;  // of SciPy
  double seconds = 0;   // processor time for all of `which`
  double steps = 0, calls = 0;
  Courses courses;
};

// `driver`: "solve_ivp" or "odeint".
ScipyRun by_scipy(const StartupProblem& problem, const std::vector<std::size_t>& which,
                  const std::string& driver, double tolerance);

}  // namespace helmwater::bench
