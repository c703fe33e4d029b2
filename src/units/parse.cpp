// SPDX-License-Identifier: Apache-2.0
#include "units/parse.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <optional>
#include <system_error>
#include <utility>

#include "units/convert.hpp"

namespace helmwater::units {
namespace {

constexpr bool is_blank(char c) { return c == ' ' || c == '\t' || c == '\r' || c == '\n'; }

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && is_blank(text.front())) text.remove_prefix(1);
  while (!text.empty() && is_blank(text.back())) text.remove_suffix(1);
  return text;
}

struct Replacement {
  std::string_view seen;
  std::string_view meant;
};

// Signs that keyboards, spreadsheets and phones put in place of plain ones (UTF-8).
constexpr std::array<Replacement, 8> kTypographic{{
    {"\xC2\xA0", " "},      // no-break space
    {"\xE2\x80\xAF", " "},  // narrow no-break space
    {"\xE2\x88\x92", "-"},  // minus sign
    {"\xC2\xB5", "u"},      // micro sign
    {"\xCE\xBC", "u"},      // Greek mu
    {"\xC2\xB0", "deg"},    // degree sign
    {"\xC2\xBA", "deg"},    // ordinal sign, often typed as degree
    {"\xC2\xB3", "3"},      // superscript three, as in m3
}};

std::string plain_signs(std::string_view text) {
  std::string out;
  out.reserve(text.size());
  while (!text.empty()) {
    bool replaced = false;
    for (const Replacement& r : kTypographic) {
      if (text.substr(0, r.seen.size()) != r.seen) continue;
      out += r.meant;
      text.remove_prefix(r.seen.size());
      replaced = true;
      break;
    }
    if (replaced) continue;
    out += text.front();
    text.remove_prefix(1);
  }
  return out;
}

