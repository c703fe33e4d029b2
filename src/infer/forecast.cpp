// SPDX-License-Identifier: Apache-2.0
#include "infer/forecast.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "infer/parallel.hpp"
#include "infer/timeline_from_log.hpp"
#include "loop/simulate.hpp"

namespace helmwater::infer {
namespace {

using loop::Mask;
using loop::Pack;
using loop::State;

constexpr double kNever = std::numeric_limits<double>::infinity();
constexpr double kSeriesEvery = 0.25;  // d

// Factors from mg N/L to the stated units.
const float kAsNh3 = static_cast<float>(1 / records::to_standard_factor(records::Test::ammonia, records::Basis::nh3));
const float kAsNo2 = static_cast<float>(1 / records::to_standard_factor(records::Test::nitrite, records::Basis::no2));
const float kAsNo3 = static_cast<float>(1 / records::to_standard_factor(records::Test::nitrate, records::Basis::no3));
constexpr float kAsCaCO3 = static_cast<float>(loop::kMgCaCO3PerMeq);

// Limits of the milestones, in the stated units (contract of the outlook).
constexpr float kClearBelow = 0.25f, kClearAfterAbove = 0.5f, kAlkalinityOut = 20.0f;

// One "first time below after having been above" per lane.
struct ClearWatch {
  std::array<bool, loop::kLanes> been_above{};
  std::array<double, loop::kLanes> day;
  ClearWatch() { day.fill(kNever); }
  void step(int lane, double from, float before, double to, float after) {
    const auto l = static_cast<std::size_t>(lane);
    if (day[l] != kNever) return;
    if (before > kClearAfterAbove || after > kClearAfterAbove) been_above[l] = true;
    if (been_above[l] && after < kClearBelow) {
      const float fall = before - after;
      const double share = fall > 0 && before > kClearBelow ? (before - kClearBelow) / fall : 0;
      day[l] = from + share * (to - from);
    }
  }
};

struct Context {
  const loop::Timeline& timeline;
  const std::vector<loop::Grid>& quiet;  // by series index; empty where no test is made
  double load_tan;                       // mg N/L, for the readiness test; 0: not tested
  bool fish;                             // at as_of
};

struct ForecastObserver {
  const Context& context;
  Forecast& out;
  const loop::Parameters<Pack>& q;
  const std::vector<loop::Environment>& environments;  // at series_days
  int first_member;
  int lanes;

  ClearWatch ammonia_clear, nitrite_clear;
  std::array<double, loop::kLanes> alkalinity_out, ready, peak_day, stage_since;
  std::array<float, loop::kLanes> peak{}, highest_ammonia{};
  std::array<Stage, loop::kLanes> stage;
  std::array<Forecast::Worst, loop::kLanes> worst{};
  double last_day = 0;

  ForecastObserver(const Context& c, Forecast& o, const loop::Parameters<Pack>& parameters,
                   const std::vector<loop::Environment>& e, int first, int count)
      : context(c), out(o), q(parameters), environments(e), first_member(first), lanes(count) {
    alkalinity_out.fill(kNever);
    ready.fill(kNever);
    peak_day.fill(0);
    stage_since.fill(0);
    stage.fill(Stage::cannot_tell);
  }

  void observe(int, const State<Pack>&, Pack) {}

  void step(double from, const State<Pack>& before, double to, const State<Pack>& after) {
    const Pack nh3_0 = before.tan * Pack{kAsNh3}, nh3_1 = after.tan * Pack{kAsNh3};
    const Pack no2_0 = before.no2 * Pack{kAsNo2}, no2_1 = after.no2 * Pack{kAsNo2};
    const Pack alk = after.alk * Pack{kAsCaCO3};
    for (int lane = 0; lane < lanes; ++lane) {
      const auto l = static_cast<std::size_t>(lane);
      ammonia_clear.step(lane, from, nh3_0[lane], to, nh3_1[lane]);
      nitrite_clear.step(lane, from, no2_0[lane], to, no2_1[lane]);
      if (no2_1[lane] > peak[l]) {
        peak[l] = no2_1[lane];
        peak_day[l] = to;
      }
      if (alk[lane] < kAlkalinityOut && alkalinity_out[l] == kNever) alkalinity_out[l] = to;
    }
    last_day = to;
  }

