// SPDX-License-Identifier: Apache-2.0
#include "records/entry_text.hpp"

#include <fmt/format.h>

#include <cmath>

#include "handbook/handbook.hpp"
#include "units/parse.hpp"

namespace helmwater::records {

bool counts_nitrogen(Test test) { return test == Test::ammonia || test == Test::nitrite || test == Test::nitrate; }

std::string unit_of(const Entry& entry, const Reading& reading) {
  switch (reading.test) {
    case Test::ph: return "";
    case Test::temperature: return "degC";
    case Test::conductivity: return "uS/cm";
    case Test::oxygen: return entry.unit_text.find('%') != std::string::npos ? "%" : "mg/L";
    default: break;
  }
  if (reading.basis == Basis::dkh) return "dKH";
  if (reading.basis == Basis::meq) return "meq/L";
  if (reading.basis == Basis::none) return "mg/L";
  return fmt::format("mg/L as {}", to_text(reading.basis));
}

namespace {

std::string number(double value) { return units::number_text(value, 3); }

std::string span_text(const Seen& seen, double factor) {
  const double low = seen.low * factor;
  const double high = seen.high * factor;
  switch (seen.shape) {
    case Seen::Shape::normal: return fmt::format("{} +- {}", number(seen.centre * factor), number(seen.sd * factor));
    case Seen::Shape::lognormal:
      return fmt::format("about {}, {} to {}", number(seen.centre * factor), number(low), number(high));
    case Seen::Shape::interval: break;
  }
  if (std::isinf(low) && std::isinf(high)) return "anything";
  if (std::isinf(high)) return fmt::format("{} or more", number(low));
  if (std::isinf(low)) return fmt::format("{} or less", number(high));
  return fmt::format("{} to {}", number(low), number(high));
}

std::string reading_text(const Entry& entry, const Reading& reading, const Loop& loop) {
  std::string out = span_text(reading.seen, 1);
  if (const std::string unit = unit_of(entry, reading); !unit.empty()) out += " " + unit;
  if (counts_nitrogen(reading.test) && reading.basis != Basis::n)
    out += fmt::format("  =  {} mg/L N", span_text(reading.seen, to_standard_factor(reading.test, reading.basis)));
  if (reading.kit >= 0) {
    const Kit& kit = loop.kits[static_cast<std::size_t>(reading.kit)];
    out += kit.steps.empty() ? "; kit without steps" : "; by the chart";
    if (kit.id) out += fmt::format(" of kit {}", *kit.id);
  } else if (reading.meter) {
    out += "; meter";
  } else if (reading.seen.shape != Seen::Shape::interval && reading.seen.kit_noise) {
    out += "; no kit described";
  }
  if (reading.seen.doubted) out += "; even chance of a misreading";
  return out;
}

std::string water_text(const std::optional<double>& share, const std::optional<units::Litres>& litres, std::string_view source) {
  std::string out = share ? fmt::format("{} % of the water", number(*share * 100))
                    : litres ? fmt::format("{} L", number(litres->value()))
                             : std::string("no amount, not counted");
  if (!source.empty()) out += fmt::format(", with {}", source);
  return out;
}

std::string strength_text(const Dose& dose) { return dose.percent ? fmt::format(" {} %", number(*dose.percent)) : std::string{}; }

struct BodyText {
  const Entry& entry;
  const Loop& loop;

