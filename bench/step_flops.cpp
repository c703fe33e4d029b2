// SPDX-License-Identifier: Apache-2.0
#include "step_flops.hpp"

#include <algorithm>
#include <cstring>

#include "loop/simulate.hpp"

namespace helmwater::bench {
namespace {

// Parameters and State are plain runs of their number type: field by field. Lanes beyond the pack repeat its
// last member.
template <template <class> class Struct, class Of>
Struct<Counted> side_by_side(int lanes, const Of& of) {
  constexpr std::size_t fields = sizeof(Struct<double>) / sizeof(double);
  static_assert(sizeof(Struct<Counted>) == fields * sizeof(Counted));
  std::vector<std::array<float, kCountedLanes>> values(fields);
  for (int lane = 0; lane < kCountedLanes; ++lane) {
    const Struct<double>& member = of(static_cast<std::size_t>(std::min(lane, lanes - 1)));
    double numbers[fields];
    std::memcpy(numbers, &member, sizeof member);
    for (std::size_t f = 0; f < fields; ++f)
      values[f][static_cast<std::size_t>(lane)] = static_cast<float>(numbers[f]);
  }
  Struct<Counted> out;
  Counted* to = reinterpret_cast<Counted*>(&out);
  for (std::size_t f = 0; f < fields; ++f) to[f] = Counted::of_members(values[f]);
  return out;
}

struct CountSteps {
  Tape& tape;
  Tape::Count total;
  void observe(int, const loop::State<Counted>&, const Counted&) {}
  void series(int, const loop::State<Counted>&, const Counted&) {}
  // The pH that the step leaves for the next one is not among the outputs: a handful of operations.
  void step(double, const loop::State<Counted>&, double, const loop::State<Counted>& next) {
    std::vector<int> outputs;
    const Counted* numbers = reinterpret_cast<const Counted*>(&next);
    for (std::size_t i = 0; i < sizeof next / sizeof(Counted); ++i) outputs.push_back(numbers[i].id);
    const Tape::Count one = tape.count(outputs);
    total.add_multiply += one.add_multiply;
    total.divide += one.divide;
    total.exponential += one.exponential;
  }
};

}  // namespace

Tape::Count grid_flops(const StartupProblem& problem, const NamedGrid& grid, int lanes) {
  Tape tape;
  const auto q = side_by_side<loop::Parameters>(
      lanes, [&](std::size_t m) -> const auto& { return problem.members[m].parameters; });
  const auto y = side_by_side<loop::State>(
      lanes, [&](std::size_t m) -> const auto& { return problem.members[m].start; });
  std::array<float, kCountedLanes> ln_h;
  for (int lane = 0; lane < kCountedLanes; ++lane) {
    ln_h[static_cast<std::size_t>(lane)] =
        static_cast<float>(problem.members[static_cast<std::size_t>(std::min(lane, lanes - 1))].ln_h);
  }
  CountSteps steps{tape, {}};
  loop::simulate(problem.timeline, grid.grid, q, y, Counted::of_members(ln_h), steps);
  return steps.total;
}

}  // namespace helmwater::bench