  void series(int index, const State<Pack>& y, Pack ln_h) {
    const auto i = static_cast<std::size_t>(index);
    const double day = out.series_days[i];
    const loop::Equilibrium<Pack> e = loop::equilibrium_at(environments[i], y, ln_h);
    const Pack nh3 = max(y.tan, Pack{0.0f}) * Pack{kAsNh3}, no2 = max(y.no2, Pack{0.0f}) * Pack{kAsNo2};
    const Pack no3 = max(y.no3, Pack{0.0f}) * Pack{kAsNo3};
    for (int lane = 0; lane < lanes; ++lane) {
      const auto m = static_cast<std::size_t>(first_member + lane);
      const auto l = static_cast<std::size_t>(lane);
      const float ph = -ln_h[lane] / static_cast<float>(loop::kLn10);
      out.series[Forecast::kAmmonia][i][m] = nh3[lane];
      out.series[Forecast::kNitrite][i][m] = no2[lane];
      out.series[Forecast::kNitrate][i][m] = no3[lane];
      out.series[Forecast::kPh][i][m] = ph;
      out.series[Forecast::kAlkalinity][i][m] = y.alk[lane] * kAsCaCO3;
      highest_ammonia[l] = std::max(highest_ammonia[l], nh3[lane]);
      if (day == out.as_of_day) {
        out.now[m] = {nh3[lane],         no2[lane], no3[lane], ph, y.alk[lane] * kAsCaCO3, std::max(e.free_ammonia[lane], 0.0f),
                      y.r_a[lane], y.r_n[lane]};
      }
      if (day >= out.as_of_day && day <= out.as_of_day + 3) {
        Forecast::Worst& w = worst[l];
        w.free_ammonia_72h = std::max(w.free_ammonia_72h, e.free_ammonia[lane]);
        w.nitrite_72h = std::max(w.nitrite_72h, no2[lane]);
        if (day <= out.as_of_day + 1) {
          w.free_ammonia_24h = w.free_ammonia_72h;
          w.nitrite_24h = w.nitrite_72h;
        }
      }
    }
    if (context.load_tan > 0) test_readiness(i, y, ln_h);
    if (day <= out.as_of_day) judge_stage(i, y, e);
  }

  // Would the load, given now, be gone a day later?
  void test_readiness(std::size_t i, const State<Pack>& y, Pack ln_h) {
    if (context.quiet[i].nodes.empty()) return;
    // No member can convert more in a day than its growing capacity with nothing limiting: most need no simulation.
    const loop::Environment& env = environments[i];
    const Pack warm_a = exp(q.ln_theta_a * Pack{env.growth_dt}), warm_n = exp(q.ln_theta_n * Pack{env.growth_dt});
    const auto most = [](Pack capacity, Pack mu, Pack warm) {
      const Pack g = mu * warm;
      return capacity * warm * (exp(g) - Pack{1.0f}) / g;
    };
    const Pack to_convert = y.tan + Pack{context.load_tan} - Pack{kClearBelow / kAsNh3};
    const Mask possible = (most(y.r_a, q.mu_a, warm_a) > to_convert) &
                          (most(y.r_n, q.mu_n, warm_n) > to_convert - Pack{kClearBelow / kAsNo2});
    bool worth_it = false;
    for (int lane = 0; lane < lanes; ++lane) {
      worth_it = worth_it || (possible.v[lane] != 0 && ready[static_cast<std::size_t>(lane)] == kNever);
    }
    if (!worth_it) return;
    State<Pack> loaded = y;
    loaded.tan += Pack{context.load_tan};
    struct Nothing {
      void observe(int, const State<Pack>&, Pack) {}
      void series(int, const State<Pack>&, Pack) {}
      void step(double, const State<Pack>&, double, const State<Pack>&) {}
    } nothing;
    const State<Pack> later =
        loop::simulate(loop::Timeline{}, context.quiet[i], q, loaded, ln_h, nothing);
    for (int lane = 0; lane < lanes; ++lane) {
      const auto l = static_cast<std::size_t>(lane);
      if (ready[l] == kNever && later.tan[lane] * kAsNh3 < kClearBelow && later.no2[lane] * kAsNo2 < kClearBelow) {
        ready[l] = out.series_days[i];
      }
    }
  }

  // Where each member stands; thresholds in mg/L as ion are ours, next to the milestones'.
  void judge_stage(std::size_t i, const State<Pack>& y, const loop::Equilibrium<Pack>& e) {
    const loop::Environment& env = environments[i];
    const loop::Nitrification<Pack> n = loop::nitrification(q, env, y, e);
    const Pack chemistry = loop::ph_factor(q, loop::ph_of(e)) * loop::alkalinity_factor(q, y.alk);
    const Pack phosphate = max(y.p, Pack{0.0f}) / (q.k_p + max(y.p, Pack{0.0f}));
    for (int lane = 0; lane < lanes; ++lane) {
      const auto l = static_cast<std::size_t>(lane);
      const float a = y.tan[lane] * kAsNh3, b = y.no2[lane] * kAsNo2;
      const bool food = a > 0.5f || b > 0.5f;
      Stage s = Stage::waiting;
      if (context.fish && a < 0.5f && b < 0.5f && ammonia_clear.day[l] != kNever) {
        s = Stage::running;
      } else if (ready[l] != kNever) {
        s = Stage::ready;
      } else if (highest_ammonia[l] < kClearBelow && b < kClearBelow) {
        s = Stage::empty;
      } else if (food && std::min(chemistry[lane], phosphate[lane]) < 0.15f) {
        s = Stage::stalled;
      } else if (b >= kClearBelow) {
        s = n.rate_a[lane] >= n.rate_n[lane] ? Stage::nitrite_rising : Stage::nitrite_falling;
      } else if (a >= kClearBelow && n.rate_a[lane] > 0.05f * y.tan[lane]) {
        s = Stage::ammonia_falling;
      }
      if (s != stage[l]) {
        stage[l] = s;
        stage_since[l] = out.series_days[i];
      }
    }
  }

