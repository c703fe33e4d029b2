// SPDX-License-Identifier: Apache-2.0
#include "infer/unlogged.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "handbook/handbook.hpp"
#include "infer/quantiles.hpp"
#include "loop/parameters.hpp"

namespace helmwater::infer {
namespace {

using records::Entry;

// A reading that excludes less than this (mg N/L) shows something (half the floor of noise would be chance).
constexpr double kShows = 0.15;
constexpr double kShowsNitrate = 1;    // mg N/L
constexpr double kLiftsNitrate = 0.3;  // mg N/L of nitrite from which a nitrate reading is only an upper bound
constexpr double kOneVisit = 0.125;    // d
constexpr double kOneStep = 1.1;       // the beginning of an interval over the end of the one before, of neighbours on a chart
constexpr double kFirstDays = 4;  // a first reading this early speaks of the first fill

// A reading as nitrogen, mg N/L.
struct Seen {
  const Entry* entry = nullptr;
  double low = 0, high = 0;
  double middle() const { return std::isfinite(high) ? std::sqrt(std::max(low, 0.05) * std::max(high, 0.05)) : 1.3 * low; }
};

// What was read at one visit.
struct Visit {
  records::Instant when;
  std::optional<Seen> ammonia, nitrite, nitrate;
};

bool brings_ammonia(const Entry& e) {
  if (const auto* dose = std::get_if<records::Dose>(&e.body)) {
    const handbook::Reagent* r = handbook::Handbook::built_in().reagent(dose->substance);
    return r != nullptr && (r->ammonia_n_mol_per_mol > 0 || r->urea_n_mol_per_mol > 0);
  }
  if (std::holds_alternative<records::Feed>(e.body)) return true;
  const auto* fish = std::get_if<records::FishMove>(&e.body);
  return fish != nullptr && fish->in;
}

std::vector<Visit> visits_of(const records::LoopLog& log, records::Instant as_of) {
  std::vector<Visit> visits;
  for (const Entry& e : log.entries) {
    if (e.when > as_of) break;
    const auto* r = std::get_if<records::Reading>(&e.body);
    if (r == nullptr || r->seen.doubted) continue;
    if (r->test != records::Test::ammonia && r->test != records::Test::nitrite && r->test != records::Test::nitrate) continue;
    if (visits.empty() || records::days_between(visits.back().when, e.when) > kOneVisit) visits.push_back({e.when, {}, {}, {}});
    Visit& visit = visits.back();
    const double factor = records::to_standard_factor(r->test, r->basis);
    auto& slot = r->test == records::Test::ammonia ? visit.ammonia : r->test == records::Test::nitrite ? visit.nitrite : visit.nitrate;
    slot = Seen{&e, r->seen.low * factor, r->seen.high * factor};
  }
  return visits;
}

template <class Deed>
bool any_between(const records::LoopLog& log, records::Instant from, records::Instant to, const Deed& deed) {
  return std::any_of(log.entries.begin(), log.entries.end(),
                     [&](const Entry& e) { return e.when <= to && e.when >= from && deed(e); });
}

bool is_new_water(const Entry& e) {
  return std::holds_alternative<records::WaterChange>(e.body) || std::holds_alternative<records::TopUp>(e.body);
}

// A moment between two visits, not more than half a day before the second.
records::Instant between(records::Instant before, records::Instant now) {
  return records::plus_days(now, -std::min(records::days_between(before, now) / 2, 0.5));
}

// How strongly two visits call for a deed between them, and what the deed was.
struct Hint {
  double strength = 0;
  Suspicion suspicion;
};

// A reading one chart step higher is often chance: it counts if the next one bears it out.
bool borne_out(const std::vector<Visit>& visits, std::size_t i) {
  for (std::size_t k = i + 1; k < visits.size(); ++k) {
    if (visits[k].ammonia) return visits[k].ammonia->low >= 0.99 * visits[i].ammonia->low;
  }
  return false;
}

// Nitrite comes from ammonia alone: neither ammonia nor the sum of the two can rise by itself.
std::optional<Hint> ammonia_between(const Visit& before, const Visit& now) {
  const auto rise = [&](double low, double high, double middle, double middle_before, int line) -> std::optional<Hint> {
    if (low <= kShows || !std::isfinite(high) || low < 0.99 * std::max(high, kShows)) return std::nullopt;
    return Hint{low / std::max(high, kShows),
                {Suspicion::Kind::ammonia, line, between(before.when, now.when), std::max(middle - middle_before, kShows), false}};
  };
  std::optional<Hint> best;
  if (before.ammonia && now.ammonia) {
    best = rise(now.ammonia->low, before.ammonia->high, now.ammonia->middle(), before.ammonia->middle(), now.ammonia->entry->line);
    if (before.nitrite && now.nitrite) {
      const auto sum = rise(now.ammonia->low + now.nitrite->low, before.ammonia->high + before.nitrite->high,
                            now.ammonia->middle() + now.nitrite->middle(), before.ammonia->middle() + before.nitrite->middle(),
                            now.nitrite->entry->line);
      if (sum && (!best || sum->strength > best->strength)) best = sum;
    }
  }
  return best;
}

// Nothing but new water, plants and a badly shaken bottle lowers a nitrate reading that nitrite did not lift.
std::optional<Hint> water_between(const Visit& before, const Visit& now) {
  if (!before.nitrate || !now.nitrate || before.nitrate->low <= kShowsNitrate) return std::nullopt;
  if (!before.nitrite || before.nitrite->middle() > kLiftsNitrate) return std::nullopt;
  if (!std::isfinite(now.nitrate->high) || now.nitrate->high > before.nitrate->low) return std::nullopt;
  const double share = std::clamp(1 - now.nitrate->middle() / before.nitrate->middle(), 0.1, 0.7);
  return Hint{before.nitrate->low / std::max(now.nitrate->high, 0.1),
              {Suspicion::Kind::water_change, now.nitrate->entry->line, between(before.when, now.when), share, false}};
}

}  // namespace

Unlogged unlogged_in(const records::LoopLog& log, records::Instant start, records::Instant as_of, records::Instant since) {
  Unlogged found;
  const std::vector<Visit> visits = visits_of(log, as_of);
  // A feed or fish once in explains any later rise; so does chloraminated water.
  const bool fed = log.loop.start == records::Start::fish ||
                   log.loop.source_water.disinfectant == records::Disinfectant::chloramine ||
                   any_between(log, records::Instant::min(), as_of, [](const Entry& e) {
                     return brings_ammonia(e) && !std::holds_alternative<records::Dose>(e.body);
                   });
  const bool planted = any_between(log, records::Instant::min(), as_of, [](const Entry& e) { return std::holds_alternative<records::PlantMove>(e.body); });

  std::vector<Hint> hints;
  const Visit* first_ammonia = nullptr;
  bool shows = false;
  for (std::size_t i = 0; i < visits.size(); ++i) {
    const Visit& now = visits[i];
    shows = shows || (now.ammonia && now.ammonia->low > kShows) || (now.nitrite && now.nitrite->low > kShows);
    if (first_ammonia == nullptr && now.ammonia) {
      first_ammonia = &now;
      if (!fed && now.ammonia->low > kShows && now.when > since && !any_between(log, records::Instant::min(), now.when, brings_ammonia)) {
        const double days = records::days_between(start, now.when);
        hints.push_back({1e9, {Suspicion::Kind::ammonia, now.ammonia->entry->line,
                               days <= kFirstDays ? start : records::plus_days(now.when, -1), now.ammonia->middle(), true}});
      }
    }
    if (i == 0 || now.when <= since) continue;
    const Visit& before = visits[i - 1];
    if (!fed && !any_between(log, before.when, now.when, brings_ammonia)) {
      const auto hint = ammonia_between(before, now);
      if (hint && (hint->strength > kOneStep || borne_out(visits, i))) hints.push_back(*hint);
    }
    // What creeps up over several visits comes from something steady.
    for (std::size_t k = 0; !fed && found.supply == Supply::none && k + 1 < i; ++k) {
      if (visits[k].when <= since || any_between(log, visits[k].when, now.when, brings_ammonia)) continue;
      const auto crept = ammonia_between(visits[k], now);
      if (crept && crept->strength > kOneStep) found.supply = Supply::suspected;
    }
    if (!planted && !any_between(log, before.when, now.when, is_new_water)) {
      if (const auto hint = water_between(before, now)) hints.push_back(*hint);
    }
  }
  if (!fed) {
    const bool any_source = any_between(log, records::Instant::min(), as_of, brings_ammonia);
    if (!any_source && shows) found.supply = Supply::certain;
  }
  // The strongest, then by time.
  std::stable_sort(hints.begin(), hints.end(), [](const Hint& a, const Hint& b) { return a.strength > b.strength; });
  if (hints.size() > loop::kUnloggedMost) hints.resize(loop::kUnloggedMost);
  std::stable_sort(hints.begin(), hints.end(), [](const Hint& a, const Hint& b) { return a.suspicion.when < b.suspicion.when; });
  for (const Hint& hint : hints) found.suspicions.push_back(hint.suspicion);
  return found;
}

namespace {

// Probability and median of what a member took for done: `value` is 0 where it was not.
template <class Value>
std::pair<double, double> done_by(const Posterior& posterior, const std::vector<loop::Parameters<double>>& members, const Value& value) {
  double probability = 0;
  std::vector<double> sizes, weights;
  for (std::size_t i = 0; i < members.size(); ++i) {
    const double size = value(members[i]);
    if (size <= 0) continue;
    probability += posterior.draws.weight[i];
    sizes.push_back(size);
    weights.push_back(posterior.draws.weight[i]);
  }
  if (probability <= 0) return {0, 0};
  for (double& w : weights) w /= probability;
  return {std::min(probability, 1.0), quantiles(sizes, weights).p50};
}

std::vector<loop::Parameters<double>> parameters_of(const Posterior& posterior) {
  std::vector<loop::Parameters<double>> all;
  for (Eigen::Index i = 0; i < posterior.draws.z.cols(); ++i) {
    all.push_back(posterior.priors->member(posterior.draws.z.col(i).data()).parameters);
  }
  return all;
}

Unlogged unlogged_by(const records::LoopLog& log, const Posterior& posterior) {
  return unlogged_in(log, posterior.start, posterior.as_of, window_start(posterior.start, posterior.carried.get()));
}

}  // namespace

std::vector<Suspected> suspected_by(const records::LoopLog& log, const Posterior& posterior) {
  const Unlogged unlogged = unlogged_by(log, posterior);
  std::vector<Suspected> all;
  if (unlogged.suspicions.empty()) return all;
  const auto members = parameters_of(posterior);
  for (std::size_t k = 0; k < unlogged.suspicions.size(); ++k) {
    const Suspicion& s = unlogged.suspicions[k];
    const auto [probability, size] = done_by(posterior, members, [&](const auto& q) { return q.unlogged[k] * s.size; });
    all.push_back({s, probability, size});
  }
  return all;
}

std::optional<SuspectedSupply> supply_by(const records::LoopLog& log, const Posterior& posterior) {
  if (unlogged_by(log, posterior).supply != Supply::suspected) return std::nullopt;
  const auto [probability, size] = done_by(posterior, parameters_of(posterior), [](const auto& q) { return q.feed_unknown; });
  return SuspectedSupply{probability, size};
}

}  // namespace helmwater::infer
