// SPDX-License-Identifier: Apache-2.0
#include "running_figures.hpp"

#include <algorithm>
#include <memory>
#include <vector>

#include "cpu_time.hpp"
#include "infer/forecast.hpp"
#include "infer/posterior.hpp"
#include "infer/update.hpp"
#include "posterior_figures.hpp"
#include "simulated_loop.hpp"

namespace helmwater::bench {
namespace {

infer::PosteriorOptions options_at(const records::LoopLog& log, double day) {
  infer::PosteriorOptions options;
  options.as_of = records::plus_days(*log.loop.started, day);
  options.members = kForecastMembers;
  return options;
}

// Posterior and forecast at `day`, from the one two days before; the earlier one is not timed.
double update_seconds(const records::LoopLog& log, double day, infer::Checkpoints& kept) {
  infer::PosteriorOptions before = options_at(log, day - 2), now = options_at(log, day);
  before.checkpoints = now.checkpoints = &kept;
  const records::LoopLog then = tests::cut(log, before.as_of), today = tests::cut(log, now.as_of);
  now.earlier = std::make_shared<const infer::Posterior>(infer::posterior_of(then, before));
  const double began = wall_seconds();
  const infer::Posterior posterior = infer::posterior_of(today, now);
  const infer::Forecast ahead = infer::forecast(today, posterior, kForecastDays, true);
  return wall_seconds() - began + (ahead.members == 0 ? 1e9 : 0);
}

}  // namespace

KnownLoops known_loops(int loops) {
  KnownLoops out;
  out.loops = loops;
  std::vector<double> at_once, warm, with_forecast, effective;
  for (int i = 0; i < loops; ++i) {
    const records::LoopLog log = tests::simulate_loop(1, i, kReadDays).log;
    const infer::PosteriorOptions before = options_at(log, kReadDays - 1.5);
    infer::PosteriorOptions now = options_at(log, kReadDays + 0.5);
    const records::LoopLog then = tests::cut(log, before.as_of), today = tests::cut(log, now.as_of);
    const auto earlier = std::make_shared<const infer::Posterior>(infer::posterior_of(then, before));
    const infer::Forecast known = infer::forecast(then, *earlier, kForecastDays, true);
    double began = wall_seconds();
    const auto update = infer::update_at_once(today, *earlier, known, now.as_of);
    if (update) at_once.push_back(wall_seconds() - began);
    now.earlier = earlier;
    began = wall_seconds();
    const infer::Posterior posterior = infer::posterior_of(today, now);
    warm.push_back(wall_seconds() - began);
    const infer::Forecast ahead = infer::forecast(today, posterior, kForecastDays, true);
    with_forecast.push_back(wall_seconds() - began);
    effective.push_back(posterior.draws.effective);
    out.seconds_each += with_forecast.back() / loops;
  }
  out.at_once_answered = static_cast<int>(at_once.size());
  out.at_once_median = at_once.empty() ? 0 : median(at_once);
  out.at_once_worst = at_once.empty() ? 0 : quantile(at_once, 1);
  out.warm_median = median(warm);
  out.warm_p99 = quantile(warm, 0.99);
  out.warm_forecast_median = median(with_forecast);
  out.warm_forecast_p99 = quantile(with_forecast, 0.99);
  out.effective_median = median(effective);
  out.enough = static_cast<double>(std::count_if(effective.begin(), effective.end(),
                                                 [](double e) { return e >= kEffectiveWanted; })) /
               loops;
  return out;
}

LongLog long_log(int repetitions) {
  constexpr double kShort = 59.5, kLong = 1095.5;
  LongLog out;
  std::vector<double> brief, years;
  for (int i = 0; i < repetitions; ++i) {
    const records::LoopLog log = tests::simulate_loop(1, i, 1096).log;
    infer::Checkpoints kept;
    infer::PosteriorOptions options = options_at(log, kLong);
    options.checkpoints = &kept;
    const double began = wall_seconds();
    infer::posterior_of(tests::cut(log, options.as_of), options);
    if (i == 0) out.long_first = wall_seconds() - began;
    brief.push_back(update_seconds(log, kShort, kept));
    years.push_back(update_seconds(log, kLong, kept));
  }
  out.short_update = median(brief);
  out.long_update = median(years);
  return out;
}

}  // namespace helmwater::bench