  std::string operator()(const Reading& r) const { return reading_text(entry, r, loop); }
  std::string operator()(const Dose& d) const {
    const std::string what = d.substance + strength_text(d);
    switch (d.how) {
      case Dose::Amount::grams: return fmt::format("{} g of {}", number(d.amount), what);
      case Dose::Amount::millilitres: return fmt::format("{} mL of {}", number(d.amount), what);
      case Dose::Amount::raise_by: return fmt::format("{}: up by {} mg/L as {}", what, number(d.amount), to_text(d.basis));
      case Dose::Amount::raise_to: return fmt::format("{}: up to {} mg/L as {}", what, number(d.amount), to_text(d.basis));
    }
    return what;
  }
  std::string operator()(const WaterChange& w) const { return water_text(w.share, w.litres, w.source); }
  std::string operator()(const TopUp& w) const { return water_text(w.share, w.litres, w.source); }
  std::string operator()(const Feed& f) const {
    return fmt::format("{} g of feed, {} % protein", number(f.amount.value()), number(f.protein_percent));
  }
  std::string operator()(const FishMove& f) const {
    std::string out = fmt::format("{} {}", number(f.count), f.species.empty() ? "fish" : f.species);
    if (f.mean_weight) out += fmt::format(", {} g each", number(f.mean_weight->value()));
    if (!f.why.empty()) out += ", " + f.why;
    return out;
  }
  std::string operator()(const PlantMove& p) const {
    std::string out = p.area ? fmt::format("{} m2", number(p.area->value())) : number(p.count.value_or(0));
    out += " of " + (p.crop.empty() ? std::string("plants") : p.crop);
    if (!p.stage.empty()) out += ", " + p.stage;
    if (p.yield) out += fmt::format(", yield {} g", number(p.yield->value()));
    return out;
  }
  std::string operator()(const Seed& s) const {
    const std::string kind = s.kind == Seed::Kind::bottled_culture     ? "bottled culture"
                             : s.kind == Seed::Kind::mature_media      ? "mature media"
                             : s.kind == Seed::Kind::established_water ? "water from an established loop"
                                                                       : "a seed of unknown strength";
    return fmt::format("{} {} of {}", number(s.amount), s.unit, kind);
  }
  std::string operator()(const VolumeChange& v) const { return fmt::format("{} L from here on", number(v.litres.value())); }
  std::string operator()(const Medication&) const { return "kept"; }
  std::string operator()(const Switch& s) const { return s.on ? "switched on" : "switched off"; }
  std::string operator()(const Note&) const { return "kept"; }
};

bool moves_the_model(const Dose& dose) {
  const handbook::Reagent* r = handbook::Handbook::built_in().reagent(dose.substance);
  return r != nullptr && (r->alkalinity_eq_per_mol != 0 || r->carbon_mol_per_mol != 0 || r->ammonia_n_mol_per_mol != 0 ||
                          r->urea_n_mol_per_mol != 0 || r->nitrate_n_mol_per_mol != 0 || r->phosphate_p_mol_per_mol != 0 ||
                          r->chlorine_removed_g_per_g != 0);
}

}  // namespace

std::string said_of(const Entry& entry, const Loop& loop) { return std::visit(BodyText{entry, loop}, entry.body); }

bool is_used(const Entry& entry, const Loop& loop) {
  if (loop.started && entry.when < *loop.started) return false;
  if (const auto* r = std::get_if<Reading>(&entry.body)) {
    switch (r->test) {
      case Test::ammonia:
      case Test::nitrite:
      case Test::nitrate:
      case Test::ph:
      case Test::alkalinity:
      case Test::oxygen:
      case Test::temperature:
      case Test::conductivity: return true;
      default: return false;
    }
  }
  if (const auto* dose = std::get_if<Dose>(&entry.body)) return moves_the_model(*dose);
  if (const auto* change = std::get_if<WaterChange>(&entry.body)) return change->share || change->litres;
  if (const auto* top_up = std::get_if<TopUp>(&entry.body)) return top_up->share || top_up->litres;
  // A heater that is off says nothing of how cold it gets.
  if (const auto* turned = std::get_if<Switch>(&entry.body)) return turned->device != Switch::Device::heater;
  return std::holds_alternative<Feed>(entry.body) || std::holds_alternative<FishMove>(entry.body) ||
         std::holds_alternative<PlantMove>(entry.body) || std::holds_alternative<Seed>(entry.body) ||
         std::holds_alternative<VolumeChange>(entry.body);
}

}  // namespace helmwater::records