char lower(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

// What was seen, short enough and harmless for a message line.
std::string shown(std::string_view text) {
  constexpr std::size_t kLongest = 60;
  std::string out;
  for (char c : text.substr(0, kLongest)) out += static_cast<unsigned char>(c) < 0x20 || c == 0x7f ? '?' : c;
  if (text.size() > kLongest) out += "...";
  return out;
}

tl::unexpected<std::string> error(std::string message) {
  return tl::unexpected<std::string>(std::move(message));
}

struct NumberPart {
  double value = 0;
  bool plus = false;
  std::string_view rest;
};

Parsed<NumberPart> leading_number(std::string_view text) {
  const std::string_view whole = text;
  NumberPart part;
  if (text.empty()) return error("a number is missing; write it with a decimal point, for example 2.5");
  if (text.front() == '+') {
    part.plus = true;
    text.remove_prefix(1);
    if (!text.empty() && (text.front() == '-' || text.front() == '+'))
      return error(fmt::format("\"{}\" has two signs; write one number, for example 2.5", shown(whole)));
  }
  const auto [end, status] = std::from_chars(text.data(), text.data() + text.size(), part.value);
  if (status == std::errc::result_out_of_range)
    return error(
        fmt::format("the number in \"{}\" is too large or too small to be a measurement", shown(whole)));
  if (status != std::errc{})
    return error(fmt::format("\"{}\" does not start with a number; write for example 2.5", shown(whole)));
  if (!std::isfinite(part.value))
    return error(fmt::format("\"{}\" is not a finite number; write for example 2.5", shown(whole)));
  part.rest = text.substr(static_cast<std::size_t>(end - text.data()));
  if (!part.rest.empty() && part.rest.front() == ',')
    return error(
        fmt::format("\"{}\" has a comma in its number; write a decimal point and no thousands separator, for "
                    "example 2.5 or 1000",
                    shown(whole)));
  return part;
}

struct UnitFactor {
  std::string_view unit;  // normal_unit() spelling
  double factor;
};

template <std::size_t N>
std::optional<double> factor_of(const std::array<UnitFactor, N>& table, const std::string& unit) {
  for (const UnitFactor& row : table)
    if (row.unit == unit) return row.factor;
  return std::nullopt;
}

std::string unit_problem(std::string_view what, double number, std::string_view unit,
                         std::string_view allowed) {
  if (trimmed(unit).empty()) return fmt::format("{} {} has no unit; allowed: {}", what, number, allowed);
  return fmt::format("{}: unit \"{}\" is not known; allowed: {}", what, shown(trimmed(unit)), allowed);
}

std::optional<std::string> number_problem(std::string_view what, double number, bool negative_allowed) {
  if (!std::isfinite(number)) return fmt::format("{} is not a finite number", what);
  if (!negative_allowed && number < 0)
    return fmt::format("{} {} is negative; it must be 0 or more", what, number);
  return std::nullopt;
}

// Number times a factor from a table of units.
template <class Quantity, std::size_t N>
Parsed<Quantity> by_table(std::string_view what, double number, std::string_view unit,
                          const std::array<UnitFactor, N>& table, std::string_view allowed) {
  if (auto problem = number_problem(what, number, false)) return error(*problem);
  const auto factor = factor_of(table, normal_unit(unit));
  if (!factor) return error(unit_problem(what, number, unit, allowed));
  const double value = number * *factor;
  if (!std::isfinite(value)) return error(fmt::format("{} {} {} is too large", what, number, unit));
  return Quantity{value};
}

// Concentration whose basis must be said. `to_quantity(basis, mg_per_l)` gives nullopt for a basis of another
// substance.
template <class Quantity, class Convert>
Parsed<Quantity> with_basis(std::string_view what, double number, std::string_view unit,
                            std::string_view allowed, std::string_view example, Convert to_quantity) {
  if (auto problem = number_problem(what, number, false)) return error(*problem);
  if (trimmed(unit).empty())
    return error(fmt::format("{} {} has no unit; allowed: {}", what, number, allowed));
  const auto parsed = parse_concentration_unit(unit);
  if (!parsed) return error(fmt::format("{}: {}; allowed: {}", what, parsed.error(), allowed));
  if (parsed->basis == WrittenBasis::none)
    return error(fmt::format(
        "{} \"{} {}\" does not say what it is counted as; allowed: {}; the kit's chart or leaflet "
        "says which, write for example \"{}\"",
        what, number, shown(trimmed(unit)), allowed, example));
  const std::optional<Quantity> quantity = to_quantity(parsed->basis, number * parsed->mg_per_l);
  if (!quantity)
    return error(
        fmt::format("{} cannot be counted as \"{}\"; allowed: {}", what, shown(trimmed(unit)), allowed));
  if (!std::isfinite(quantity->value()))
    return error(fmt::format("{} {} {} is too large", what, number, unit));
  return *quantity;
}

// Plain mg/L of one thing; the basis may be left out or must be the given one.
template <class Quantity>
Parsed<Quantity> plain_concentration(std::string_view what, double number, std::string_view unit,
                                     WrittenBasis own, std::string_view allowed) {
  if (auto problem = number_problem(what, number, false)) return error(*problem);
  if (trimmed(unit).empty()) return error(unit_problem(what, number, unit, allowed));
  const auto parsed = parse_concentration_unit(unit);
  if (!parsed || (parsed->basis != WrittenBasis::none && parsed->basis != own))
    return error(unit_problem(what, number, unit, allowed));
  const double value = number * parsed->mg_per_l;
  if (!std::isfinite(value)) return error(fmt::format("{} {} {} is too large", what, number, unit));
  return Quantity{value};
}

template <class Quantity>
Parsed<Quantity> from_text(std::string_view what, std::string_view text,
                           Parsed<Quantity> (*build)(double, std::string_view)) {
  const auto amount = split_amount(text);
  if (!amount) return error(fmt::format("{}: {}", what, amount.error()));
  return build(amount->number, amount->unit);
}

constexpr std::string_view kAmmoniaAllowed = "mg/L (or ppm) as N, as NH3, as NH4";
constexpr std::string_view kNitriteAllowed = "mg/L (or ppm) as N, as NO2";
constexpr std::string_view kNitrateAllowed = "mg/L (or ppm) as N, as NO3";
constexpr std::string_view kPhosphateAllowed = "mg/L (or ppm) as P, as PO4";
constexpr std::string_view kAlkalinityAllowed = "mg/L CaCO3 (or ppm), dKH, meq/L";
constexpr std::string_view kTotalCarbonAllowed = "mmol/L, mol/L, mg/L CO2, mg/L C";
constexpr std::string_view kPartialPressureAllowed = "ppm, atm, uatm, Pa";
constexpr std::string_view kVolumeAllowed = "L, mL, m3, gal(US), gal(UK), ft3";

}  // namespace

