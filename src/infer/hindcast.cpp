// SPDX-License-Identifier: Apache-2.0
#include "infer/hindcast.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "infer/predict.hpp"
#include "infer/random.hpp"
#include "infer/timeline_from_log.hpp"

namespace helmwater::infer {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();

const records::Entry& entry_of(const records::LoopLog& log, int line) {
  return *std::find_if(log.entries.begin(), log.entries.end(), [&](const records::Entry& e) { return e.line == line; });
}

HindcastScores score(const std::vector<const HindcastCase*>& cases) {
  HindcastScores s;
  s.n = static_cast<int>(cases.size());
  if (s.n == 0) return s;
  double in50 = 0, in90 = 0, logs = 0;
  for (const HindcastCase* c : cases) {
    in50 += c->rank > 0.25 && c->rank < 0.75;
    in90 += c->rank > 0.05 && c->rank < 0.95;
    logs += std::log(std::max(c->probability, 1e-12));
  }
  s.coverage_50 = in50 / s.n;
  s.coverage_90 = in90 / s.n;
  s.mean_log_score = logs / s.n;
  return s;
}

void add_cases(const records::LoopLog& log, records::Instant as_of, const std::vector<Observation>& later,
               const HindcastOptions& options, std::uint32_t number, Checkpoints& checkpoints, Hindcast& out) {
  PosteriorOptions wanted;
  wanted.as_of = as_of;
  wanted.seed = options.seed;
  wanted.members = options.members;
  wanted.effective_wanted = std::min(1100.0, 0.9 * options.members);
  wanted.checkpoints = &checkpoints;
  if (options.history) wanted.learned = options.history(as_of)->learned;
  const Posterior posterior = posterior_of(log, wanted);
  const std::size_t members = posterior.draws.weight.size();
  std::vector<double> below(later.size() * members), inside(later.size() * members), shown(later.size() * members);
  const Draws random(options.seed, 0x4c000000u + number);
  each_predicted_reading(log, posterior, later, [&](std::size_t k, std::size_t m, double met, double bias) {
    const Observation& o = later[k];
    const std::size_t at = k * members + m;
    below[at] = std::isinf(o.low) || (o.low <= 0 && o.channel != Channel::ph) ? 0 : probability_shown(o, met, bias, -kInfinity, o.low);
    inside[at] = probability_shown(o, met, bias, o.low, o.high);
    shown[at] = draw_shown(o, met, bias, random.uniform(static_cast<std::uint32_t>(m), static_cast<std::uint32_t>(2 * k)),
                           random.uniform(static_cast<std::uint32_t>(m), static_cast<std::uint32_t>(2 * k + 1)));
  });
  for (std::size_t k = 0; k < later.size(); ++k) {
    const Observation& o = later[k];
    const records::Entry& entry = entry_of(log, o.line);
    HindcastCase c;
    c.as_of = as_of;
    c.when = o.when;
    c.line = o.line;
    c.what = entry.what_text;
    c.value = entry.value_text;
    c.low = o.low * o.to_kit;
    c.high = o.high * o.to_kit;
    double start = 0;
    std::vector<double> values(members);
    for (std::size_t m = 0; m < members; ++m) {
      start += posterior.draws.weight[m] * below[k * members + m];
      c.probability += posterior.draws.weight[m] * inside[k * members + m];
      values[m] = shown[k * members + m] * o.to_kit;
    }
    c.probability = std::min(c.probability, 1.0);
    c.predicted = quantiles(values, posterior.draws.weight);
    c.rank = start + random.uniform(static_cast<std::uint32_t>(k), 0xffffffffu) * c.probability;
    c.lead_days = records::days_between(as_of, o.when);
    out.cases.push_back(std::move(c));
  }
}

}  // namespace

Hindcast hindcast_of(const records::LoopLog& log, const HindcastOptions& options,
                     const std::function<void(int, int)>& progress) {
  Hindcast out;
  out.loop = log.loop.name;
  out.zone = log.loop.zone();
  if (log.entries.empty()) return out;
  const records::Instant start = start_of(log, log.entries.front().when);
  const std::vector<Observation> all = evidence_from_log(log, start).observations;
  std::vector<records::Instant> moments;
  if (options.as_of) {
    moments.push_back(*options.as_of);
  } else {
    for (int k = 1;; ++k) {
      const records::Instant moment = records::plus_days(start, k * options.every_days);
      if (moment > log.entries.back().when) break;
      moments.push_back(moment);
    }
  }
  Checkpoints own;
  Checkpoints& checkpoints = options.checkpoints == nullptr ? own : *options.checkpoints;
  for (std::size_t i = 0; i < moments.size(); ++i) {
    std::vector<Observation> later;
    for (const Observation& o : all) {
      if (o.channel == Channel::oxygen) continue;  // evidence, but no case
      if (o.when > moments[i] && o.when <= records::plus_days(moments[i], options.horizon_days)) later.push_back(o);
    }
    if (!later.empty()) add_cases(log, moments[i], later, options, static_cast<std::uint32_t>(i), checkpoints, out);
    if (progress) progress(static_cast<int>(i) + 1, static_cast<int>(moments.size()));
  }
  std::vector<const HindcastCase*> every;
  std::map<std::string, std::vector<const HindcastCase*>> by_test;
  for (const HindcastCase& c : out.cases) {
    every.push_back(&c);
    by_test[c.what].push_back(&c);
  }
  out.scores = score(every);
  for (const auto& [test, cases] : by_test) out.by_test[test] = score(cases);
  return out;
}

}  // namespace helmwater::infer
