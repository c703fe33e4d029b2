// SPDX-License-Identifier: Apache-2.0
#include "records/log_doubts.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>

#include "handbook/handbook.hpp"
#include "records/words.hpp"
#include "units/convert.hpp"

namespace helmwater::records {
namespace {

struct Span {
  double low = 0;
  double high = 0;
};

// What the reading leaves open, in the test's standard basis; of a distribution two sd either side.
Span span_of(const Reading& reading) {
  const double factor = to_standard_factor(reading.test, reading.basis);
  const Seen& seen = reading.seen;
  switch (seen.shape) {
    case Seen::Shape::normal: return {(seen.centre - 2 * seen.sd) * factor, (seen.centre + 2 * seen.sd) * factor};
    case Seen::Shape::lognormal:
      return {seen.centre * std::exp(-2 * seen.sd) * factor, seen.centre * std::exp(2 * seen.sd) * factor};
    case Seen::Shape::interval: break;
  }
  return {seen.low * factor, seen.high * factor};
}

bool may_change_water(const Entry& entry) {
  return std::holds_alternative<Dose>(entry.body) || std::holds_alternative<WaterChange>(entry.body) ||
         std::holds_alternative<TopUp>(entry.body) || std::holds_alternative<Medication>(entry.body) ||
         std::holds_alternative<Feed>(entry.body) || std::holds_alternative<FishMove>(entry.body) ||
         std::holds_alternative<Switch>(entry.body) || std::holds_alternative<Seed>(entry.body);
}

void add_before_start(LoopLog& log) {
  if (!log.loop.started) return;
  for (const Entry& entry : log.entries) {
    if (entry.when >= *log.loop.started) break;
    if (std::holds_alternative<Note>(entry.body)) continue;
    log.doubts.push_back({entry.line, "before_start",
                          fmt::format("The line is dated before the loop's start ({}) and does not count; correct its date, or "
                                      "started in loop.toml.",
                                      local_date_text(*log.loop.started, log.loop.zone()))});
  }
}

// Two readings of one test within an hour that leave no common value, with nothing done in between.
void add_jumps(LoopLog& log) {
  for (std::size_t i = 0; i < log.entries.size(); ++i) {
    const auto* now = std::get_if<Reading>(&log.entries[i].body);
    if (now == nullptr) continue;
    for (std::size_t j = i; j-- > 0;) {
      const Entry& earlier = log.entries[j];
      if (log.entries[i].when - earlier.when > std::chrono::hours{1} || may_change_water(earlier)) break;
      const auto* before = std::get_if<Reading>(&earlier.body);
      if (before == nullptr || before->test != now->test) continue;
      const bool percent_mixed = now->test == Test::oxygen && log.entries[i].unit_text != earlier.unit_text;
      const Span a = span_of(*before);
      const Span b = span_of(*now);
      if (!percent_mixed && (a.high < b.low || b.high < a.low))
        log.doubts.push_back({log.entries[i].line, "jump_between_readings",
                              fmt::format("{} {} here and {} on line {} are less than an hour apart and cannot both be true; "
                                          "test again, or mark the doubtful one with ?.",
                                          to_text(now->test), trimmed(now->value_text), trimmed(before->value_text),
                                          earlier.line)});
      break;
    }
  }
}

// mg/L N that a weighed or measured dose adds, by the stated volume; nullopt: it carries no ammonia.
std::optional<double> ammonia_added(const Dose& dose, double litres) {
  const handbook::Reagent* reagent = handbook::Handbook::built_in().reagent(dose.substance);
  if (reagent == nullptr || !(reagent->ammonia_n_mol_per_mol > 0)) return std::nullopt;
  const double factor = to_standard_factor(Test::ammonia, dose.basis);
  switch (dose.how) {
    case Dose::Amount::raise_by: return dose.amount * factor;
    case Dose::Amount::raise_to: return std::nullopt;
    default: break;
  }
  double grams = dose.amount;
  if (dose.how == Dose::Amount::millilitres) grams *= handbook::density_g_per_ml(*reagent, dose.percent.value_or(100));
  grams *= dose.percent.value_or(100) / 100;
  return grams * 1000 / reagent->molar_mass.value * reagent->ammonia_n_mol_per_mol * units::kMolarMassN / litres;
}

// An ammonia reading that rose by about what is dosed within the next half hour: most likely the dose came first.
void add_doses_before_readings(LoopLog& log) {
  const double litres = log.loop.volume.value();
  if (!(litres > 0)) return;
  const Reading* earlier = nullptr;
  bool source_since_earlier = false;
  bool source_ever = false;
  bool organic_ever = log.loop.start == Start::fish;  // food and fish go on giving ammonia for days
  for (std::size_t i = 0; i < log.entries.size(); ++i) {
    const Entry& entry = log.entries[i];
    if (std::holds_alternative<Feed>(entry.body) || std::holds_alternative<FishMove>(entry.body)) organic_ever = true;
    if (std::holds_alternative<Dose>(entry.body)) source_since_earlier = source_ever = true;
    // New water may carry chloramine or dilute; either way the rise has another possible cause.
    if (std::holds_alternative<WaterChange>(entry.body) || std::holds_alternative<TopUp>(entry.body)) source_since_earlier = true;
    const auto* reading = std::get_if<Reading>(&entry.body);
    if (reading == nullptr || reading->test != Test::ammonia) continue;
    // Water that nothing was added to yet holds little: below 0.5 mg/L N (ESTIMATE: tap water with chloramine).
    const bool first = earlier == nullptr && !source_ever && !source_since_earlier;
    const Span now = span_of(*reading);
    const Span before = earlier != nullptr ? span_of(*earlier) : Span{0, 0.5};
    const bool rose_unexplained =
        (earlier != nullptr || first) && !organic_ever && !source_since_earlier && now.low > before.high;
    for (std::size_t j = i + 1; rose_unexplained && j < log.entries.size(); ++j) {
      if (log.entries[j].when - entry.when > std::chrono::minutes{30}) break;
      const auto* dose = std::get_if<Dose>(&log.entries[j].body);
      if (dose == nullptr) continue;
      bool explains = false;
      if (const auto added = ammonia_added(*dose, litres)) {
        explains = before.low + 0.5 * *added <= now.high && before.high + 1.5 * *added >= now.low;
      } else if (dose->how == Dose::Amount::raise_to) {
        const double target = dose->amount * to_standard_factor(Test::ammonia, dose->basis);
        explains = now.low <= 1.25 * target && now.high >= 0.75 * target;
      }
      if (!explains) continue;
      log.doubts.push_back({log.entries[j].line, "dose_before_reading",
                            fmt::format("The ammonia reading on line {} already shows about what this dose adds; if the dose came "
                                        "first, give it an earlier time.",
                                        entry.line)});
      break;
    }
    earlier = reading;
    source_since_earlier = false;
  }
}

}  // namespace

void add_doubts_of_the_whole(LoopLog& log) {
  add_before_start(log);
  add_jumps(log);
  add_doses_before_readings(log);
}

}  // namespace helmwater::records
