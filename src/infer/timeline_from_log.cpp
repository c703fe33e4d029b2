// SPDX-License-Identifier: Apache-2.0
#include "infer/timeline_from_log.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "handbook/handbook.hpp"
#include "infer/plantings_from_log.hpp"
#include "infer/priors.hpp"
#include "infer/temperature_from_log.hpp"
#include "infer/unlogged.hpp"
#include "infer/water_level_from_log.hpp"
#include "loop/charge_balance.hpp"
#include "loop/feed_load.hpp"
#include "loop/nitrification.hpp"

namespace helmwater::infer {
namespace {

using records::Entry;
using records::LoopLog;

constexpr double kDigestionDays = 1;   // a meal is excreted over the following day

// Values up to `day` stay; from the next moment on each is `change(day, value)`.
template <class Change>
void change_from(std::vector<loop::TimedValue>& points, double day, const Change& change) {
  const double now = loop::interpolate(points, day);
  std::vector<loop::TimedValue> changed;
  for (const auto& p : points) {
    if (p.day < day) changed.push_back(p);
  }
  changed.push_back({day, now});
  changed.push_back({day + kMoment, change(day, now)});
  for (const auto& p : points) {
    if (p.day > day + kMoment) changed.push_back({p.day, change(p.day, p.value)});
  }
  points = std::move(changed);
}

// Grams of pure substance per unit dosed.
double pure_grams(const records::Dose& dose, const handbook::Reagent& reagent) {
  const double share = dose.percent.value_or(100) / 100;
  if (dose.how == records::Dose::Amount::grams) return dose.amount * share;
  return dose.amount * handbook::density_g_per_ml(reagent, dose.percent.value_or(100)) * share;
}

// Change of the water by one mmol/L of the reagent.
loop::State<double> change_per_mmol_per_l(const handbook::Reagent& r) {
  loop::State<double> c{};
  c.tan = r.ammonia_n_mol_per_mol * loop::kGramsPerMolN;
  c.no3 = r.nitrate_n_mol_per_mol * loop::kGramsPerMolN;
  c.urea_n = r.urea_n_mol_per_mol * loop::kGramsPerMolN;
  c.alk = r.alkalinity_eq_per_mol;
  c.dic = r.carbon_mol_per_mol;
  c.p = r.phosphate_p_mol_per_mol * loop::kGramsPerMolP;
  return c;
}

std::optional<loop::DoseEvent> dose_event(const records::Dose& dose, double litres) {
  const handbook::Reagent* reagent = handbook::Handbook::built_in().reagent(dose.substance);
  if (reagent == nullptr) return std::nullopt;
  const loop::State<double> unit = change_per_mmol_per_l(*reagent);
  const loop::State<double> none{};
  loop::DoseEvent event;
  using How = loop::DoseEvent::How;
  if (dose.how == records::Dose::Amount::grams || dose.how == records::Dose::Amount::millilitres) {
    const double mmol_per_l = 1000 * pure_grams(dose, *reagent) / reagent->molar_mass.value / litres;
    event.change = loop::plus(none, mmol_per_l, unit);
    return event;
  }
  const bool to = dose.how == records::Dose::Amount::raise_to;
  if (unit.tan > 0) {
    event.how = to ? How::raise_ammonia_to : How::raise_ammonia_by;
    event.effect = dose.amount * records::to_standard_factor(records::Test::ammonia, dose.basis);
    event.change = loop::plus(none, 1 / unit.tan, unit);
    return event;
  }
  if (unit.alk > 0) {
    event.how = to ? How::raise_alkalinity_to : How::raise_alkalinity_by;
    event.effect = dose.amount / loop::kMgCaCO3PerMeq;  // mg/L as CaCO3
    event.change = loop::plus(none, 1 / unit.alk, unit);
    return event;
  }
  return std::nullopt;
}

// Litres of chlorine a thiosulfate dose within a day before (or just after) the water change can answer for.
double neutralised_mg_cl2(const LoopLog& log, const Entry& water) {
  double mg = 0;
  for (const Entry& e : log.entries) {
    const auto* dose = std::get_if<records::Dose>(&e.body);
    if (dose == nullptr) continue;
    const double days = records::days_between(e.when, water.when);
    if (days > 1 || days < -0.05) continue;
    const handbook::Reagent* reagent = handbook::Handbook::built_in().reagent(dose->substance);
    if (reagent == nullptr || reagent->chlorine_removed_g_per_g <= 0) continue;
    if (dose->how != records::Dose::Amount::grams && dose->how != records::Dose::Amount::millilitres) continue;
    mg += 1000 * pure_grams(*dose, *reagent) * reagent->chlorine_removed_g_per_g;
  }
  return mg;
}

// A change of a fifth of the water with 1 mg/L of chlorine counts as a full hit (estimate).
constexpr double kFullHitMgPerL = 0.2;
constexpr double kUsualDisinfectantMgPerL = 1.0;
constexpr double kNitrogenPerChlorine = 14.007 / 70.906;  // of monochloramine, g N per g Cl2

loop::WaterEvent water_event(const LoopLog& log, const Entry& entry, std::optional<double> share,
                             std::optional<units::Litres> amount, bool top_up, double litres) {
  loop::WaterEvent event;
  event.top_up = top_up;
  event.exact_share = share.has_value();
  event.share = share ? *share : amount ? amount->value() / litres : 0;
  const records::SourceWater& source = log.loop.source_water;
  double mg_per_l = source.disinfectant_dose ? source.disinfectant_dose->value() : kUsualDisinfectantMgPerL;
  if (source.disinfectant == records::Disinfectant::none) mg_per_l = 0;
  const double added_mg = mg_per_l * event.share * litres;
  const double left = added_mg > 0 ? std::max(0.0, 1 - neutralised_mg_cl2(log, entry) / added_mg) : 0;
  event.kill_strength = std::min(1.0, left * mg_per_l * event.share / kFullHitMgPerL);
  if (source.disinfectant == records::Disinfectant::chloramine) event.source_tan = mg_per_l * kNitrogenPerChlorine;
  return event;
}

// Capacity a later seed brings, mg N/L/d at 20 degC (medians, from the priors of the start types).
loop::SeedEvent seed_event(const records::Seed& seed, double litres) {
  const auto& book = handbook::Handbook::built_in();
  double capacity = book.prior("r_fish").a;
  switch (seed.kind) {
    case records::Seed::Kind::mature_media: {
      // Square metres as they are; litres of gravel-like media at 300 m2/m3, half of it usable (estimates).
      double area = seed.amount;
      if (seed.unit == "L") area = seed.amount / 1000 * 300 * book.prior("media_usable_share").a;
      if (seed.unit == "mL") area = seed.amount / 1e6 * 300 * book.prior("media_usable_share").a;
      const auto& survival = book.prior("seed_survival");
      capacity = 1000 * book.prior("seed_rate").a * area * survival.a / (survival.a + survival.b) / litres;
      break;
    }
    case records::Seed::Kind::bottled_culture: capacity = book.prior("r_bottled").a / 2; break;
    case records::Seed::Kind::established_water:
    case records::Seed::Kind::other: break;
  }
  return {capacity, capacity};
}

// Feed for fish, spread over `days`.
loop::Loads fish_load(double grams, double protein_percent, double litres, double days) {
  const double mg_l_d = 1000 * grams / litres / days;
  loop::Loads loads;
  loads.feed_protein_mg_l_d = mg_l_d * protein_percent / 100;
  loads.fish_oxygen_mg_l_d = mg_l_d * handbook::Handbook::built_in().prior("fish_oxygen").a;
  return loads;
}

// What air and pump do while they are off (docs/model/gas_exchange.md, nitrification.md).
void add_switches(const LoopLog& log, records::Instant start, loop::Timeline& timeline) {
  const auto& book = handbook::Handbook::built_in();
  for (const Off& off : times_off(log, records::Switch::Device::air, start)) {
    loop::Loads loads;
    loads.transfer = book.prior("air_off_transfer").a;
    timeline.loads.push_back({off.from, off.to, loads});
  }
  for (const Off& off : times_off(log, records::Switch::Device::pump, start)) {
    loop::Loads loads;
    loads.transfer = book.prior("pump_off_transfer").a;
    loads.media = book.prior("pump_off_media").a;
    timeline.loads.push_back({off.from, off.to, loads});
  }
}

}  // namespace

LoopUses uses_of(const LoopLog& log) {
  LoopUses uses;
  bool feed = false, fish = log.loop.start == records::Start::fish;
  for (const Entry& e : log.entries) {
    if (const auto* dose = std::get_if<records::Dose>(&e.body)) {
      if (dose->how == records::Dose::Amount::raise_by || dose->how == records::Dose::Amount::raise_to) {
        uses.effect_doses = true;
      }
      const handbook::Reagent* reagent = handbook::Handbook::built_in().reagent(dose->substance);
      if (reagent != nullptr && reagent->urea_n_mol_per_mol > 0) uses.urea = true;
    }
    if (std::holds_alternative<records::WaterChange>(e.body) || std::holds_alternative<records::TopUp>(e.body)) {
      uses.new_water = true;
    }
    if (std::holds_alternative<records::Feed>(e.body)) {
      feed = true;
      uses.organic = true;
      if (records::has_fish(log, e.when)) uses.fish_feed = true;
    }
    if (const auto* move = std::get_if<records::FishMove>(&e.body)) fish = fish || move->in;
  }
  const records::Plan plan = records::effective_plan(log);
  const bool planned_feed = plan.feed_g_per_day.value_or(0) > 0;
  if (planned_feed) uses.organic = uses.fish_feed = true;
  uses.unknown_feed = fish && !feed && !planned_feed;
  return uses;
}

records::Instant start_of(const LoopLog& log, records::Instant otherwise) {
  if (log.loop.started) return *log.loop.started;
  return log.entries.empty() ? otherwise : log.entries.front().when;
}

records::Instant plan_start(const LoopLog& log, records::Instant as_of) {
  return log.entries.empty() ? as_of : std::max(as_of, log.entries.back().when);
}

loop::Timeline timeline_from_log(const LoopLog& log, records::Instant start, records::Instant as_of, double end_day,
                                 bool with_plan, const Imposed& imposed, records::Instant unlogged_since) {
  loop::Timeline timeline;
  timeline.temperature_c = temperature_from_log(log, start, as_of, end_day);
  if (imposed.temperature) {
    change_from(timeline.temperature_c, std::max(0.0, records::days_between(start, as_of)),
                [&](double, double) { return imposed.temperature->value(); });
  }
  const auto conductivity = values_read(log, records::Test::conductivity, start, as_of);
  if (!conductivity.empty()) {
    // mol/L from uS/cm, common practice (from memory).
    timeline.ionic_strength_mol_l = std::clamp(1.6e-5 * conductivity.back().value, 0.0, 0.1);
  }

  timeline.knot_days = knot_days();
  const double window_day =
      unlogged_since == records::Instant::min() ? 0 : records::days_between(start, unlogged_since);
  timeline.knots_from = knot_of(window_day) * timeline.knot_days;
  const LoopUses uses = uses_of(log);
  timeline.organic = uses.organic;
  timeline.urea = uses.urea;
  timeline.plantings = plantings_from_log(log, start);
  add_switches(log, start, timeline);
  const WaterLevel level = water_level_from_log(log, start, as_of);
  timeline.loads.insert(timeline.loads.end(), level.pieces.begin(), level.pieces.end());
  double litres = log.loop.volume.value();
  double fish_since = records::has_fish(log, start) ? 0 : -1;
  const auto feed_unknown_until = [&](double day) {
    loop::Loads loads;
    loads.unknown_feed = 1;
    if (uses.unknown_feed) timeline.loads.push_back({fish_since, day, loads});
  };
  for (const Entry& e : log.entries) {
    const double day = records::days_between(start, e.when);
    if (day < 0) continue;
    const auto push = [&](auto what) { timeline.events.push_back({day, what}); };
    if (const auto* dose = std::get_if<records::Dose>(&e.body)) {
      if (const auto event = dose_event(*dose, litres * level.at(day))) push(*event);
    } else if (const auto* change = std::get_if<records::WaterChange>(&e.body)) {
      push(water_event(log, e, change->share, change->litres, false, litres * level.at(day)));
    } else if (const auto* top_up = std::get_if<records::TopUp>(&e.body)) {
      const bool evaporated_before =
          std::find(level.as_exchange.begin(), level.as_exchange.end(), day) == level.as_exchange.end();
      push(water_event(log, e, top_up->share, top_up->litres, evaporated_before, litres));
    } else if (const auto* volume = std::get_if<records::VolumeChange>(&e.body)) {
      push(loop::VolumeEvent{volume->litres.value() / litres});
      litres = volume->litres.value();
    } else if (const auto* seed = std::get_if<records::Seed>(&e.body)) {
      push(seed_event(*seed, litres));
    } else if (const auto* feed = std::get_if<records::Feed>(&e.body)) {
      const double water = litres * level.at(day);
      loop::Loads loads;
      if (records::has_fish(log, e.when)) {
        loads = fish_load(feed->amount.value(), feed->protein_percent, water, kDigestionDays);
      } else {
        loads.feed_n_org_mg_l_d = 1000 * feed->amount.value() * feed->protein_percent / 100 *
                                  loop::kNitrogenInProtein / water / kDigestionDays;
      }
      timeline.loads.push_back({day, day + kDigestionDays, loads});
    } else if (std::holds_alternative<records::FishMove>(e.body)) {
      const bool fish = records::has_fish(log, e.when);
      if (fish && fish_since < 0) fish_since = day;
      if (!fish && fish_since >= 0) {
        feed_unknown_until(day);
        fish_since = -1;
      }
    }
  }
  if (fish_since >= 0) feed_unknown_until(std::numeric_limits<double>::infinity());
  const Unlogged unlogged = unlogged_in(log, start, as_of, unlogged_since);
  for (std::size_t i = 0; i < unlogged.suspicions.size(); ++i) {
    const Suspicion& a = unlogged.suspicions[i];
    loop::Event event;
    event.day = std::max(records::days_between(start, a.when), 0.0);
    if (a.kind == Suspicion::Kind::ammonia) {
      loop::DoseEvent dose;
      dose.how = loop::DoseEvent::How::raise_ammonia_by;
      dose.effect = a.size;
      dose.unlogged = static_cast<int>(i);
      dose.change.tan = 1;
      dose.change.alk = 0.5 / loop::kGramsPerMolN;  // a salt brings none, a solution one per mol: nobody knows which
      event.what = dose;
    } else {
      loop::WaterEvent water;
      water.exact_share = true;
      water.share = a.size;
      water.unlogged = static_cast<int>(i);
      event.what = water;
    }
    const auto after = std::upper_bound(timeline.events.begin(), timeline.events.end(), event.day,
                                        [](double d, const loop::Event& e) { return d < e.day; });
    timeline.events.insert(after, event);
  }
  if (unlogged.supply != Supply::none) {
    loop::Loads loads;
    loads.unknown_feed = 1;
    timeline.loads.push_back({0, std::numeric_limits<double>::infinity(), loads});
  }

  if (with_plan) {
    const records::Plan plan = records::effective_plan(log);
    const records::Instant from = imposed.plan_from.value_or(plan_start(log, as_of));
    const records::Instant doses_from = std::max(from, imposed.plan_doses_from.value_or(from));
    loop::Policy& policy = timeline.policy;
    const double n_per_nh3 = records::to_standard_factor(records::Test::ammonia, records::Basis::nh3);
    policy.redose = plan.redose == records::Redose::to_target;
    policy.redose_to_tan = plan.redose_to.value() * n_per_nh3;
    policy.redose_below_tan = plan.redose_below.value() * n_per_nh3;
    policy.redose_while_no2_below = plan.redose_while_nitrite_below.value() *
                                    records::to_standard_factor(records::Test::nitrite, records::Basis::no2);
    policy.buffer = plan.buffer_below && plan.buffer_to;
    if (policy.buffer) {
      policy.buffer_below_alk = plan.buffer_below->value() / loop::kMgCaCO3PerMeq;
      policy.buffer_to_alk = plan.buffer_to->value() / loop::kMgCaCO3PerMeq;
    }
    if (policy.redose || policy.buffer) {
      for (records::Instant look = records::next_local_hour(doses_from, 8, log.loop.zone());;
           look = records::next_local_hour(look, 8, log.loop.zone())) {
        const double day = records::days_between(start, look);
        if (day >= end_day) break;
        timeline.look_days.push_back(day);
      }
    }
    if (plan.feed_g_per_day.value_or(0) > 0) {
      const loop::Loads loads = fish_load(*plan.feed_g_per_day, plan.protein_percent, litres, 1);
      timeline.loads.push_back({records::days_between(start, from), std::numeric_limits<double>::infinity(), loads});
    }
  }
  return timeline;
}

}  // namespace helmwater::infer
