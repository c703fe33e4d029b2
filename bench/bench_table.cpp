// SPDX-License-Identifier: Apache-2.0
// bench_table [--quick]: the project's benchmark table (docs/benchmarks.md says what each row means). The
// engine and its rivals take turns in one run, so that a busy or throttled machine slows all of them alike.
#include <fmt/format.h>

#include <algorithm>
#include <cstring>
#include <deque>
#include <exception>
#include <functional>
#include <memory>
#include <string>

#include "course_error.hpp"
#include "cpu_time.hpp"
#include "engine_runs.hpp"
#include "fma_peak.hpp"
#include "machine_facts.hpp"
#include "nitrogen_balance.hpp"
#include "posterior_figures.hpp"
#include "running_figures.hpp"
#include "rival_cvode.hpp"
#include "rival_odeint.hpp"
#include "rival_scipy.hpp"
#include "step_flops.hpp"

namespace helmwater::bench {
namespace {

struct Effort {
  int rounds = 5;               // turns each row gets
  double seconds_a_turn = 0.2;  // at least, and at least one run
  int scipy_members = kMembers;
  int loops = 200;
  int long_logs = 5;
};
constexpr Effort kQuick{1, 0.05, 1, 10, 1};

// ---- rows that are timed

struct Row {
  std::string name, grid;
  double steps_per_day = 0;  // 0: not told
  double calls_per_day = 0;  // of the right-hand side, rivals
  double members = kMembers;
  bool rival = false;
  CourseError error;
  std::function<void()> run;  // the whole problem once
  std::vector<double> times;  // s of processor time per run, one per turn
  double rate() const { return members * kDays / median(times); }  // member-days per second and core
};

void take_turn(Row& row, double at_least) {
  const double began = thread_seconds();
  double took = 0;
  int runs = 0;
  while (took < at_least) {
    row.run();
    ++runs;
    took = thread_seconds() - began;
  }
  row.times.push_back(took / runs);
}

struct Reference {
  Courses courses;
  std::vector<long> calls;  // of dopri5 at 1e-6: which member is of middling difficulty
  std::string said;
};

Reference make_reference(const StartupProblem& problem) {
  Reference r;
  Work work, ignored;
  Courses by_bdf;
  const double began = thread_seconds();
  for (std::size_t m = 0; m < problem.members.size(); ++m) {
    r.courses.push_back(by_odeint(problem, m, 1e-10, work));
  }
  r.said = fmt::format("Boost.odeint dopri5 at 1e-10, {:.0f} steps a day, {:.1f} s",
                       static_cast<double>(work.steps) / kMembers / kDays, thread_seconds() - began);
  if (has_cvode()) {
    for (std::size_t m = 0; m < problem.members.size(); ++m) {
      by_bdf.push_back(by_cvode(problem, m, 1e-10, ignored));
    }
    r.said +=
        fmt::format("; CVODE BDF at 1e-10 agrees to {:.1e} mg N/L", course_error(r.courses, by_bdf).max);
  }
  for (std::size_t m = 0; m < problem.members.size(); ++m) {
    Work one;
    by_odeint(problem, m, 1e-6, one);
    r.calls.push_back(one.calls);
  }
  return r;
}

using ByOne = std::vector<Pools> (*)(const StartupProblem&, std::size_t, double, Work&);

void add_rival(std::deque<Row>& rows, const StartupProblem& problem, const Courses& reference,
               const std::string& name, ByOne by, double tolerance) {
  Row row;
  row.name = fmt::format("{} {:.0e}", name, tolerance);
  row.grid = "own steps";
  row.rival = true;
  Work work;
  Courses found;
  for (std::size_t m = 0; m < problem.members.size(); ++m) found.push_back(by(problem, m, tolerance, work));
  row.error = course_error(reference, found);
  row.steps_per_day = static_cast<double>(work.steps) / kMembers / kDays;
  row.calls_per_day = static_cast<double>(work.calls) / kMembers / kDays;
  row.run = [&problem, by, tolerance] {
    Work more;
    for (std::size_t m = 0; m < problem.members.size(); ++m) by(problem, m, tolerance, more);
  };
  rows.push_back(std::move(row));
}

Row& add_pack(std::deque<Row>& rows, const StartupProblem& problem, const Courses& reference,
              const infer::MemberBlockFunctions& set, const NamedGrid& grid) {
  Row row;
  row.name = fmt::format("engine f32 {}", set.instructions);
  row.grid = grid.name;
  row.steps_per_day = grid.steps_per_day();
  const auto engine = std::make_shared<PackEngine>(problem, set, grid);
  engine->run();
  row.error = course_error(reference, engine->courses());
  row.run = [engine] { engine->run(); };
  rows.push_back(std::move(row));
  return rows.back();
}

void add_double(std::deque<Row>& rows, const StartupProblem& problem, const Courses& reference,
                const NamedGrid& grid) {
  Row row;
  row.name = "engine f64 scalar";
  row.grid = grid.name;
  row.steps_per_day = grid.steps_per_day();
  row.error = course_error(reference, by_double(problem, grid));
  row.run = [&problem, &grid] { by_double(problem, grid); };
  rows.push_back(std::move(row));
}

void print_rows(const std::deque<Row>& rows) {
  fmt::print("{:<22} {:<20} {:>8} {:>8} {:>12}  {:>9} {:>9}  {:>8} {:>8} {:>8}\n", "", "grid", "steps/d",
             "f(y)/d", "mbr-days/s", "max error", "median", "TAN max", "NO2 max", "NO3 max");
  for (const Row& r : rows) {
    fmt::print("{:<22} {:<20} {:>8} {:>8} {:>12.0f}  {:>9.1e} {:>9.1e}  {:>8.1e} {:>8.1e} {:>8.1e}{}\n",
               r.name, r.grid, r.steps_per_day > 0 ? fmt::format("{:.1f}", r.steps_per_day) : "-",
               r.calls_per_day > 0 ? fmt::format("{:.0f}", r.calls_per_day) : "-", r.rate(), r.error.max,
               r.error.median, r.error.largest.tan, r.error.largest.no2, r.error.largest.no3,
               r.error.lost > 0 ? fmt::format("  ({} members lost)", r.error.lost) : "");
  }
}

std::string two_digits(double x) { return x < 10 ? fmt::format("{:.1f}", x) : fmt::format("{:.0f}", x); }

// The fastest of the engine's rows that is no worse than the rival's worst.
void print_ratio(const std::deque<Row>& rows, const Row& rival, const char* note) {
  const Row* best = nullptr;
  for (const Row& r : rows) {
    if (!r.rival && r.error.max <= rival.error.max && (best == nullptr || r.rate() > best->rate())) best = &r;
  }
  if (best == nullptr) {
    fmt::print("{:<22} no grid of the engine in this table reaches {:.1e}\n", rival.name, rival.error.max);
    return;
  }
  fmt::print("{:<22} {:>8} x   {}, {} ({:.1e} against {:.1e}){}\n", rival.name,
             two_digits(best->rate() / rival.rate()), best->name, best->grid, best->error.max,
             rival.error.max, note);
}

// ---- SciPy

void add_scipy(std::deque<Row>& rows, const StartupProblem& problem, const Reference& reference,
               const Effort& effort) {
  std::vector<std::size_t> which(problem.members.size());
  for (std::size_t m = 0; m < which.size(); ++m) which[m] = m;
  if (effort.scipy_members < kMembers) {
    // One of middling difficulty.
    std::sort(which.begin(), which.end(),
              [&](std::size_t a, std::size_t b) { return reference.calls[a] < reference.calls[b]; });
    which = {which[which.size() / 2]};
  }
  for (const char* driver : {"solve_ivp", "odeint"}) {
    const ScipyRun run = by_scipy(problem, which, driver, 1e-4);
    if (!run.missing.empty()) {
      fmt::print("SciPy LSODA: {}\n", run.missing);
      return;
    }
    Row row;
    row.name = fmt::format("SciPy {} 1e-04", driver);
    row.grid = which.size() == 1 ? "own steps, 1 member" : "own steps";
    row.rival = true;
    row.members = static_cast<double>(which.size());
    row.steps_per_day = run.steps / row.members / kDays;
    row.calls_per_day = run.calls / row.members / kDays;
    row.error = course_error(reference.courses, run.courses, which);
    row.times = {run.seconds};
    rows.push_back(std::move(row));
  }
}

// ---- parts

void print_posterior(const Effort& effort, const char* program) {
  const ColdUpdates c = cold_updates(effort.loops);
  fmt::print(
      "\nCold update: {} days of readings of {} invented loops ({:.0f} readings, {:.0f} unknowns), then {} "
      "days of {} members\n",
      kReadDays, c.loops, c.readings_median, c.unknowns_median, kForecastDays, kForecastMembers);
  fmt::print(
      "  wall              median {:.0f} ms, p99 {:.0f} ms, worst {:.0f} ms (posterior {:.0f} + forecast "
      "{:.0f} ms, medians)\n",
      1e3 * c.wall_median, 1e3 * c.wall_p99, 1e3 * c.wall_worst, 1e3 * c.posterior_median,
      1e3 * c.forecast_median);
  fmt::print("  processor time    median {:.0f} ms, p99 {:.0f} ms\n", 1e3 * c.cpu_median, 1e3 * c.cpu_p99);
  fmt::print("  effective size    median {:.0f}, least {:.0f}; {:.1f} % of loops have {:.0f} or more\n",
             c.effective_median, c.effective_least, 100 * c.enough, kEffectiveWanted);
  fmt::print("  rounds            median {:.0f}, most {:.0f}\n", c.rounds_median, c.rounds_most);
  const long kb = peak_memory_kb(program);
  fmt::print("  peak memory       {}\n", kb < 0 ? "unknown"
                                                : fmt::format("{:.0f} MB (VmHWM of a process that makes one)",
                                                              static_cast<double>(kb) / 1024));
}

void print_running(const Effort& effort) {
  const KnownLoops k = known_loops(effort.loops);
  fmt::print("\nOne more visit: the same loops asked at day {:.1f} and again two days later, all cores, wall\n", kReadDays - 1.5);
  fmt::print("  at once           median {:.1f} ms, worst {:.1f} ms ({} of {} loops; the others call for new unknowns)\n",
             1e3 * k.at_once_median, 1e3 * k.at_once_worst, k.at_once_answered, k.loops);
  fmt::print("  posterior         median {:.0f} ms, p99 {:.0f} ms; effective size median {:.0f}, {:.1f} % have {:.0f} or more\n",
             1e3 * k.warm_median, 1e3 * k.warm_p99, k.effective_median, 100 * k.enough, kEffectiveWanted);
  fmt::print("  and {} days ahead median {:.0f} ms, p99 {:.0f} ms\n", kForecastDays, 1e3 * k.warm_forecast_median,
             1e3 * k.warm_forecast_p99);
  fmt::print("  10,000 loops      {:.1f} min (mean of {} loops times 10,000)\n", 10000 * k.seconds_each / 60, k.loops);
  const LongLog l = long_log(effort.long_logs);
  fmt::print("\nThree years of readings against 60 days, one more visit and 60 days ahead, wall, median of {} loops\n", effort.long_logs);
  fmt::print("  {:.0f} ms against {:.0f} ms: {:.2f} times; with nothing kept the three years take {:.1f} s\n", 1e3 * l.long_update,
             1e3 * l.short_update, l.long_update / l.short_update, l.long_first);
}

int print_table(const Effort& effort, const char* program) {
  fmt::print("{}\n", machine_facts());
  const StartupProblem problem = startup_problem();
  const Reference reference = make_reference(problem);
  fmt::print(
      "{} members over {} days, {} doses, one sample a day. Errors in mg N/L over all members, days and TAN, "
      "NO2, NO3;\n"
      "median: over members, of a member's largest. Speeds in member-days per second of one "
      "core.\nReference: {}.\n\n",
      kMembers, kDays, problem.events, reference.said);

  const auto sets = infer::member_block_sets();
  std::deque<NamedGrid> grids;
  std::deque<Row> rows;
  const auto grid = [&](NamedGrid g) -> const NamedGrid& { return grids.emplace_back(std::move(g)); };
  std::vector<const Row*> default_rows;  // per set
  for (const auto* set : sets)
    default_rows.push_back(&add_pack(rows, problem, reference.courses, *set, grid(divided_grid(problem, 1))));
  for (double refine : {0.5, 1.5, 2.0, 4.0, 8.0, 16.0}) {
    add_pack(rows, problem, reference.courses, *sets.back(), grid(divided_grid(problem, refine)));
  }
  for (double refine : {1.0, 2.0, 4.0}) {
    add_pack(rows, problem, reference.courses, *sets.back(), grid(extrapolated_grid(problem, refine)));
  }
  for (double refine : {1.0, 4.0, 16.0})
    add_double(rows, problem, reference.courses, grid(divided_grid(problem, refine)));
  for (double refine : {2.0, 4.0, 8.0, 16.0})
    add_double(rows, problem, reference.courses, grid(extrapolated_grid(problem, refine)));
  if (has_cvode()) {
    for (double tolerance : {1e-4, 1e-6})
      add_rival(rows, problem, reference.courses, "CVODE BDF", by_cvode, tolerance);
  }
  for (double tolerance : {1e-3, 1e-4, 1e-6})
    add_rival(rows, problem, reference.courses, "odeint dopri5", by_odeint, tolerance);

  struct Peak {
    const FmaLoop* loop;
    std::vector<double> rates;
  };
  std::vector<Peak> peaks;
  for (const auto* set : sets) peaks.push_back({fma_loop(set->instructions), {}});
  const double before = load_average();
  for (int round = 0; round < effort.rounds; ++round) {
    for (Row& row : rows) take_turn(row, effort.seconds_a_turn);
    for (Peak& peak : peaks) {
      if (peak.loop == nullptr) continue;
      const double began = thread_seconds();
      double operations = 0;
      while (thread_seconds() - began < effort.seconds_a_turn) operations += peak.loop->run(1000000, 0.999f);
      peak.rates.push_back(operations / (thread_seconds() - began));
    }
  }
  add_scipy(rows, problem, reference, effort);
  print_rows(rows);
  if (!has_cvode()) fmt::print("CVODE: not built in (HELMWATER_BENCH_SUNDIALS)\n");

  fmt::print(
      "\nThe engine over each rival, at the fastest grid of the table whose largest error is no larger\n");
  for (const Row& r : rows) {
    if (r.rival) print_ratio(rows, r, r.members < kMembers ? "; the rival's error is one member's" : "");
  }

  fmt::print(
      "\nArithmetic on the default grid, counted (an exp is {} flop), and its share of the core's "
      "multiply-adds\n",
      kExpFlops);
  for (std::size_t s = 0; s < sets.size(); ++s) {
    if (peaks[s].loop == nullptr) continue;
    const Tape::Count c = grid_flops(problem, grids[s], peaks[s].loop->pack_lanes);
    const double steps = static_cast<double>(grids[s].grid.steps.size());
    const double rate = static_cast<double>(c.flops()) * kMembers / median(default_rows[s]->times);
    const double peak = median(peaks[s].rates);
    fmt::print(
        "  {:<10} {:>5.0f} flop a step ({:.0f} + - *, {:.0f} divisions, {:.1f} exp), {:>6.1f} GFLOP/s of "
        "{:>6.1f}: {:.0f} %\n",
        sets[s]->instructions, static_cast<double>(c.flops()) / steps,
        static_cast<double>(c.add_multiply) / steps, static_cast<double>(c.divide) / steps,
        static_cast<double>(c.exponential) / steps, rate / 1e9, peak / 1e9, 100 * rate / peak);
  }

  const NitrogenBalance balance = nitrogen_balance(problem);
  fmt::print(
      "\nNitrogen balance after {} days, default grid, largest relative error: {:.1e} f32, {:.1e} f64\n",
      kDays, balance.single, balance.full);
  fmt::print(
      "Load average before and after the timed rows: {:.2f}, {:.2f} (more than 1: other programs were "
      "running)\n",
      before, load_average());
  std::fflush(stdout);
  print_posterior(effort, program);
  std::fflush(stdout);
  print_running(effort);
  return 0;
}

}  // namespace
}  // namespace helmwater::bench

int main(int argc, char** argv) {
  using namespace helmwater::bench;
  if (argc == 2 && std::strcmp(argv[1], kOneUpdate) == 0) return print_one_update();
  const bool quick = argc == 2 && std::strcmp(argv[1], "--quick") == 0;
  if (argc > 1 && !quick) {
    fmt::print(stderr, "bench_table: \"{}\" is not known. Usage: bench_table [--quick]\n", argv[1]);
    return 2;
  }
  try {
    return print_table(quick ? kQuick : Effort{}, argv[0]);
  } catch (const std::exception& e) {
    fmt::print(stderr, "bench_table: {}\n", e.what());
    return 1;
  }
}
