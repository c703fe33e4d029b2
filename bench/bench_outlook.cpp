// SPDX-License-Identifier: Apache-2.0
// How long an outlook takes, and the engine beside plain integrators of the same equations in the same run:
// speed per core with the error against a tight reference (Boost.odeint dopri5 at 1e-10) in the same line.
//   outlook/N            loop N of four invented ones, read for 40 days: posterior, then 60 days of 4000
//   members engine/SET           sixteen members abreast in single precision on the product's grid, one
//   thread plain_double         classical Runge-Kutta, double, 0.01 d (0.03 d is its limit of stability at
//   kLa 60/d) odeint_dopri5/TOL    one member at a time under error control; at 1e-3 aeration's stiffness
//   sets the step
#include <benchmark/benchmark.h>

#include <array>
#include <boost/numeric/odeint.hpp>
#include <cmath>
#include <cstring>

#include "infer/forecast.hpp"
#include "infer/random.hpp"
#include "infer/timeline_from_log.hpp"
#include "piecewise.hpp"
#include "simulated_loop.hpp"

namespace {

using namespace helmwater;

constexpr int kDays = 40;

void outlook(benchmark::State& state) {
  const tests::SimulatedLoop made = tests::simulate_loop(1, static_cast<int>(state.range(0)), kDays);
  infer::PosteriorOptions options;
  options.as_of = records::plus_days(*made.log.loop.started, kDays + 0.5);
  infer::Posterior posterior;
  for (auto _ : state) {
    posterior = infer::posterior_of(made.log, options);
    benchmark::DoNotOptimize(infer::forecast(made.log, posterior, 60, true));
  }
  state.counters["effective"] = posterior.draws.effective;
  state.counters["rounds"] = posterior.draws.rounds;
  state.counters["readings"] = posterior.readings_used;
  state.counters["unknowns"] = posterior.priors->dimensions();
}
BENCHMARK(outlook)->DenseRange(0, 3)->Unit(benchmark::kMillisecond)->UseRealTime();

// ---- one log, sixteen members drawn from the prior

struct Course {
  loop::Timeline timeline;
  std::vector<double> days;  // of the readings
  std::vector<infer::Member> members;
  loop::Environment environment;                        // the same all the time
  std::vector<std::vector<loop::State<double>>> tight;  // [member][day]
};

using Flat = std::array<double, 11>;
static_assert(sizeof(Flat) == sizeof(loop::State<double>));

std::vector<loop::State<double>> by_odeint(const Course& c, const infer::Member& m, double tolerance,
                                           int ph_iterations) {
  namespace odeint = boost::numeric::odeint;
  return loop_test::walk(
      c.timeline, m.parameters, m.start, c.days,
      [&](const loop::Loads& loads, const loop::State<double>& y, double from, double to) {
        double ln_h = m.ln_h;
        loop::solve_equilibrium(c.environment, y, ln_h, 10);
        Flat flat;
        std::memcpy(&flat, &y, sizeof flat);
        const auto rate = [&](const Flat& at, Flat& out, double) {
          loop::State<double> x;
          std::memcpy(&x, &at, sizeof x);
          const auto d = loop::derivatives(m.parameters, c.environment, loads, x, ln_h, ph_iterations);
          std::memcpy(&out, &d, sizeof out);
        };
        odeint::integrate_adaptive(
            odeint::make_controlled(tolerance, tolerance, odeint::runge_kutta_dopri5<Flat>()), rate, flat,
            from, to, 1e-3);
        loop::State<double> end;
        std::memcpy(&end, &flat, sizeof end);
        return end;
      });
}

const Course& course() {
  static const Course made = [] {
    Course c;
    const tests::SimulatedLoop simulated = tests::simulate_loop(1, 0, kDays);
    const records::Instant start = *simulated.log.loop.started;
    const infer::Evidence evidence = infer::evidence_from_log(simulated.log, start);
    for (const infer::Observation& o : evidence.observations) {
      if (c.days.empty() || o.day > c.days.back()) c.days.push_back(o.day);
    }
    c.timeline = infer::timeline_from_log(simulated.log, start, records::plus_days(start, kDays),
                                          c.days.back(), false);
    c.environment = c.timeline.environment(0);
    const infer::Priors priors(simulated.log, evidence);
    const infer::Draws random(4, 0);
    for (std::uint32_t i = 0; i < loop::kLanes; ++i) {
      std::vector<double> z;
      for (int d = 0; d < priors.dimensions(); ++d)
        z.push_back(random.normal(i, static_cast<std::uint32_t>(d)));
      c.members.push_back(priors.member(z.data()));
    }
    for (const infer::Member& m : c.members) c.tight.push_back(by_odeint(c, m, 1e-10, 40));
    return c;
  }();
  return made;
}

// Largest and median over members of a member's largest error in ammonia, nitrite or nitrate, mg N/L.
template <class StateAt>
void report(benchmark::State& state, const StateAt& at, std::int64_t members) {
  const Course& c = course();
  std::vector<double> worst(static_cast<std::size_t>(members));
  for (std::size_t m = 0; m < worst.size(); ++m) {
    for (std::size_t k = 0; k < c.days.size(); ++k) {
      const std::array<double, 3> y = at(m, k);
      const loop::State<double>& truth = c.tight[m][k];
      worst[m] = std::max(
          {worst[m], std::abs(y[0] - truth.tan), std::abs(y[1] - truth.no2), std::abs(y[2] - truth.no3)});
    }
  }
  std::sort(worst.begin(), worst.end());
  state.counters["error_max"] = worst.back();
  state.counters["error_median"] = worst[worst.size() / 2];
  state.counters["member_days/s"] = benchmark::Counter(static_cast<double>(members) * c.days.back(),
                                                       benchmark::Counter::kIsIterationInvariantRate);
}

void engine(benchmark::State& state, const infer::MemberBlockFunctions& set) {
  const Course& c = course();
  const loop::Grid grid = loop::make_grid(c.timeline, c.days, {}, c.days.back());
  const infer::MemberBlock block = infer::block_of(c.members.data(), loop::kLanes);
  std::vector<infer::BlockWater> waters(c.days.size());
  for (auto _ : state) {
    set.water_at_readings(c.timeline, grid, block, waters.data());
    benchmark::ClobberMemory();
  }
  report(
      state,
      [&](std::size_t m, std::size_t k) {
        const auto& y = waters[k].y;
        return std::array<double, 3>{y.tan.v[m], y.no2.v[m], y.no3.v[m]};
      },
      loop::kLanes);
  state.counters["steps/d"] = static_cast<double>(grid.steps.size()) / c.days.back();
}

template <class Walk>
void one_by_one(benchmark::State& state, const Walk& walk) {
  const Course& c = course();
  std::vector<std::vector<loop::State<double>>> found(c.members.size());
  for (auto _ : state) {
    for (std::size_t m = 0; m < found.size(); ++m) found[m] = walk(c, c.members[m]);
    benchmark::ClobberMemory();
  }
  report(
      state,
      [&](std::size_t m, std::size_t k) {
        const auto& y = found[m][k];
        return std::array<double, 3>{y.tan, y.no2, y.no3};
      },
      loop::kLanes);
}

void plain_double(benchmark::State& state) {
  one_by_one(state, [](const Course& c, const infer::Member& m) {
    return loop_test::walk(
        c.timeline, m.parameters, m.start, c.days,
        [&](const loop::Loads& loads, const loop::State<double>& y, double from, double to) {
          return loop::integrate_reference(
              m.parameters, [&](double) { return c.environment; }, loads, y, from, to, 0.01);
        });
  });
}
BENCHMARK(plain_double)->Unit(benchmark::kMillisecond);

void odeint_dopri5(benchmark::State& state, double tolerance) {
  one_by_one(state,
             [tolerance](const Course& c, const infer::Member& m) { return by_odeint(c, m, tolerance, 3); });
}
BENCHMARK_CAPTURE(odeint_dopri5, 1e-6, 1e-6)->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(odeint_dopri5, 1e-3, 1e-3)->Unit(benchmark::kMillisecond);

}  // namespace

int main(int argc, char** argv) {
  for (const infer::MemberBlockFunctions* set : infer::member_block_sets()) {
    benchmark::RegisterBenchmark((std::string("engine/") + set->instructions).c_str(), engine, *set)
        ->Unit(benchmark::kMillisecond);
  }
  benchmark::Initialize(&argc, argv);
  if (benchmark::ReportUnrecognizedArguments(argc, argv)) return 1;
  std::printf(
      "errors in mg N/L against Boost.odeint dopri5 at 1e-10; 16 members over %d days; speeds per core\n",
      kDays);
  benchmark::RunSpecifiedBenchmarks();
}