Parsed<double> parse_number(std::string_view text) {
  const std::string plain = plain_signs(text);
  const auto part = leading_number(trimmed(plain));
  if (!part) return error(part.error());
  if (!part->rest.empty())
    return error(fmt::format("\"{}\" is not a plain number: \"{}\" is left over; write for example 2.5",
                             shown(trimmed(text)), shown(part->rest)));
  return part->value;
}

Parsed<Amount> split_amount(std::string_view text) {
  const std::string plain = plain_signs(text);
  const auto part = leading_number(trimmed(plain));
  if (!part) return error(part.error());
  return Amount{part->value, std::string(trimmed(part->rest)), part->plus};
}

std::string normal_unit(std::string_view unit) {
  const std::string plain = plain_signs(unit);
  std::string out;
  bool blank_waits = false;
  for (char c : trimmed(plain)) {
    if (is_blank(c)) {
      blank_waits = true;
      continue;
    }
    // A blank separates words only; around "/" and brackets it says nothing.
    const bool tight =
        c == '/' || c == '(' || c == ')' || (!out.empty() && (out.back() == '/' || out.back() == '('));
    if (blank_waits && !tight) out += ' ';
    blank_waits = false;
    out += lower(c);
  }
  return out;
}

Parsed<ConcentrationUnit> parse_concentration_unit(std::string_view unit) {
  const std::string normal = normal_unit(unit);
  constexpr std::array<UnitFactor, 9> kScales{{{"mg/l", 1},
                                               {"ppm", 1},
                                               {"mg/litre", 1},
                                               {"mg/liter", 1},
                                               {"g/m3", 1},
                                               {"ug/l", 1e-3},
                                               {"ppb", 1e-3},
                                               {"mg n/l", 1},
                                               {"mgn/l", 1}}};
  struct NamedBasis {
    std::string_view name;
    WrittenBasis basis;
  };
  constexpr std::array<NamedBasis, 27> kBases{
      {{"n", WrittenBasis::n},         {"nh3-n", WrittenBasis::n},    {"nh4-n", WrittenBasis::n},
       {"nh4+-n", WrittenBasis::n},    {"no2-n", WrittenBasis::n},    {"no3-n", WrittenBasis::n},
       {"tan", WrittenBasis::n},       {"nitrogen", WrittenBasis::n}, {"nh3", WrittenBasis::nh3},
       {"nh4", WrittenBasis::nh4},     {"nh4+", WrittenBasis::nh4},   {"no2", WrittenBasis::no2},
       {"no2-", WrittenBasis::no2},    {"no3", WrittenBasis::no3},    {"no3-", WrittenBasis::no3},
       {"p", WrittenBasis::p},         {"po4-p", WrittenBasis::p},    {"po4", WrittenBasis::po4},
       {"po43-", WrittenBasis::po4},   {"po4---", WrittenBasis::po4}, {"cl2", WrittenBasis::cl2},
       {"cl", WrittenBasis::cl2},      {"o2", WrittenBasis::o2},      {"co2", WrittenBasis::co2},
       {"caco3", WrittenBasis::caco3}, {"-n", WrittenBasis::n},       {"ion", WrittenBasis::ion}}};
  for (const UnitFactor& scale : kScales) {
    if (normal.compare(0, scale.unit.size(), scale.unit) != 0) continue;
    ConcentrationUnit result{scale.factor, WrittenBasis::none};
    std::string_view rest = trimmed(std::string_view(normal).substr(scale.unit.size()));
    const bool n_inside = scale.unit == "mg n/l" || scale.unit == "mgn/l";
    if (n_inside) result.basis = WrittenBasis::n;
    if (rest.empty()) return result;
    if (n_inside) break;
    // "mg/L as N", "mg/L (as N)", "mg/L N"
    if (rest.size() > 2 && rest.front() == '(' && rest.back() == ')')
      rest = trimmed(rest.substr(1, rest.size() - 2));
    if (rest.substr(0, 3) == "as ") rest = trimmed(rest.substr(3));
    for (const NamedBasis& named : kBases) {
      if (named.name != rest) continue;
      result.basis = named.basis;
      return result;
    }
    return error(
        fmt::format("\"{}\" in unit \"{}\" is not a basis that is known", shown(rest), shown(trimmed(unit))));
  }
  return error(fmt::format("unit \"{}\" is not a concentration", shown(trimmed(unit))));
}

