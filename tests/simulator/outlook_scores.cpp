// SPDX-License-Identifier: Apache-2.0
#include "outlook_scores.hpp"

#include <chrono>
#include <cmath>
#include <limits>

#include "infer/outlook.hpp"

namespace helmwater::tests {
namespace {

using infer::Forecast;

constexpr std::array<double, kScored> kPerStated{14.007 / 17.031, 14.007 / 46.005, 14.007 / 62.004, 1};  // to mg N/L
constexpr std::array<Forecast::Quantity, kScored> kQuantity{Forecast::kAmmonia, Forecast::kNitrite, Forecast::kNitrate,
                                                            Forecast::kPh};
constexpr std::array<records::Test, kScored> kTest{records::Test::ammonia, records::Test::nitrite, records::Test::nitrate,
                                                   records::Test::ph};

records::LoopLog as_known(const SecondLoop& made, bool use_readings) {
  records::LoopLog log = made.log;
  std::erase_if(log.entries, [&](const records::Entry& e) {
    return std::holds_alternative<records::Reading>(e.body) && (!use_readings || e.when > made.as_of);
  });
  return log;
}

double truth_of(const Truth& t, std::size_t which) {
  return std::array<double, kScored>{t.ammonia, t.nitrite, t.nitrate, t.ph}[which];
}

double pinball(double stated, double truth, double share) {
  return truth >= stated ? share * (truth - stated) : (1 - share) * (stated - truth);
}

// What a person takes a reading for: the middle of its interval (geometric unless it begins at zero), the end of an open one.
std::optional<double> last_reading(const SecondLoop& made, std::size_t which) {
  std::optional<double> last;
  for (const records::Entry& e : made.log.entries) {
    const auto* r = std::get_if<records::Reading>(&e.body);
    if (r == nullptr || r->test != kTest[which] || e.when > made.as_of) continue;
    const records::Seen& s = r->seen;
    double value = s.centre;
    if (s.shape == records::Seen::Shape::interval) {
      const bool open_below = !std::isfinite(s.low), open_above = !std::isfinite(s.high);
      if (open_above) value = s.low;
      else if (open_below) value = s.high;
      else if (which == 3) value = (s.low + s.high) / 2;
      // Nothing seen is carried on as nothing.
      else value = s.low <= 0 ? 0 : std::sqrt(s.low * s.high);
    }
    last = which == 3 ? value : value * records::to_standard_factor(r->test, r->basis);
  }
  return last;
}

}  // namespace

OutlookScores score_outlook(const SecondLoop& made, bool use_readings, double end_day) {
  const records::LoopLog log = as_known(made, use_readings);
  const records::Instant start = *log.loop.started;
  const double as_of_day = records::days_between(start, made.as_of);
  infer::OutlookOptions options;
  options.as_of = made.as_of;
  options.days = end_day - as_of_day;
  const auto begin = std::chrono::steady_clock::now();
  const infer::Outlook outlook = infer::outlook_of(log, options);
  OutlookScores out;
  out.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
  out.effective = outlook.effective_members;
  for (const records::Doubt& doubt : outlook.doubts) out.doubts.push_back(doubt.code);

  for (std::size_t which = 0; which < kScored; ++which) {
    QuantityScore& score = out.of[which];
    const std::optional<double> carried = last_reading(made, which);
    double carried_loss = 0;
    for (const infer::Outlook::Moment& moment : outlook.series) {
      const double day = records::days_between(start, moment.when);
      const long place = std::lround(4 * day);
      if (moment.when <= made.as_of || day > as_of_day + kScoredDays || std::abs(4 * day - static_cast<double>(place)) > 1e-6)
        continue;
      const double truth = truth_of(made.truth[static_cast<std::size_t>(place)], which);
      infer::Quantiles q = moment.of[kQuantity[which]];
      for (double* p : {&q.p05, &q.p25, &q.p50, &q.p75, &q.p95}) *p *= kPerStated[which];
      const std::size_t week = day > as_of_day + kScoredDays / 2 ? 1 : 0;
      ++score.n[week];
      score.in50[week] += truth >= q.p25 && truth <= q.p75;
      score.in90[week] += truth >= q.p05 && truth <= q.p95;
      score.below_90 += truth < q.p05;
      score.near_90 += truth >= q.p05 - kVial && truth <= q.p95 + kVial;
      score.width_90 += q.p95 - q.p05;
      score.loss += (pinball(q.p05, truth, 0.05) + pinball(q.p25, truth, 0.25) + pinball(q.p50, truth, 0.5) +
                     pinball(q.p75, truth, 0.75) + pinball(q.p95, truth, 0.95)) / 5;
      // A point is all quantiles at once: half its error.
      if (carried) carried_loss += std::abs(truth - *carried) / 2;
    }
    const double n = score.n[0] + score.n[1];
    score.loss /= n;
    score.width_90 /= n;
    if (carried) score.persistence = carried_loss / n;
  }

  const std::optional<double> truth = made.nitrite_clear_day;
  if (!truth || *truth > as_of_day) {
    const infer::Milestone& m = outlook.nitrite_first_clear;
    const auto day_of = [&](const std::optional<records::Instant>& when) {
      return when ? records::days_between(start, *when) : std::numeric_limits<double>::infinity();
    };
    // What has not happened by the end is at infinity for both.
    const double t = truth.value_or(std::numeric_limits<double>::infinity());
    DateScore score;
    score.in50 = t >= day_of(m.p25) && t <= day_of(m.p75);
    score.in90 = t >= day_of(m.p05) && t <= day_of(m.p95);
    if (truth) {
      score.error = std::abs(std::min(day_of(m.p50), end_day) - *truth);
      const double rule = made.start_type == "seeded media" ? 14 : 31;
      score.rule_error = std::abs(std::max(rule, as_of_day) - *truth);
    }
    out.clear_date = score;
  }
  return out;
}

}  // namespace helmwater::tests