  void finish() {
    for (int lane = 0; lane < lanes; ++lane) {
      const auto l = static_cast<std::size_t>(lane);
      const auto m = static_cast<std::size_t>(first_member + lane);
      Forecast::Dates& d = out.dates[m];
      d.ammonia_first_clear = ammonia_clear.day[l];
      d.nitrite_first_clear = nitrite_clear.day[l];
      d.nitrite_peak = peak_day[l] >= last_day ? kNever : peak_day[l];
      d.nitrite_peak_height = peak[l];
      d.ready_for_fish = ready[l];
      d.alkalinity_runs_out = alkalinity_out[l];
      out.stages[m] = {stage[l], stage_since[l]};
      out.worst[m] = worst[l];
    }
  }
};

}  // namespace

const char* to_text(Stage stage) {
  switch (stage) {
    case Stage::empty: return "empty";
    case Stage::waiting: return "waiting";
    case Stage::ammonia_falling: return "ammonia_falling";
    case Stage::nitrite_rising: return "nitrite_rising";
    case Stage::nitrite_falling: return "nitrite_falling";
    case Stage::ready: return "ready";
    case Stage::running: return "running";
    case Stage::stalled: return "stalled";
    case Stage::cannot_tell: return "cannot_tell";
  }
  return "cannot_tell";
}

Forecast forecast(const records::LoopLog& log, const Posterior& posterior, double days, bool with_plan) {
  Forecast out;
  out.as_of_day = std::max(0.0, records::days_between(posterior.start, posterior.as_of));
  out.end_day = out.as_of_day + days;
  for (int k = 0; k * kSeriesEvery <= out.end_day + 1e-9; ++k) out.series_days.push_back(k * kSeriesEvery);
  const auto place = std::lower_bound(out.series_days.begin(), out.series_days.end(), out.as_of_day - 1e-5);
  if (place == out.series_days.end() || *place > out.as_of_day + 1e-5) {
    out.series_days.insert(place, out.as_of_day);
  } else {
    *place = out.as_of_day;
  }
  const std::size_t times = out.series_days.size(), members = posterior.draws.weight.size();
  for (auto& quantity : out.series) quantity.assign(times, std::vector<float>(members));
  out.now.resize(members);
  out.dates.resize(members);
  out.stages.resize(members);
  out.worst.resize(members);
  out.weight = posterior.draws.weight;

  const loop::Timeline timeline =
      timeline_from_log(log, posterior.start, posterior.as_of, out.end_day, with_plan);
  const loop::Grid grid = loop::make_grid(timeline, {}, out.series_days, out.end_day);
  std::vector<loop::Environment> environments;
  for (double day : out.series_days) environments.push_back(timeline.environment(day));

  const bool fish = records::has_fish(log, posterior.as_of);
  const double load = records::effective_plan(log).ready_load.value() *
                      records::to_standard_factor(records::Test::ammonia, records::Basis::nh3);
  std::vector<loop::Grid> quiet(times);
  if (!fish) {
    parallel_for(static_cast<int>(times), [&](int i) {
      const auto s = static_cast<std::size_t>(i);
      quiet[s] = loop::make_quiet_grid(timeline, out.series_days[s], 1.0);
    });
  }
  const Context context{timeline, quiet, fish ? 0.0 : load, fish};

  const int blocks = (static_cast<int>(members) + loop::kLanes - 1) / loop::kLanes;
  parallel_for(blocks, [&](int block) {
    const int first = block * loop::kLanes;
    const int lanes = std::min(loop::kLanes, static_cast<int>(members) - first);
    std::vector<Member> some;
    for (int lane = 0; lane < lanes; ++lane) some.push_back(posterior.priors->member(posterior.draws.z.col(first + lane).data()));
    const PackedMembers packed = pack_members(some.data(), lanes);
    ForecastObserver observer(context, out, packed.parameters, environments, first, lanes);
    loop::simulate(timeline, grid, packed.parameters, packed.start, packed.ln_h, observer);
    observer.finish();
  });
  return out;
}

}  // namespace helmwater::infer