Parsed<AmmoniaN> ammonia_from(double number, std::string_view unit) {
  return with_basis<AmmoniaN>("ammonia", number, unit, kAmmoniaAllowed, "2 mg/L as N",
                              [](WrittenBasis basis, double v) -> std::optional<AmmoniaN> {
                                switch (basis) {
                                  case WrittenBasis::n: return AmmoniaN{v};
                                  case WrittenBasis::nh3:
                                  case WrittenBasis::ion: return as_n(AmmoniaNH3{v});
                                  case WrittenBasis::nh4: return as_n(AmmoniaNH4{v});
                                  default: return std::nullopt;
                                }
                              });
}

Parsed<NitriteN> nitrite_from(double number, std::string_view unit) {
  return with_basis<NitriteN>("nitrite", number, unit, kNitriteAllowed, "1 mg/L as NO2",
                              [](WrittenBasis basis, double v) -> std::optional<NitriteN> {
                                switch (basis) {
                                  case WrittenBasis::n: return NitriteN{v};
                                  case WrittenBasis::no2:
                                  case WrittenBasis::ion: return as_n(NitriteIon{v});
                                  default: return std::nullopt;
                                }
                              });
}

Parsed<NitrateN> nitrate_from(double number, std::string_view unit) {
  return with_basis<NitrateN>("nitrate", number, unit, kNitrateAllowed, "20 mg/L as NO3",
                              [](WrittenBasis basis, double v) -> std::optional<NitrateN> {
                                switch (basis) {
                                  case WrittenBasis::n: return NitrateN{v};
                                  case WrittenBasis::no3:
                                  case WrittenBasis::ion: return as_n(NitrateIon{v});
                                  default: return std::nullopt;
                                }
                              });
}

Parsed<PhosphateP> phosphate_from(double number, std::string_view unit) {
  return with_basis<PhosphateP>("phosphate", number, unit, kPhosphateAllowed, "5 mg/L as PO4",
                                [](WrittenBasis basis, double v) -> std::optional<PhosphateP> {
                                  switch (basis) {
                                    case WrittenBasis::p: return PhosphateP{v};
                                    case WrittenBasis::po4:
                                    case WrittenBasis::ion: return as_p(PhosphateIon{v});
                                    default: return std::nullopt;
                                  }
                                });
}

