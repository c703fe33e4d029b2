// SPDX-License-Identifier: Apache-2.0
// The product's integrator on the table's problem: blocks of members in single precision as the product runs
// them, and the same templates with one double at a time.
#pragma once
#include "grids.hpp"
#include "infer/member_block.hpp"
#include "startup_problem.hpp"

namespace helmwater::bench {

// The members in blocks, made once; run() is what is timed.
class PackEngine {
 public:
  PackEngine(const StartupProblem& problem, const infer::MemberBlockFunctions& set, const NamedGrid& grid);
  void run();
  Courses courses() const;                    // of the last run
  std::vector<double> last_nitrogen() const;  // all of it on the last day, per member, mg N/L

 private:
  void run(const loop::Grid& grid, std::vector<infer::BlockWater>& waters);

  const StartupProblem& problem_;
  const infer::MemberBlockFunctions& set_;
  const NamedGrid& grid_;
  std::vector<infer::MemberBlock> blocks_;
  std::vector<infer::BlockWater> waters_, waters_halved_;  // [block][day]
};

// One member at a time in double precision.
Courses by_double(const StartupProblem& problem, const NamedGrid& grid);

}  // namespace helmwater::bench
