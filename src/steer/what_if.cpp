// SPDX-License-Identifier: Apache-2.0
#include "steer/what_if.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>

#include "handbook/handbook.hpp"
#include "infer/ammonia_dose.hpp"
#include "loop/charge_balance.hpp"
#include "loop/nitrification.hpp"

namespace helmwater::steer {
namespace {

using handbook::Handbook;
using handbook::Reagent;

// Above 30 degC the model holds growth (docs/model/decay.md); below 10 its course with temperature is a guess (ESTIMATE).
constexpr double kCoolestKnown = 10, kWarmestKnown = 30;  // degC

const Reagent& reagent(const char* name) { return *Handbook::built_in().reagent(name); }

units::Grams grams_for_ammonia(units::AmmoniaNH3 wish, units::Litres water) {
  return infer::ammonium_chloride_for(wish.value() * records::to_standard_factor(records::Test::ammonia, records::Basis::nh3), water);
}

units::Grams grams_for_alkalinity(units::AlkalinityCaCO3 wish, units::Litres water) {
  const Reagent& salt = reagent("potassium bicarbonate");
  const double mmol_per_l = wish.value() / loop::kMgCaCO3PerMeq / salt.alkalinity_eq_per_mol;
  return units::Grams{mmol_per_l * salt.molar_mass.value * water.value() / 1000};
}

records::Entry dose_entry(const char* substance, units::Grams grams, records::Instant when) {
  records::Dose dose;
  dose.how = records::Dose::Amount::grams;
  dose.amount = grams.value();
  dose.substance = substance;
  records::Entry entry;
  entry.when = when;
  entry.to_the_minute = true;
  entry.body = dose;
  entry.when_text = records::to_utc_text(when);
  entry.what_text = std::string("dose");
  entry.value_text = fmt::format("{:.2f}", grams.value());
  entry.unit_text = std::string("g");
  entry.detail_text = substance;
  return entry;
}

void insert_by_time(records::LoopLog& log, records::Entry entry) {
  const auto after = std::upper_bound(log.entries.begin(), log.entries.end(), entry.when,
                                      [](records::Instant t, const records::Entry& e) { return t < e.when; });
  log.entries.insert(after, std::move(entry));
}

records::Instant in_days(records::Instant as_of, double days) {
  return std::max(records::plus_days(as_of, days), as_of + std::chrono::minutes(1));
}

void add_cautions(const Reagent& salt, std::vector<std::string>& cautions) {
  for (const std::string& text : salt.cautions) {
    if (std::find(cautions.begin(), cautions.end(), text) == cautions.end()) cautions.push_back(text);
  }
}

// Largest upper-range ammonia of the day after the dose, mg/L as NH3.
double highest_ammonia_after(const infer::Outlook& outlook, records::Instant dose) {
  double highest = 0;
  for (const auto& moment : outlook.series) {
    if (moment.when < dose || moment.when > records::plus_days(dose, 1)) continue;
    highest = std::max(highest, moment.of[infer::Forecast::kAmmonia].p50);
  }
  return highest;
}

}  // namespace

WhatIfAnswer what_if(const records::LoopLog& log, const infer::Posterior& posterior, const WhatIf& wish,
                     const infer::OutlookOptions& options) {
  WhatIfAnswer answer;
  const records::Instant as_of = posterior.as_of;
  const records::Instant planned = infer::plan_start(log, as_of);
  records::LoopLog changed = log;
  // The plan is the loop's own: the deeds below must not pass for its last week.
  changed.loop.plan = records::effective_plan(log);
  changed.loop.plan->written.clear();
  const bool fish = records::has_fish(log, as_of);

  infer::Imposed imposed;
  imposed.temperature = wish.temperature;
  imposed.plan_from = planned;
  imposed.plan_doses_from = std::max(planned, records::plus_days(as_of, wish.wait_days));
  std::optional<records::Instant> dose_at;
  if (wish.dose_ammonia && wish.dose_ammonia->value() > 0) {
    dose_at = in_days(as_of, wish.dose_in_days);
    answer.amounts.ammonium_chloride = grams_for_ammonia(*wish.dose_ammonia, records::volume_at(log, *dose_at));
    insert_by_time(changed, dose_entry("ammonium chloride", *answer.amounts.ammonium_chloride, *dose_at));
    imposed.plan_doses_from = std::max(*imposed.plan_doses_from, *dose_at);
    if (fish) {
      answer.cautions.emplace_back("There are fish in this loop: do not give them ammonia. This shows only what it would do.");
    }
    add_cautions(reagent("ammonium chloride"), answer.cautions);
  }
  if (wish.buffer && wish.buffer->value() > 0) {
    const records::Instant at = in_days(as_of, wish.buffer_in_days);
    answer.amounts.potassium_bicarbonate = grams_for_alkalinity(*wish.buffer, records::volume_at(log, at));
    insert_by_time(changed, dose_entry("potassium bicarbonate", *answer.amounts.potassium_bicarbonate, at));
    imposed.plan_doses_from = std::max(*imposed.plan_doses_from, at);
    add_cautions(reagent("potassium bicarbonate"), answer.cautions);
  }
  infer::OutlookOptions wanted = options;
  wanted.with_plan = wish.plan;
  wanted.next_test = false;
  answer.outlook = infer::outlook_from(changed, posterior, wanted, imposed);
  if (dose_at && !fish) {
    const auto& limit = Handbook::built_in().limit("dose_ammonia_highest");
    const double n_per_nh3 = records::to_standard_factor(records::Test::ammonia, records::Basis::nh3);
    const double highest = highest_ammonia_after(answer.outlook, *dose_at);
    if (highest * n_per_nh3 > limit.fact.value) {
      answer.cautions.insert(answer.cautions.begin(),
                             fmt::format("Ammonia would probably reach {:.1f} mg/L (as NH3). {} Give less, or wait.", highest, limit.says));
    }
  }
  if (wish.temperature && (wish.temperature->value() < kCoolestKnown || wish.temperature->value() > kWarmestKnown)) {
    answer.cautions.push_back(fmt::format("What bacteria do outside {:.0f} to {:.0f} degC is little known; read this course as a guess.",
                                          kCoolestKnown, kWarmestKnown));
  }
  if (wish.temperature && fish) {
    answer.cautions.emplace_back("Fish stand a change of temperature only slowly, and not every temperature: ask what yours need first.");
  }
  return answer;
}

records::LoopLog log_of(const Beginning& beginning) {
  records::LoopLog log;
  log.loop.name = "A loop that has not begun";
  log.loop.volume = beginning.volume;
  log.loop.volume_sd = beginning.volume * 0.1;
  log.loop.time_zone = std::string("UTC");
  log.loop.started = beginning.day_0;
  log.loop.start = beginning.start;
  log.loop.seed_area = beginning.seed_area;
  log.loop.typical_temperature = beginning.temperature;
  log.loop.source_water.alkalinity = beginning.alkalinity;
  log.loop.plan = records::effective_plan(log);
  log.loop.plan->written.clear();
  // A keeper who heeds the usual advice does not let alkalinity run out; without this most soft waters stall.
  log.loop.plan->buffer_below = units::AlkalinityCaCO3{60};
  log.loop.plan->buffer_to = units::AlkalinityCaCO3{100};
  if (beginning.start != records::Start::fish) {
    const units::Grams grams = grams_for_ammonia(log.loop.plan->redose_to, beginning.volume);
    log.entries.push_back(dose_entry("ammonium chloride", grams, beginning.day_0));
  }
  return log;
}

infer::Outlook expect(const Beginning& beginning, const infer::OutlookOptions& options) {
  const records::LoopLog log = log_of(beginning);
  infer::OutlookOptions wanted = options;
  wanted.as_of = beginning.day_0;
  return infer::outlook_of(log, wanted);
}

}  // namespace helmwater::steer