Parsed<AlkalinityMeq> alkalinity_from(double number, std::string_view unit) {
  constexpr double kFromCaCO3 = 1.0 / kCaCO3MgPerMeq;
  constexpr std::array<UnitFactor, 16> kUnits{{{"meq/l", 1},
                                               {"mmol/l hco3", 1},
                                               {"mval/l", 1},
                                               {"eq/l", 1000},
                                               {"dkh", kCaCO3MgPerDkh * kFromCaCO3},
                                               {"degkh", kCaCO3MgPerDkh * kFromCaCO3},
                                               {"deg kh", kCaCO3MgPerDkh * kFromCaCO3},
                                               {"degdkh", kCaCO3MgPerDkh * kFromCaCO3},
                                               {"kh", kCaCO3MgPerDkh * kFromCaCO3},
                                               {"degdh", kCaCO3MgPerDkh * kFromCaCO3},
                                               {"deg dh", kCaCO3MgPerDkh * kFromCaCO3},
                                               {"fh", kCaCO3MgPerFrenchDegree * kFromCaCO3},
                                               {"degfh", kCaCO3MgPerFrenchDegree * kFromCaCO3},
                                               {"mg/l hco3", 1.0 / kBicarbonateMgPerMeq},
                                               {"mg/l as hco3", 1.0 / kBicarbonateMgPerMeq},
                                               {"gpg", kCaCO3MgPerGrainPerUsGallon * kFromCaCO3}}};
  if (auto problem = number_problem("alkalinity", number, false)) return error(*problem);
  const std::string normal = normal_unit(unit);
  if (const auto factor = factor_of(kUnits, normal)) return AlkalinityMeq{number * *factor};
  if (const auto concentration = parse_concentration_unit(unit)) {
    if (concentration->basis == WrittenBasis::caco3) {
      const AlkalinityMeq a = as_meq(AlkalinityCaCO3{number * concentration->mg_per_l});
      if (std::isfinite(a.value())) return a;
    }
    if (concentration->basis == WrittenBasis::none)
      return error(fmt::format(
          "alkalinity \"{} {}\" does not say what it is counted as; allowed: {}; write for example "
          "\"100 mg/L CaCO3\"",
          number, shown(trimmed(unit)), kAlkalinityAllowed));
  }
  return error(unit_problem("alkalinity", number, unit, kAlkalinityAllowed));
}

Parsed<MmolPerL> total_carbon_from(double number, std::string_view unit) {
  constexpr double kMolarMassC = 12.011;
  constexpr std::array<UnitFactor, 11> kUnits{{{"mmol/l", 1},
                                               {"mm", 1},
                                               {"mol/l", 1000},
                                               {"umol/l", 1e-3},
                                               {"mg/l co2", 1 / kMolarMassCO2},
                                               {"mg/l as co2", 1 / kMolarMassCO2},
                                               {"ppm co2", 1 / kMolarMassCO2},
                                               {"mg/l c", 1 / kMolarMassC},
                                               {"mg/l as c", 1 / kMolarMassC},
                                               {"mg c/l", 1 / kMolarMassC},
                                               {"mmol c/l", 1}}};
  return by_table<MmolPerL>("total carbon", number, unit, kUnits, kTotalCarbonAllowed);
}

Parsed<GasPpm> partial_pressure_from(double number, std::string_view unit) {
  constexpr std::array<UnitFactor, 8> kUnits{{{"ppm", 1},
                                              {"ppmv", 1},
                                              {"uatm", 1},
                                              {"matm", 1e3},
                                              {"atm", 1e6},
                                              {"pa", 1e3 / kKilopascalPerAtm},
                                              {"kpa", 1e6 / kKilopascalPerAtm},
                                              {"mmhg", 1e6 / kMmHgPerAtm}}};
  return by_table<GasPpm>("CO2 partial pressure", number, unit, kUnits, kPartialPressureAllowed);
}

Parsed<Celsius> temperature_from(double number, std::string_view unit) {
  if (auto problem = number_problem("temperature", number, true)) return error(*problem);
  const std::string normal = normal_unit(unit);
  if (normal.empty() || normal == "degc" || normal == "deg c" || normal == "c" || normal == "celsius")
    return Celsius{number};
  if (normal == "degf" || normal == "deg f" || normal == "f" || normal == "fahrenheit")
    return celsius_from_fahrenheit(number);
  if (normal == "k" || normal == "kelvin") return Celsius{number - kKelvinAtZeroCelsius};
  return error(unit_problem("temperature", number, unit, "degC (or none), degF, K"));
}

