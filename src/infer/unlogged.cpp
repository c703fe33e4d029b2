// SPDX-License-Identifier: Apache-2.0
#include "infer/unlogged.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "handbook/handbook.hpp"
#include "loop/parameters.hpp"

namespace helmwater::infer {
namespace {

using records::Entry;

// A reading that excludes less than this (mg N/L) shows something (half the floor of noise would be chance).
constexpr double kShows = 0.15;
// How far above everything known a reading must begin, as a factor, to call for an addition.
constexpr double kUnexplained = 1.5;
constexpr double kFirstDays = 4;  // a first reading this early speaks of the first fill

struct AmmoniaReading {
  const Entry* entry;
  double low, high;  // mg N/L
  double middle() const { return std::isfinite(high) ? std::sqrt(std::max(low, 0.05) * std::max(high, 0.05)) : 1.3 * low; }
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

std::vector<AmmoniaReading> ammonia_readings(const records::LoopLog& log, records::Instant as_of) {
  std::vector<AmmoniaReading> list;
  for (const Entry& e : log.entries) {
    if (e.when > as_of) break;
    const auto* r = std::get_if<records::Reading>(&e.body);
    if (r == nullptr || r->test != records::Test::ammonia || r->seen.doubted) continue;
    const double factor = records::to_standard_factor(r->test, r->basis);
    list.push_back({&e, r->seen.low * factor, r->seen.high * factor});
  }
  return list;
}

bool nitrite_shows(const records::LoopLog& log, records::Instant as_of) {
  return std::any_of(log.entries.begin(), log.entries.end(), [&](const Entry& e) {
    const auto* r = std::get_if<records::Reading>(&e.body);
    return r != nullptr && e.when <= as_of && r->test == records::Test::nitrite && !r->seen.doubted &&
           r->seen.low * records::to_standard_factor(r->test, r->basis) > kShows;
  });
}

}  // namespace

Unlogged unlogged_in(const records::LoopLog& log, records::Instant start, records::Instant as_of, records::Instant since) {
  Unlogged found;
  const std::vector<AmmoniaReading> readings = ammonia_readings(log, as_of);
  const auto source_between = [&](std::optional<records::Instant> from, records::Instant to) {
    return std::any_of(log.entries.begin(), log.entries.end(), [&](const Entry& e) {
      return brings_ammonia(e) && e.when <= to && (!from || e.when >= *from);
    });
  };
  // A feed or fish once in explains any later rise; so does chloraminated water.
  const bool fed = log.loop.start == records::Start::fish ||
                   log.loop.source_water.disinfectant == records::Disinfectant::chloramine ||
                   std::any_of(log.entries.begin(), log.entries.end(), [&](const Entry& e) {
                     return e.when <= as_of && brings_ammonia(e) && !std::holds_alternative<records::Dose>(e.body);
                   });
  if (fed) return found;

  const bool shows = std::any_of(readings.begin(), readings.end(), [](const AmmoniaReading& r) { return r.low > kShows; });
  found.steady = !source_between(std::nullopt, as_of) && (shows || nitrite_shows(log, as_of));

  for (std::size_t i = 0; i < readings.size() && found.additions.size() < loop::kUnloggedMost; ++i) {
    const AmmoniaReading& r = readings[i];
    if (r.low <= kShows || r.entry->when <= since) continue;
    if (i == 0) {
      if (source_between(std::nullopt, r.entry->when)) continue;
      const double days = records::days_between(start, r.entry->when);
      found.additions.push_back({r.entry->line, days <= kFirstDays ? start : records::plus_days(r.entry->when, -1), r.middle()});
      continue;
    }
    const AmmoniaReading& before = readings[i - 1];
    if (source_between(before.entry->when, r.entry->when)) continue;
    // One reading may be a misread. A low one between two high ones is no rise: both readings before must be lower. And
    // the next must agree, unless none followed and the rise is large.
    const double known = std::max({before.high, i >= 2 ? readings[i - 2].high : 0.0, kShows});
    if (!std::isfinite(known) || r.low < kUnexplained * known) continue;
    const bool next_agrees = i + 1 < readings.size() && readings[i + 1].low > known / kUnexplained;
    const bool large = i + 1 == readings.size() && r.low > 3 * known;
    if (!next_agrees && !large) continue;
    const double half = records::days_between(before.entry->when, r.entry->when) / 2;
    found.additions.push_back({r.entry->line, records::plus_days(r.entry->when, -std::min(half, 0.5)), r.middle() - before.middle()});
  }
  return found;
}

}  // namespace helmwater::infer
