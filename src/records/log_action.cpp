// SPDX-License-Identifier: Apache-2.0
// Everything in a log that is not a reading: doses, water, feed, fish, plants, seed, switches, notes.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "handbook/handbook.hpp"
#include "records/known_names.hpp"
#include "records/log_row.hpp"
#include "records/words.hpp"
#include "units/convert.hpp"
#include "units/parse.hpp"

namespace helmwater::records {
namespace {

constexpr double kLargestAmount = 1e9;

tl::expected<double, CellError> amount_of(const LogRow& row, std::string_view example) {
  if (row.value.empty())
    return wrong(Column::value, fmt::format("{} needs an amount; write for example {}", row.what, example));
  const auto number = units::parse_number(row.value);
  if (!number) return wrong(Column::value, fmt::format("the amount of {}: {}", row.what, number.error()));
  if (*number < 0 || std::signbit(*number))
    return wrong(Column::value, fmt::format("{} is a negative amount; allowed: 0 and more", in_quotes(row.value)));
  if (*number > kLargestAmount)
    return wrong(Column::value, fmt::format("{} is more than any loop holds; allowed: 0 to 1e9", in_quotes(row.value)));
  return *number;
}

tl::unexpected<CellError> wrong_unit(const LogRow& row, std::string_view allowed) {
  if (row.unit.empty()) return wrong(Column::unit, fmt::format("{} needs a unit; allowed: {}", row.what, allowed));
  const bool all_digits = row.unit.find_first_not_of("0123456789") == std::string::npos;
  return wrong(Column::unit, fmt::format("{} is not a unit of {}; allowed: {}{}", in_quotes(row.unit), row.what, allowed,
                                         all_digits ? "; if the value has a decimal comma, write a decimal point" : ""));
}

std::vector<std::string> parts_of(std::string_view detail) {
  std::vector<std::string> parts;
  while (!detail.empty()) {
    const auto comma = detail.find_first_of(",;");
    const std::string_view part = trimmed(detail.substr(0, comma));
    if (!part.empty()) parts.emplace_back(part);
    if (comma == std::string_view::npos) break;
    detail.remove_prefix(comma + 1);
  }
  return parts;
}

bool starts_with_number(std::string_view text) {
  return !text.empty() && ((text.front() >= '0' && text.front() <= '9') || text.front() == '.');
}

// ---- doses ----

struct NamedStrength {
  std::string name;
  std::optional<double> percent;
};

// "ammonia solution 10 %", "hydrochloric acid 31.45% (w/w)", "ammonium chloride".
tl::expected<NamedStrength, std::string> name_and_strength(std::string_view detail) {
  NamedStrength out;
  const auto sign = detail.find('%');
  if (sign == std::string_view::npos) {
    out.name = std::string(trimmed(detail));
    return out;
  }
  std::string_view before = trimmed(detail.substr(0, sign));
  const auto last_blank = before.find_last_of(" \t");
  const std::string_view digits = last_blank == std::string_view::npos ? before : before.substr(last_blank + 1);
  const auto number = units::parse_number(digits);
  if (!number) return tl::unexpected(fmt::format("the strength: {}", number.error()));
  if (!(*number > 0) || *number > 100)
    return tl::unexpected(fmt::format("a strength of {} %; allowed: above 0 and at most 100 %", units::number_text(*number)));
  out.percent = *number;
  out.name = last_blank == std::string_view::npos ? std::string{} : std::string(trimmed(before.substr(0, last_blank)));
  return out;
}

const handbook::Reagent* reagent_named(std::string_view name) {
  const handbook::Handbook& book = handbook::Handbook::built_in();
  if (const auto* reagent = book.reagent(name)) return reagent;
  // A log says "ammonia solution" for what the handbook lists as ammonia.
  std::string word = key_word(name);
  constexpr std::string_view kSolution = " solution";
  if (word.size() > kSolution.size() && word.compare(word.size() - kSolution.size(), kSolution.size(), kSolution) == 0)
    return book.reagent(word.substr(0, word.size() - kSolution.size()));
  return nullptr;
}

tl::unexpected<CellError> unknown_substance(std::string_view name) {
  std::vector<std::string> names;
  for (const handbook::Reagent& reagent : handbook::Handbook::built_in().reagents()) names.push_back(reagent.name);
  return wrong(Column::detail, fmt::format("{} is not a substance of the handbook{}; allowed: {}", in_quotes(name),
                                           did_you_mean(name, names), listed(names)));
}

struct Effect {
  Dose::Amount how = Dose::Amount::raise_by;
  double amount = 0;
};

// "to 4" and "+2"; nullopt: not written as an effect.
std::optional<tl::expected<Effect, CellError>> effect_of(const LogRow& row) {
  const std::string word = key_word(row.value);
  Effect effect;
  std::string_view digits = word;
  if (word.substr(0, 2) == "to" && (word.size() == 2 || word[2] == ' ' || starts_with_number(digits.substr(2)))) {
    effect.how = Dose::Amount::raise_to;
    digits.remove_prefix(2);
  } else if (!word.empty() && word.front() == '+') {
    digits.remove_prefix(1);
  } else {
    return std::nullopt;
  }
  const auto number = units::parse_number(digits);
  if (!number)
    return tl::expected<Effect, CellError>(wrong(Column::value, fmt::format("the dose's effect: {}", number.error())));
  if (*number < 0 || *number > 1e5)
    return tl::expected<Effect, CellError>(
        wrong(Column::value, fmt::format("{} is outside what a dose can do; allowed: 0 to 100000 mg/L", in_quotes(row.value))));
  effect.amount = *number;
  return tl::expected<Effect, CellError>(effect);
}

tl::expected<Body, CellError> read_dose(const Loop& loop, const LogRow& row, std::vector<Doubt>& doubts) {
  constexpr std::string_view kUnits = "g, kg, mL, L, or mg/L with a value such as \"to 4\" or \"+2\"";
  Dose dose;
  if (row.detail.empty())
    return wrong(Column::detail, "a dose needs its substance, for example ammonium chloride or ammonia solution 10 %; an "
                                 "effect in mg/L needs it too");
  const auto named = name_and_strength(row.detail);
  if (!named) return wrong(Column::detail, named.error());
  const handbook::Reagent* reagent = reagent_named(named->name);
  if (reagent == nullptr) return unknown_substance(named->name);
  dose.substance = reagent->name;
  dose.percent = named->percent;

  if (const auto effect = effect_of(row)) {
    if (!*effect) return tl::unexpected(effect->error());
    dose.how = (*effect)->how;
    dose.amount = (*effect)->amount;
    const bool alkaline = reagent->alkalinity_eq_per_mol > 0 && !(reagent->ammonia_n_mol_per_mol > 0) &&
                          !(reagent->urea_n_mol_per_mol > 0);
    if (alkaline) {
      if (const auto meq = units::alkalinity_from(dose.amount, row.unit)) {
        dose.amount = units::as_caco3(*meq).value();
        dose.basis = Basis::caco3;
        return dose;
      }
    }
    const auto unit = units::parse_concentration_unit(row.unit);
    if (row.unit.empty() || !unit || unit->mg_per_l != 1)
      return wrong(Column::unit, fmt::format("{} is an effect, so its unit is mg/L; seen {}; for a weighed amount write the "
                                             "number alone with g, kg, mL or L",
                                             in_quotes(row.value), row.unit.empty() ? "none" : in_quotes(row.unit)));
    if (alkaline && unit->basis == units::WrittenBasis::none) {
      dose.basis = Basis::caco3;
      doubts.push_back({row.line, "effect_as_caco3",
                        fmt::format("The effect of {} was taken as alkalinity in mg/L as CaCO3; write that unit, or the weighed "
                                    "amount.",
                                    reagent->name)});
      return dose;
    }
    if (reagent->ammonia_n_mol_per_mol > 0 || reagent->urea_n_mol_per_mol > 0) {
      const auto kit = kit_of(loop, Test::ammonia, row, doubts);
      if (!kit) return tl::unexpected(kit.error());
      const auto basis = basis_of_unit(loop, Test::ammonia, *kit, row);
      if (!basis) return tl::unexpected(basis.error());
      dose.basis = *basis;
      return dose;
    }
    if (unit->basis != units::WrittenBasis::none)
      return wrong(Column::unit, fmt::format("{}: an effect can be counted as ammonia or as alkalinity only; weigh the dose, "
                                             "or write plain mg/L of the substance",
                                             in_quotes(row.unit)));
    if (dose.how == Dose::Amount::raise_to)
      return wrong(Column::value, "\"to\" is known for ammonia and alkalinity only; write the weighed amount, or + with mg/L of the "
                                 "substance");
    // mg/L of the product x L = mg
    dose.how = Dose::Amount::grams;
    dose.amount = dose.amount * loop.volume.value() / 1000;
    doubts.push_back({row.line, "effect_as_weight",
                      fmt::format("The dose in mg/L of {} was taken as {} g for the whole loop; write the weighed amount.",
                                  reagent->name, units::number_text(dose.amount))});
    return dose;
  }

  const std::string unit = units::normal_unit(row.unit);
  if (unit == "g" || unit == "kg") {
    dose.how = Dose::Amount::grams;
  } else if (unit == "ml" || unit == "l") {
    dose.how = Dose::Amount::millilitres;
  } else {
    if (units::parse_concentration_unit(row.unit))
      return wrong(Column::value, fmt::format("{} {} is not clear; for a dose by its effect write \"to {}\" or \"+{}\"",
                                              in_quotes(row.value), row.unit, row.value, row.value));
    return wrong_unit(row, kUnits);
  }
  const auto amount = amount_of(row, "12.5");
  if (!amount) return tl::unexpected(amount.error());
  dose.amount = *amount * (unit == "kg" || unit == "l" ? 1000 : 1);
  if (reagent->liquid && !dose.percent)
    return wrong(Column::detail, fmt::format("{} is sold as a solution, so its strength must be said; write for example "
                                             "\"{} 10 %\" (per cent by weight, from the label)",
                                             reagent->name, named->name));
  if (dose.how == Dose::Amount::millilitres && !reagent->liquid) {
    if (!dose.percent)
      return wrong(Column::detail, fmt::format("{} is a solid, so {} {} says nothing about its amount; weigh it and write g, or "
                                               "give the solution's strength, for example \"{} 10 %\"",
                                               reagent->name, row.value, row.unit, reagent->name));
    if (reagent->strengths.empty()) {
      dose.how = Dose::Amount::grams;
      doubts.push_back({row.line, "density_unknown",
                        fmt::format("The density of a {} % solution of {} is not known: 1 g/mL was taken; write the weighed "
                                    "amount.",
                                    units::number_text(*dose.percent), reagent->name)});
    }
  }
  return dose;
}

// ---- water ----

struct WaterAmount {
  std::optional<double> share;
  std::optional<units::Litres> litres;
};

tl::expected<WaterAmount, CellError> water_amount(const LogRow& row) {
  const auto amount = amount_of(row, "25 with unit %");
  if (!amount) return tl::unexpected(amount.error());
  WaterAmount out;
  if (units::normal_unit(row.unit) == "%") {
    if (*amount > 100)
      return wrong(Column::value, fmt::format("{} % is more than all the water; allowed: 0 to 100 %", row.value));
    out.share = *amount / 100;
    return out;
  }
  if (row.unit.empty()) return wrong_unit(row, "%, L, gal(US)");
  const auto litres = units::volume_from(*amount, row.unit);
  if (!litres) return wrong_unit(row, "%, L, gal(US)");
  out.litres = *litres;
  return out;
}

tl::expected<Body, CellError> read_water(const Loop& loop, const LogRow& row, std::vector<Doubt>& doubts) {
  const bool change = row.what == "water change";
  if (row.value.empty()) {
    doubts.push_back({row.line, "water_change_without_volume",
                      fmt::format("The {} says no amount, so it was not counted; write the share in % or the litres.", row.what)});
    if (change) return WaterChange{std::nullopt, std::nullopt, row.detail};
    return TopUp{std::nullopt, std::nullopt, row.detail};
  }
  const auto amount = water_amount(row);
  if (!amount) return tl::unexpected(amount.error());
  if (amount->litres && amount->litres->value() > loop.volume.value())
    doubts.push_back({row.line, "more_than_the_loop",
                      fmt::format("{} L is more than the loop's {} L; check the number and the unit.",
                                  units::number_text(amount->litres->value(), 4), units::number_text(loop.volume.value(), 4))});
  if (change) return WaterChange{amount->share, amount->litres, row.detail};
  return TopUp{amount->share, amount->litres, row.detail};
}

tl::expected<Body, CellError> read_volume(const LogRow& row) {
  const auto amount = amount_of(row, "480 with unit L");
  if (!amount) return tl::unexpected(amount.error());
  if (row.unit.empty()) return wrong_unit(row, "L, gal(US)");
  const auto litres = units::volume_from(*amount, row.unit);
  if (!litres) return wrong_unit(row, "L, gal(US)");
  if (!(litres->value() > 0)) return wrong(Column::value, "the loop's volume is 0; allowed: above 0");
  return VolumeChange{*litres};
}

// ---- feed, fish, plants ----

tl::expected<Body, CellError> read_feed(const LogRow& row) {
  const auto amount = amount_of(row, "12");
  if (!amount) return tl::unexpected(amount.error());
  const std::string unit = units::normal_unit(row.unit);
  if (unit != "g" && unit != "kg") return wrong_unit(row, "g");
  Feed feed;
  feed.amount = units::Grams{*amount * (unit == "kg" ? 1000 : 1)};
  if (const auto sign = row.detail.find('%'); sign != std::string::npos) {
    const std::string_view before = trimmed(std::string_view(row.detail).substr(0, sign));
    const auto start = before.find_last_not_of("0123456789.");
    const auto percent = units::parse_number(start == std::string_view::npos ? before : before.substr(start + 1));
    if (!percent || *percent > 100)
      return wrong(Column::detail, fmt::format("{} does not say the protein; write for example 32 % protein (0 to 100 %)",
                                               in_quotes(row.detail)));
    feed.protein_percent = *percent;
  }
  return feed;
}

tl::expected<Body, CellError> read_fish(const LogRow& row, std::vector<Doubt>& doubts) {
  FishMove move;
  move.in = row.what == "fish in";
  const auto count = amount_of(row, "20");
  if (!count) return tl::unexpected(count.error());
  if (*count != std::floor(*count))
    return wrong(Column::value, fmt::format("{} fish; allowed: a whole number", row.value));
  if (!row.unit.empty() && key_word(row.unit) != "fish") return wrong(Column::unit, fmt::format(
      "{} after a number of fish; leave the unit empty and write the mean weight into the detail", in_quotes(row.unit)));
  move.count = *count;
  for (const std::string& part : parts_of(row.detail)) {
    const std::string word = key_word(part);
    if (word == "stocked" || word == "harvested" || word == "died" || word == "sold" || word == "moved") {
      move.why = word;
      continue;
    }
    if (const auto digit = part.find_first_of("0123456789"); digit != std::string::npos) {
      std::string weight = part.substr(digit);
      if (const auto each = lower_case(weight).find(" each"); each != std::string::npos) weight.resize(each);
      const auto mass = units::parse_mass(weight);
      if (mass && mass->value() > 0) {
        move.mean_weight = *mass;
        continue;
      }
    }
    if (move.species.empty()) {
      move.species = part;
      continue;
    }
    move.why = part;
  }
  if (!move.species.empty() && !is_known_species(move.species))
    doubts.push_back({row.line, "unknown_species",
                      fmt::format("{} is not a species of the handbook: values for fish in general were used; check the "
                                  "spelling if it should be known.",
                                  in_quotes(move.species))});
  return move;
}

tl::expected<Body, CellError> read_plants(const LogRow& row, std::vector<Doubt>& doubts) {
  PlantMove move;
  move.in = row.what == "plants in";
  const auto amount = amount_of(row, "12, or an area with unit m2");
  if (!amount) return tl::unexpected(amount.error());
  const std::string unit = units::normal_unit(row.unit);
  if (unit == "m2" || unit == "m\xC2\xB2") {
    move.area = units::SquareMetres{*amount};
  } else if (unit.empty() || unit == "plants") {
    move.count = *amount;
  } else {
    return wrong_unit(row, "none for a count, m2 for an area");
  }
  for (const std::string& part : parts_of(row.detail)) {
    const std::string word = key_word(part);
    if (word.substr(0, 5) == "yield") {
      const auto mass = units::parse_mass(std::string_view(word).substr(5));
      if (!mass) return wrong(Column::detail, fmt::format("the yield: {}; write for example yield 350 g", mass.error()));
      move.yield = *mass;
    } else if (move.crop.empty()) {
      move.crop = part;
    } else if (move.stage.empty()) {
      move.stage = part;
    } else {
      move.stage.append(", ").append(part);
    }
  }
  if (!move.crop.empty() && !is_known_crop(move.crop))
    doubts.push_back({row.line, "unknown_crop",
                      fmt::format("{} is not a crop of the handbook: values for crops in general were used; check the spelling "
                                  "if it should be known.",
                                  in_quotes(move.crop))});
  if (!move.stage.empty())
    doubts.push_back({row.line, "unknown_stage",
                      fmt::format("Of the stage {} only \"mature\" counts: such plants take their full share at once, all others grow "
                                  "to it in four weeks; nothing needs doing.",
                                  in_quotes(move.stage))});
  return move;
}

tl::expected<Body, CellError> read_seed(const LogRow& row, std::vector<Doubt>& doubts) {
  Seed seed;
  const auto amount = amount_of(row, "50 with unit mL");
  if (!amount) return tl::unexpected(amount.error());
  const std::string unit = units::normal_unit(row.unit);
  seed.amount = *amount;
  const std::string_view known = unit == "ml"                                ? "mL"
                                 : unit == "l"                               ? "L"
                                 : unit == "m2" || unit == "m\xC2\xB2" ? "m2"
                                                                             : "";
  if (known.empty()) return wrong_unit(row, "mL, L, m2");
  seed.unit = known;
  const std::string kind = key_word(row.detail);
  if (kind == "bottled culture") seed.kind = Seed::Kind::bottled_culture;
  else if (kind == "mature media") seed.kind = Seed::Kind::mature_media;
  else if (kind == "water from an established loop") seed.kind = Seed::Kind::established_water;
  else
    doubts.push_back({row.line, "unknown_seed",
                      fmt::format("{} is not a seed that is known (bottled culture, mature media, water from an established "
                                  "loop): taken as of unknown strength; write one of these.",
                                  row.detail.empty() ? "An empty detail" : in_quotes(row.detail))});
  return seed;
}

tl::expected<Body, CellError> read_switch(const LogRow& row) {
  Switch change;
  if (row.what == "pump") change.device = Switch::Device::pump;
  if (row.what == "air") change.device = Switch::Device::air;
  if (row.what == "light") change.device = Switch::Device::light;
  if (row.what == "heater") change.device = Switch::Device::heater;
  const std::string state = key_word(row.value);
  if (state != "on" && state != "off")
    return wrong(Column::value, fmt::format("{} is not a state of the {}; allowed: on, off", in_quotes(row.value), row.what));
  change.on = state == "on";
  return change;
}

tl::expected<Body, CellError> read_medication(const LogRow& row) {
  if (starts_with_number(row.value) || (!row.value.empty() && row.value.front() == '-')) {
    const auto amount = amount_of(row, "5 with its unit");
    if (!amount) return tl::unexpected(amount.error());
  }
  return Medication{};
}

}  // namespace

const std::vector<std::string>& action_names() {
  static const std::vector<std::string> names{"dose",     "water change", "top-up",     "feed",  "fish in", "fish out",
                                              "plants in", "plants out",  "seed",       "volume", "medication", "pump",
                                              "air",      "light",        "heater",     "note"};
  return names;
}

bool is_action(std::string_view what) {
  const auto& names = action_names();
  return std::find(names.begin(), names.end(), what) != names.end();
}

tl::expected<Body, CellError> read_action(const Loop& loop, const LogRow& row, std::vector<Doubt>& doubts) {
  if (row.what == "dose") return read_dose(loop, row, doubts);
  if (row.what == "water change" || row.what == "top-up") return read_water(loop, row, doubts);
  if (row.what == "feed") return read_feed(row);
  if (row.what == "fish in" || row.what == "fish out") return read_fish(row, doubts);
  if (row.what == "plants in" || row.what == "plants out") return read_plants(row, doubts);
  if (row.what == "seed") return read_seed(row, doubts);
  if (row.what == "volume") return read_volume(row);
  if (row.what == "medication") return read_medication(row);
  if (row.what == "note") return Note{};
  return read_switch(row);
}

}  // namespace helmwater::records