Parsed<Litres> volume_from(double number, std::string_view unit) {
  const std::string normal = normal_unit(unit);
  if (normal == "gal" || normal == "gallon" || normal == "gallons")
    return error(fmt::format(
        "volume \"{} {}\" does not say which gallon; write gal(US) (3.785 L) or gal(UK) (4.546 L)", number,
        shown(trimmed(unit))));
  constexpr std::array<UnitFactor, 20> kUnits{{{"l", 1},
                                               {"litre", 1},
                                               {"litres", 1},
                                               {"liter", 1},
                                               {"liters", 1},
                                               {"ml", 1e-3},
                                               {"m3", 1000},
                                               {"m^3", 1000},
                                               {"gal(us)", kLitresPerUsGallon},
                                               {"us gal", kLitresPerUsGallon},
                                               {"usgal", kLitresPerUsGallon},
                                               {"us gallons", kLitresPerUsGallon},
                                               {"gallons(us)", kLitresPerUsGallon},
                                               {"gal(uk)", kLitresPerImperialGallon},
                                               {"gal(imp)", kLitresPerImperialGallon},
                                               {"uk gal", kLitresPerImperialGallon},
                                               {"imp gal", kLitresPerImperialGallon},
                                               {"gallons(uk)", kLitresPerImperialGallon},
                                               {"ft3", kLitresPerCubicFoot},
                                               {"cu ft", kLitresPerCubicFoot}}};
  return by_table<Litres>("volume", number, unit, kUnits, kVolumeAllowed);
}

Parsed<Grams> mass_from(double number, std::string_view unit) {
  constexpr std::array<UnitFactor, 10> kUnits{{{"g", 1},
                                               {"gram", 1},
                                               {"grams", 1},
                                               {"mg", 1e-3},
                                               {"kg", 1000},
                                               {"oz", kGramsPerOunce},
                                               {"ounce", kGramsPerOunce},
                                               {"ounces", kGramsPerOunce},
                                               {"lb", kGramsPerPound},
                                               {"lbs", kGramsPerPound}}};
  return by_table<Grams>("mass", number, unit, kUnits, "g, mg, kg, oz, lb");
}

Parsed<Millilitres> liquid_from(double number, std::string_view unit) {
  constexpr std::array<UnitFactor, 8> kUnits{{{"ml", 1},
                                              {"l", 1000},
                                              {"litre", 1000},
                                              {"litres", 1000},
                                              {"liter", 1000},
                                              {"liters", 1000},
                                              {"fl oz(us)", kMillilitresPerUsFluidOunce},
                                              {"us fl oz", kMillilitresPerUsFluidOunce}}};
  return by_table<Millilitres>("amount of liquid", number, unit, kUnits, "mL, L, fl oz(US)");
}

Parsed<Atm> pressure_from(double number, std::string_view unit) {
  constexpr std::array<UnitFactor, 9> kUnits{{{"atm", 1},
                                              {"mmhg", 1 / kMmHgPerAtm},
                                              {"torr", 1 / kMmHgPerAtm},
                                              {"kpa", 1 / kKilopascalPerAtm},
                                              {"hpa", 0.1 / kKilopascalPerAtm},
                                              {"mbar", 0.1 / kKilopascalPerAtm},
                                              {"bar", 100 / kKilopascalPerAtm},
                                              {"pa", 1e-3 / kKilopascalPerAtm},
                                              {"inhg", kMmHgPerInchHg / kMmHgPerAtm}}};
  return by_table<Atm>("air pressure", number, unit, kUnits, "atm, mmHg, kPa, hPa, mbar, bar, inHg");
}

Parsed<Salinity> salinity_from(double number, std::string_view unit) {
  constexpr std::array<UnitFactor, 6> kUnits{
      {{"", 1}, {"g/kg", 1}, {"ppt", 1}, {"psu", 1}, {"g/l", 1}, {"pss", 1}}};
  return by_table<Salinity>("salinity", number, unit, kUnits, "none, g/kg, ppt, PSU");
}

Parsed<IonicStrength> ionic_strength_from(double number, std::string_view unit) {
  constexpr std::array<UnitFactor, 6> kUnits{
      {{"", 1}, {"mol/l", 1}, {"m", 1}, {"mmol/l", 1e-3}, {"mm", 1e-3}, {"mol/kg", 1}}};
  return by_table<IonicStrength>("ionic strength", number, unit, kUnits, "mol/L (or none), mmol/L");
}

Parsed<Conductivity> conductivity_from(double number, std::string_view unit) {
  constexpr std::array<UnitFactor, 3> kUnits{{{"us/cm", 1}, {"ms/cm", 1000}, {"ds/m", 1000}}};
  return by_table<Conductivity>("conductivity", number, unit, kUnits, "uS/cm, mS/cm, dS/m");
}

