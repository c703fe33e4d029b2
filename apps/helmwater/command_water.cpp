// SPDX-License-Identifier: Apache-2.0
// helmwater water: what the water is, from two readings of the carbonate system and whatever else was
// measured.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iostream>
#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>
#include <tl/expected.hpp>
#include <utility>
#include <vector>

#include "chem/activity.hpp"
#include "chem/ammonia.hpp"
#include "chem/carbonate.hpp"
#include "chem/nitrous_acid.hpp"
#include "chem/oxygen.hpp"
#include "commands.hpp"
#include "handbook/handbook.hpp"
#include "units/convert.hpp"
#include "units/parse.hpp"

namespace helmwater::app {
namespace {

using Json = nlohmann::ordered_json;

struct WaterOptions {
  std::string ph, alkalinity, total_carbon, pco2;
  std::string temperature, ionic_strength, salinity, pressure;
  std::string ammonia, nitrite, phosphate;
  CLI::Option *has_ph = nullptr, *has_alkalinity = nullptr, *has_total_carbon = nullptr, *has_pco2 = nullptr;
  CLI::Option *has_temperature = nullptr, *has_ionic_strength = nullptr, *has_salinity = nullptr,
              *has_pressure = nullptr;
  CLI::Option *has_ammonia = nullptr, *has_nitrite = nullptr, *has_phosphate = nullptr;
  bool json = false;
};

// The question as quantities, ranges checked.
struct WaterQuestion {
  std::optional<units::Ph> ph;
  std::optional<units::AlkalinityMeq> alkalinity;
  std::optional<units::MmolPerL> total_carbon;
  std::optional<units::GasPpm> pco2;
  std::optional<units::AmmoniaN> ammonia;
  std::optional<units::NitriteN> nitrite;
  std::optional<units::PhosphateP> phosphate;
  units::Celsius temperature{25};
  std::optional<units::IonicStrength> ionic_strength;
  units::Salinity salinity{0};
  units::Atm pressure{1};
};

struct Warning {
  std::string code;
  std::string text;
};

struct WaterAnswer {
  // Absent: could not be computed; a warning says why.
  std::optional<units::Ph> ph;
  std::optional<units::AlkalinityMeq> alkalinity;
  std::optional<units::MmolPerL> total_carbon, bicarbonate, carbonate;
  std::optional<units::CarbonDioxideCO2> co2;
  std::optional<units::GasPpm> pco2;
  std::optional<double> free_ammonia_fraction;
  std::optional<units::FreeAmmoniaN> free_ammonia;
  std::optional<units::NitrousAcidN> free_nitrous_acid;
  units::OxygenO2 oxygen_saturation;
  units::IonicStrength ionic_strength;
  std::vector<Warning> warnings;
  std::vector<std::string> cautions;
};

constexpr double kDefaultIonicStrength = 0.005;  // mol/L, a fresh-water loop
constexpr double kOpenAirPpm = 420;

// ---- from options to quantities ----

// One option: absent is nullopt; a value outside [low, high] is an error that names where the limit comes
// from.
template <class Quantity>
tl::expected<std::optional<Quantity>, std::string> read_option(
    const CLI::Option* option, const std::string& text, units::Parsed<Quantity> (*parse)(std::string_view),
    double low, double high, std::string_view unit, std::string_view why) {
  if (option->count() == 0) return std::optional<Quantity>{};
  const auto value = parse(text);
  if (!value) return tl::unexpected(fmt::format("{}: {}", option->get_name(), value.error()));
  if (!(value->value() >= low && value->value() <= high))
    return tl::unexpected(fmt::format("{} \"{}\" is outside {} to {} {}: {}; check value and unit",
                                      option->get_name(), text, units::number_text(low),
                                      units::number_text(high), unit, why));
  return std::optional<Quantity>{*value};
}

tl::expected<WaterQuestion, std::string> question_from(const WaterOptions& o) {
  std::vector<std::string> given;
  for (const CLI::Option* option : {o.has_ph, o.has_alkalinity, o.has_total_carbon, o.has_pco2})
    if (option->count() > 0) given.push_back(option->get_name());
  if (given.size() != 2)
    return tl::unexpected(fmt::format(
        "give exactly two of --ph, --alkalinity, --total-carbon and --pco2, the others are solved; "
        "seen: {}; {}",
        given.empty() ? "none" : fmt::format("{}", fmt::join(given, ", ")),
        given.size() < 2 ? "add another reading, for example --ph 7.4 --alkalinity \"100 mg/L "
                           "CaCO3\""
                         : "leave the least certain ones out"));
  if (o.has_salinity->count() > 0 && o.has_ionic_strength->count() > 0)
    return tl::unexpected(std::string(
        "--salinity and --ionic-strength are two ways to say how salty the water is; give one of them, "
        "--ionic-strength for fresh water, --salinity for salt water"));

  WaterQuestion q;
  std::optional<std::string> problem;
  const auto take = [&](auto& target, auto&& read) {
    if (problem) return;
    if (!read)
      problem = read.error();
    else if (*read)
      target = **read;
  };
  // 0.1 mol/L: beyond it the Davies equation, and with it every constant here, does not hold.
  constexpr double kMost = chem::kHighestIonicStrength;
  constexpr std::string_view kDilute = "the equations hold for dilute water only";
  take(q.ph, read_option(o.has_ph, o.ph, units::parse_ph, 2, 12, "(pH)",
                         "beyond, acid or alkali alone outweighs all that is reckoned with here"));
  take(q.alkalinity, read_option(o.has_alkalinity, o.alkalinity, units::parse_alkalinity, 0, 1000 * kMost,
                                 "meq/L", kDilute));
  take(q.total_carbon, read_option(o.has_total_carbon, o.total_carbon, units::parse_total_carbon, 0,
                                   1000 * kMost, "mmol/L", kDilute));
  take(q.pco2, read_option(o.has_pco2, o.pco2, units::parse_partial_pressure, 0, 1.1e6, "ppm",
                           "no more than the whole air pressure can be CO2"));
  take(q.temperature, read_option(o.has_temperature, o.temperature, units::parse_temperature, 0, 40, "degC",
                                  "the oxygen and ammonia equations were measured there"));
  take(q.ionic_strength, read_option(o.has_ionic_strength, o.ionic_strength, units::parse_ionic_strength, 0,
                                     kMost, "mol/L", "the Davies equation holds up to there"));
  take(q.salinity, read_option(o.has_salinity, o.salinity, units::parse_salinity, 0, 40, "g/kg",
                               "the salt corrections were measured there"));
  take(q.pressure, read_option(o.has_pressure, o.pressure, units::parse_pressure, 0.5, 1.1, "atm",
                               "the oxygen equation was checked there"));
  take(q.ammonia, read_option(o.has_ammonia, o.ammonia, units::parse_ammonia, 0,
                              1e6 * kMost * units::kMolarMassN / 1000, "mg/L as N", kDilute));
  take(q.nitrite, read_option(o.has_nitrite, o.nitrite, units::parse_nitrite, 0,
                              1e6 * kMost * units::kMolarMassN / 1000, "mg/L as N", kDilute));
  take(q.phosphate, read_option(o.has_phosphate, o.phosphate, units::parse_phosphate, 0,
                                1e6 * kMost * units::kMolarMassP / 1000, "mg/L as P", kDilute));
  if (problem) return tl::unexpected(*problem);
  return q;
}

// ---- the answer ----

chem::CarbonateResult solve(const WaterQuestion& q, const chem::Equilibrium& water) {
  if (q.ph && q.alkalinity) return water.from_ph_and_alkalinity(*q.ph, *q.alkalinity);
  if (q.ph && q.total_carbon) return water.from_ph_and_carbon(*q.ph, *q.total_carbon);
  if (q.ph && q.pco2) return water.from_ph_and_pco2(*q.ph, *q.pco2);
  if (q.alkalinity && q.total_carbon) return water.from_alkalinity_and_carbon(*q.alkalinity, *q.total_carbon);
  if (q.alkalinity && q.pco2) return water.from_alkalinity_and_pco2(*q.alkalinity, *q.pco2);
  return water.from_carbon_and_pco2(q.total_carbon.value(), q.pco2.value());
}

void add_free_ammonia(const WaterQuestion& q, WaterAnswer& answer) {
  if (!answer.ph) return;
  if (q.salinity.value() > 0) {
    answer.free_ammonia_fraction =
        chem::free_ammonia_fraction_salt(*answer.ph, q.temperature, q.salinity, chem::HydrogenScale::free);
    answer.warnings.push_back(
        {"salt_water_ph_scale",
         fmt::format("In salt water the free ammonia depends on how pH is counted: {} of it on the free "
                     "hydrogen scale, as "
                     "given here (Clegg & Whitfield 1995), {} on the total scale. A meter calibrated in "
                     "fresh-water buffers "
                     "shows neither exactly.",
                     units::number_text(*answer.free_ammonia_fraction),
                     units::number_text(chem::free_ammonia_fraction_salt(
                         *answer.ph, q.temperature, q.salinity, chem::HydrogenScale::total)))});
  } else {
    answer.free_ammonia_fraction =
        chem::free_ammonia_fraction(*answer.ph, q.temperature, answer.ionic_strength);
  }
  if (q.ammonia)
    answer.free_ammonia = units::FreeAmmoniaN{q.ammonia->value() * *answer.free_ammonia_fraction};
  else
    answer.warnings.push_back(
        {"ammonia_not_given", "Without --ammonia the share of free ammonia is known, its amount is not."});
}

// Limits that were read in a text, each with its words; what nobody opened a source for is left out.
void add_cautions(WaterAnswer& answer) {
  if (!answer.free_ammonia) return;
  for (const char* name : {"free_ammonia_lethal", "free_ammonia_warm", "free_ammonia_cold"}) {
    const handbook::Limit& limit = handbook::Handbook::built_in().limit(name);
    if (limit.fact.confidence != handbook::Confidence::seen ||
        answer.free_ammonia->value() < limit.fact.value)
      continue;
    std::string source = limit.fact.source;  // a key of the handbook's list of sources
    std::replace(source.begin(), source.end(), '_', ' ');
    answer.cautions.push_back(fmt::format("Free ammonia is {} mg/L as N. {} (Handbook source: {}.)",
                                          units::number_text(answer.free_ammonia->value()), limit.says,
                                          source));
  }
}

tl::expected<WaterAnswer, chem::CarbonateError> answer_to(const WaterQuestion& q) {
  WaterAnswer answer;
  answer.ionic_strength =
      q.ionic_strength.value_or(q.salinity.value() > 0 ? chem::ionic_strength_estimate(q.salinity)
                                                       : units::IonicStrength{kDefaultIonicStrength});
  answer.oxygen_saturation = chem::oxygen_saturation(q.temperature, q.salinity, q.pressure);

  const bool dilute = answer.ionic_strength.value() <= chem::kHighestIonicStrength;
  if (dilute) {
    chem::Dissolved dissolved;
    dissolved.ammonia = q.ammonia.value_or(units::AmmoniaN{0});
    dissolved.nitrite = q.nitrite.value_or(units::NitriteN{0});
    dissolved.phosphate = q.phosphate.value_or(units::PhosphateP{0});
    const auto state = solve(q, chem::Equilibrium({q.temperature, answer.ionic_strength}, dissolved));
    if (!state) return tl::unexpected(state.error());
    answer.ph = state->ph;
    answer.alkalinity = state->alkalinity;
    answer.total_carbon = state->total_carbon;
    answer.bicarbonate = state->bicarbonate;
    answer.carbonate = state->carbonate;
    answer.co2 = units::as_co2(state->co2);
    answer.pco2 = state->pco2;
    if (state->pco2.value() > 1e6 * q.pressure.value())
      answer.warnings.push_back(
          {"pco2_above_air_pressure",
           "The CO2 pressure comes out above the air pressure: such water would fizz. Measure both "
           "readings again."});
    if (!q.ionic_strength && q.salinity.value() == 0 &&
        state->alkalinity.value() > 1000 * kDefaultIonicStrength)
      answer.warnings.push_back(
          {"ionic_strength_low",
           fmt::format("So much alkalinity alone makes an ionic strength above the {} mol/L that is "
                       "assumed; give --ionic-strength, about 1.6e-5 times the conductivity in uS/cm.",
                       kDefaultIonicStrength)});
  } else {
    // Brackish and sea water: what was read is passed on, nothing of the carbonate system is solved.
    answer.ph = q.ph;
    answer.alkalinity = q.alkalinity;
    answer.total_carbon = q.total_carbon;
    answer.pco2 = q.pco2;
    answer.warnings.push_back(
        {"too_salty_for_carbonate",
         "Above a salinity of about 5 g/kg the fresh-water carbonate equations do not hold: pH, "
         "alkalinity, carbon, CO2 and nitrous acid are given only where they were read."});
  }

  add_free_ammonia(q, answer);
  if (answer.ph && dilute) {
    if (q.nitrite)
      answer.free_nitrous_acid =
          chem::free_nitrous_acid(*q.nitrite, *answer.ph, q.temperature, answer.ionic_strength);
    else
      answer.warnings.push_back(
          {"nitrite_not_given", "Without --nitrite the amount of free nitrous acid is not known."});
  }
  add_cautions(answer);
  return answer;
}

// ---- printing ----

// null only for what is absent; a value that is no number is our own mistake and must not pass as null.
template <class Quantity>
Json number_or_null(const std::optional<Quantity>& quantity) {
  if (!quantity) return nullptr;
  double value = 0;
  if constexpr (std::is_same_v<Quantity, double>)
    value = *quantity;
  else
    value = quantity->value();
  if (!std::isfinite(value)) throw std::logic_error("water: a result is not a finite number");
  return value;
}

Json to_json(const WaterAnswer& a) {
  Json out;
  out["ph"] = number_or_null(a.ph);
  out["alkalinity_meq_l"] = number_or_null(a.alkalinity);
  out["total_carbon_mmol_l"] = number_or_null(a.total_carbon);
  out["co2_mg_l"] = number_or_null(a.co2);
  out["pco2_ppm"] = number_or_null(a.pco2);
  out["free_ammonia_fraction"] = number_or_null(a.free_ammonia_fraction);
  out["free_ammonia_mg_l_n"] = number_or_null(a.free_ammonia);
  out["free_nitrous_acid_mg_l_n"] = number_or_null(a.free_nitrous_acid);
  out["oxygen_saturation_mg_l"] = number_or_null(std::optional(a.oxygen_saturation));
  out["ionic_strength_mol_l"] = number_or_null(std::optional(a.ionic_strength));
  out["bicarbonate_mmol_l"] = number_or_null(a.bicarbonate);
  out["carbonate_mmol_l"] = number_or_null(a.carbonate);
  out["refused"] = false;
  out["reason"] = nullptr;
  out["warnings"] = Json::array();
  for (const Warning& w : a.warnings) out["warnings"].push_back({{"code", w.code}, {"text", w.text}});
  out["cautions"] = a.cautions;
  return out;
}

void print_for_people(const WaterQuestion& q, const WaterAnswer& a) {
  using units::fixed_text;
  using units::number_text;
  const auto line = [](std::string_view name, const std::string& value) {
    fmt::print("  {:<18}{}\n", name, value);
  };
  fmt::print("Water at {} degC, {}, {} atm\n", fixed_text(q.temperature.value(), 1),
             q.salinity.value() > 0
                 ? fmt::format("salinity {} g/kg", number_text(q.salinity.value()))
                 : fmt::format("ionic strength {} mol/L", number_text(a.ionic_strength.value())),
             number_text(q.pressure.value(), 4));
  if (a.ph) line(q.ph ? "pH (read)" : "pH", fixed_text(a.ph->value(), 2));
  if (a.alkalinity)
    line(q.alkalinity ? "alkalinity (read)" : "alkalinity",
         fmt::format("{} meq/L = {} mg/L CaCO3 = {} dKH", fixed_text(a.alkalinity->value(), 2),
                     fixed_text(units::as_caco3(*a.alkalinity).value(), 0),
                     fixed_text(units::as_dkh(*a.alkalinity).value(), 1)));
  if (a.total_carbon)
    line(q.total_carbon ? "carbon (read)" : "total carbon",
         fmt::format("{} mmol/L", number_text(a.total_carbon->value())));
  if (a.co2) line("CO2", fmt::format("{} mg/L", number_text(a.co2->value())));
  if (a.pco2)
    line(q.pco2 ? "CO2 gas (read)" : "CO2 gas",
         fmt::format("{} ppm (open air: about {})", fixed_text(a.pco2->value(), 0), kOpenAirPpm));
  if (a.free_ammonia_fraction)
    line("free ammonia",
         fmt::format(
             "{} % of all ammonia{}", number_text(100 * *a.free_ammonia_fraction),
             a.free_ammonia ? fmt::format(" = {} mg/L as N", number_text(a.free_ammonia->value())) : ""));
  if (a.free_nitrous_acid)
    line("nitrous acid", fmt::format("{} mg/L as N", number_text(a.free_nitrous_acid->value(), 2)));
  line("oxygen, full", fmt::format("{} mg/L", fixed_text(a.oxygen_saturation.value(), 2)));
  for (const std::string& caution : a.cautions) fmt::print("Caution: {}\n", caution);
  for (const Warning& w : a.warnings) fmt::print("Note: {}\n", w.text);
}

int run_water(const WaterOptions& options) {
  const auto question = question_from(options);
  if (!question) {
    std::cerr << "helmwater water: " << question.error() << '\n';
    return 2;
  }
  const auto answer = answer_to(*question);
  if (!answer) {
    std::cerr << "helmwater water: " << answer.error().message << '\n';
    if (options.json) {
      const Json out{
          {"refused", true}, {"reason", answer.error().message}, {"readings", answer.error().readings}};
      std::cout << out.dump() << '\n';
    }
    return 1;
  }
  if (options.json)
    std::cout << to_json(*answer).dump() << '\n';
  else
    print_for_people(*question, *answer);
  return 0;
}

}  // namespace

Command add_water(CLI::App& program) {
  CLI::App* sub = program.add_subcommand(
      "water",
      "pH, alkalinity, carbon and CO2 from any two of them, with free ammonia, nitrous acid and oxygen");
  auto options = std::make_shared<WaterOptions>();
  WaterOptions& o = *options;
  o.has_ph = sub->add_option("--ph", o.ph, "pH as read, for example 7.4");
  o.has_alkalinity =
      sub->add_option("--alkalinity", o.alkalinity, "\"100 mg/L CaCO3\", \"5.6 dKH\" or \"2 meq/L\"");
  o.has_total_carbon =
      sub->add_option("--total-carbon", o.total_carbon, "total inorganic carbon, \"2.1 mmol/L\"");
  o.has_pco2 = sub->add_option("--pco2", o.pco2,
                               "CO2 pressure in millionths of an atmosphere, \"420 ppm\" for open air");
  o.has_temperature =
      sub->add_option("--temperature", o.temperature, "25 (degC) or 77degF; 25 degC if left out");
  o.has_ionic_strength = sub->add_option("--ionic-strength", o.ionic_strength,
                                         "mol/L, up to 0.1; 0.005 if left out; not with --salinity");
  o.has_salinity = sub->add_option("--salinity", o.salinity, "g/kg; 0 if left out");
  o.has_pressure =
      sub->add_option("--pressure", o.pressure, "air pressure, \"1 atm\", \"760 mmHg\" or \"101.3 kPa\"");
  o.has_ammonia = sub->add_option("--ammonia", o.ammonia, "total ammonia with its basis, \"2 mg/L as N\"");
  o.has_nitrite = sub->add_option("--nitrite", o.nitrite, "with its basis, \"1 mg/L as NO2\"");
  o.has_phosphate = sub->add_option("--phosphate", o.phosphate, "with its basis, \"5 mg/L as PO4\"");
  sub->add_flag("--json", o.json, "one JSON object on standard output");
  return {sub, [options] { return run_water(*options); }};
}

}  // namespace helmwater::app
