// SPDX-License-Identifier: Apache-2.0
#include "infer/outlook.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>
#include <limits>
#include <numeric>
#include <utility>

#include "handbook/handbook.hpp"
#include "infer/advice.hpp"
#include "infer/doubts.hpp"
#include "infer/parallel.hpp"
#include "infer/timeline_from_log.hpp"

namespace helmwater::infer {
namespace {

template <class Take>
Quantiles quantiles_by(const Forecast& f, const Take& take) {
  std::vector<double> values(f.weight.size());
  for (std::size_t m = 0; m < values.size(); ++m) values[m] = take(m);
  return quantiles(values, f.weight);
}

template <class Take>
Milestone milestone_by(const Forecast& f, records::Instant start, const Take& take) {
  const Quantiles q = quantiles_by(f, take);
  const auto instant = [&](double day) -> std::optional<records::Instant> {
    if (!std::isfinite(day)) return std::nullopt;
    return std::chrono::round<std::chrono::minutes>(records::plus_days(start, day));
  };
  Milestone milestone{instant(q.p05), instant(q.p25), instant(q.p50), instant(q.p75), instant(q.p95), 0, false};
  double by_now = 0;
  for (std::size_t m = 0; m < f.weight.size(); ++m) {
    const double day = take(m);
    if (std::isfinite(day)) milestone.probability_within_days += f.weight[m];
    if (day <= f.as_of_day) by_now += f.weight[m];
  }
  milestone.probability_within_days = std::min(milestone.probability_within_days, 1.0);
  milestone.reached = by_now >= 0.5;
  return milestone;
}

void set_stage(const Forecast& f, records::Instant start, Outlook& out) {
  std::array<double, kStages> share{};
  for (std::size_t m = 0; m < f.weight.size(); ++m) share[static_cast<std::size_t>(f.stages[m].stage)] += f.weight[m];
  const auto best = std::max_element(share.begin(), share.end());
  const Stage likeliest = static_cast<Stage>(best - share.begin());
  out.stage_probability = std::min(*best, 1.0);
  std::vector<double> since, weight;
  for (std::size_t m = 0; m < f.weight.size(); ++m) {
    if (f.stages[m].stage != likeliest) continue;
    since.push_back(f.stages[m].since);
    weight.push_back(f.weight[m] / *best);
  }
  out.stage_since = records::plus_days(start, quantiles(since, weight).p50);
  // Less than an even chance for the likeliest is not an answer.
  out.stage = out.stage_probability >= 0.5 ? likeliest : Stage::cannot_tell;
}

void set_risk(const records::LoopLog& log, const Forecast& f, Outlook& out) {
  const auto& book = handbook::Handbook::built_in();
  // Several kinds: the limits of the one that bears least. One the handbook does not know, or nobody named, gets the strictest.
  bool warm = true, any = false;
  for (const records::Entry& e : log.entries) {
    const auto* move = std::get_if<records::FishMove>(&e.body);
    if (move == nullptr || !move->in || e.when > out.as_of) continue;
    if (warm) out.risk_species = move->species;
    any = true;
    const handbook::Fish* fish = book.fish(move->species);
    warm = warm && fish != nullptr && fish->warm_water;
  }
  warm = warm && any;
  out.risk_free_ammonia.limit = book.limit(warm ? "free_ammonia_warm" : "free_ammonia_cold").fact.value;
  out.risk_nitrite.limit = book.limit(warm ? "nitrite_warm" : "nitrite_cold").fact.value;
  for (std::size_t m = 0; m < f.weight.size(); ++m) {
    const Forecast::Worst& w = f.worst[m];
    const double weight = f.weight[m];
    if (w.free_ammonia_24h > out.risk_free_ammonia.limit) out.risk_free_ammonia.within_24_h += weight;
    if (w.free_ammonia_72h > out.risk_free_ammonia.limit) out.risk_free_ammonia.within_72_h += weight;
    if (w.nitrite_24h > out.risk_nitrite.limit) out.risk_nitrite.within_24_h += weight;
    if (w.nitrite_72h > out.risk_nitrite.limit) out.risk_nitrite.within_72_h += weight;
  }
}

}  // namespace

std::optional<records::Instant> resolve_as_of(const records::LoopLog& log, const std::optional<records::Instant>& as_of) {
  if (as_of) return as_of;
  if (!log.entries.empty()) return log.entries.back().when;
  return log.loop.started;
}

Posterior posterior_for(const records::LoopLog& log, const OutlookOptions& options) {
  PosteriorOptions wanted;
  wanted.as_of = resolve_as_of(log, options.as_of).value();
  wanted.seed = options.seed;
  wanted.members = options.members;
  wanted.effective_wanted = std::min(1100.0, 0.9 * options.members);
  wanted.checkpoints = options.checkpoints;
  wanted.earlier = options.earlier;
  if (options.history != nullptr) wanted.learned = options.history->learned;
  return posterior_of(log, wanted);
}

Outlook outlook_of(const records::LoopLog& log, const OutlookOptions& options) {
  return outlook_from(log, posterior_for(log, options), options);
}

Outlook outlook_from(const records::LoopLog& log, const Posterior& posterior, const OutlookOptions& options,
                     const Imposed& imposed) {
  Outlook out;
  const Forecast f = forecast(log, posterior, options.days, options.with_plan, imposed);

  out.loop = log.loop.name;
  out.zone = log.loop.zone();
  out.as_of = posterior.as_of;
  out.started = posterior.start;
  out.end = records::plus_days(posterior.start, f.end_day);
  out.readings_used = posterior.readings_used;
  out.conflict = posterior.conflict;
  out.members = static_cast<int>(f.members);
  out.effective_members = posterior.draws.effective;
  out.seed = options.seed;
  out.engine = std::string("loop model, ROS2-W, single precision, ") + member_block_functions().instructions;
  out.plan = records::effective_plan(log);
  out.with_plan = options.with_plan;
  out.fish = records::has_fish(log, posterior.as_of);

  out.ammonia = quantiles_by(f, [&](std::size_t m) { return f.now[m].ammonia; });
  out.nitrite = quantiles_by(f, [&](std::size_t m) { return f.now[m].nitrite; });
  out.nitrate = quantiles_by(f, [&](std::size_t m) { return f.now[m].nitrate; });
  out.ph = quantiles_by(f, [&](std::size_t m) { return f.now[m].ph; });
  out.alkalinity = quantiles_by(f, [&](std::size_t m) { return f.now[m].alkalinity; });
  out.free_ammonia = quantiles_by(f, [&](std::size_t m) { return f.now[m].free_ammonia; });
  out.ammonia_capacity = quantiles_by(f, [&](std::size_t m) { return f.now[m].ammonia_capacity; });
  out.nitrite_capacity = quantiles_by(f, [&](std::size_t m) { return f.now[m].nitrite_capacity; });
  set_stage(f, posterior.start, out);

  const auto date = [&](double Forecast::Dates::* which) {
    return milestone_by(f, posterior.start, [&, which](std::size_t m) { return f.dates[m].*which; });
  };
  out.ammonia_first_clear = date(&Forecast::Dates::ammonia_first_clear);
  out.nitrite_peak = date(&Forecast::Dates::nitrite_peak);
  out.nitrite_first_clear = date(&Forecast::Dates::nitrite_first_clear);
  out.alkalinity_runs_out = date(&Forecast::Dates::alkalinity_runs_out);
  out.nitrite_peak_height = quantiles_by(f, [&](std::size_t m) { return f.dates[m].nitrite_peak_height; });
  if (out.fish) {
    set_risk(log, f, out);
  } else {
    out.ready_for_fish = date(&Forecast::Dates::ready_for_fish);
  }

  std::vector<const Carried*> closed;
  for (const Carried* c = posterior.carried.get(); c != nullptr; c = c->before.get()) closed.push_back(c);
  for (auto c = closed.rbegin(); c != closed.rend(); ++c) {
    for (std::size_t t = 0; t < (*c)->series.size(); ++t) {
      out.series.push_back({records::plus_days(posterior.start, (*c)->series_days[t]), (*c)->series[t]});
    }
  }
  const std::vector<SeriesQuantiles> course = series_quantiles(f);
  for (std::size_t t = 0; t < course.size(); ++t) {
    out.series.push_back({f.series_days[t] == f.as_of_day ? posterior.as_of : records::plus_days(posterior.start, f.series_days[t]),
                          course[t]});
  }

  if (options.history != nullptr) {
    out.history = *options.history;
    out.learnt = posterior.priors->learnt();
  } else {
    out.history.text = "Nothing is taken from earlier start-ups: none were named.";
  }
  out.doubts = log.doubts;
  out.doubts.insert(out.doubts.end(), out.history.doubts.begin(), out.history.doubts.end());
  for (records::Doubt& doubt : doubts_of(log, posterior)) out.doubts.push_back(std::move(doubt));
  if (options.next_test) {
    std::optional<FishAtStake> fish;
    if (out.fish) {
      const double worst = std::max(out.risk_free_ammonia.within_24_h, out.risk_nitrite.within_24_h);
      fish = FishAtStake{out.risk_free_ammonia.limit, out.risk_nitrite.limit, worst > kDangerShare};
    }
    out.next_test = next_test(log, posterior, f, options.with_plan, fish);
  }
  out.advice = advice_for(log, out);
  return out;
}

}  // namespace helmwater::infer