Parsed<OxygenO2> oxygen_from(double number, std::string_view unit) {
  return plain_concentration<OxygenO2>("oxygen", number, unit, WrittenBasis::o2, "mg/L (or ppm)");
}

Parsed<ChlorineCl2> chlorine_from(double number, std::string_view unit) {
  return plain_concentration<ChlorineCl2>("chlorine", number, unit, WrittenBasis::cl2,
                                          "mg/L (or ppm), as Cl2");
}

Parsed<Ph> ph_from(double number, std::string_view unit) {
  const std::string normal = normal_unit(unit);
  if (!normal.empty() && normal != "ph") return error(unit_problem("pH", number, unit, "no unit"));
  if (!std::isfinite(number) || number < 0 || number > 14)
    return error(fmt::format("pH {} is outside 0 to 14; check the reading", number));
  return Ph{number};
}

Parsed<AmmoniaN> parse_ammonia(std::string_view text) { return from_text("ammonia", text, ammonia_from); }
Parsed<NitriteN> parse_nitrite(std::string_view text) { return from_text("nitrite", text, nitrite_from); }
Parsed<NitrateN> parse_nitrate(std::string_view text) { return from_text("nitrate", text, nitrate_from); }
Parsed<PhosphateP> parse_phosphate(std::string_view text) {
  return from_text("phosphate", text, phosphate_from);
}
Parsed<AlkalinityMeq> parse_alkalinity(std::string_view text) {
  return from_text("alkalinity", text, alkalinity_from);
}
Parsed<MmolPerL> parse_total_carbon(std::string_view text) {
  return from_text("total carbon", text, total_carbon_from);
}
Parsed<GasPpm> parse_partial_pressure(std::string_view text) {
  return from_text("CO2 partial pressure", text, partial_pressure_from);
}
Parsed<Celsius> parse_temperature(std::string_view text) {
  return from_text("temperature", text, temperature_from);
}
Parsed<Litres> parse_volume(std::string_view text) { return from_text("volume", text, volume_from); }
Parsed<Grams> parse_mass(std::string_view text) { return from_text("mass", text, mass_from); }
Parsed<Millilitres> parse_liquid(std::string_view text) {
  return from_text("amount of liquid", text, liquid_from);
}
Parsed<Atm> parse_pressure(std::string_view text) { return from_text("air pressure", text, pressure_from); }
Parsed<Salinity> parse_salinity(std::string_view text) { return from_text("salinity", text, salinity_from); }
Parsed<IonicStrength> parse_ionic_strength(std::string_view text) {
  return from_text("ionic strength", text, ionic_strength_from);
}
Parsed<Conductivity> parse_conductivity(std::string_view text) {
  return from_text("conductivity", text, conductivity_from);
}
Parsed<OxygenO2> parse_oxygen(std::string_view text) { return from_text("oxygen", text, oxygen_from); }
Parsed<ChlorineCl2> parse_chlorine(std::string_view text) {
  return from_text("chlorine", text, chlorine_from);
}
Parsed<Ph> parse_ph(std::string_view text) { return from_text("pH", text, ph_from); }

std::string number_text(double value, int digits) {
  if (!std::isfinite(value)) return fmt::format("{}", value);
  if (value == 0) return "0";
  const double magnitude = std::floor(std::log10(std::abs(value)));
  if (magnitude < -6 || magnitude >= 9) return fmt::format("{:.{}g}", value, digits);
  // Whole numbers keep all their digits: 1234 L is not "1.23e+03".
  const int decimals = std::max(0, digits - 1 - static_cast<int>(magnitude));
  std::string text = fmt::format("{:.{}f}", value, decimals);
  if (text.find('.') != std::string::npos) {
    text.erase(text.find_last_not_of('0') + 1);
    if (text.back() == '.') text.pop_back();
  }
  return text == "-0" ? "0" : text;
}

std::string fixed_text(double value, int decimals) {
  std::string text = fmt::format("{:.{}f}", value, decimals);
  if (text.front() == '-' && text.find_first_not_of("-0.") == std::string::npos) text.erase(0, 1);
  return text;
}

}  // namespace helmwater::units
