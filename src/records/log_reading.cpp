// SPDX-License-Identifier: Apache-2.0
// Readings: which kit, which unit and basis, and what the written value says.
#include <fmt/format.h>

#include <utility>

#include "records/log_row.hpp"
#include "records/reading_form.hpp"
#include "records/words.hpp"
#include "units/parse.hpp"

namespace helmwater::records {
namespace {

std::string kit_name(const Loop& loop, int kit) {
  const Kit& k = loop.kits[static_cast<std::size_t>(kit)];
  return k.id ? in_quotes(*k.id) : fmt::format("the {} kit at place {} in loop.toml", to_text(k.test), kit + 1);
}

std::vector<std::string> kit_ids(const Loop& loop, Test test) {
  std::vector<std::string> ids;
  for (const Kit& kit : loop.kits)
    if (kit.test == test && kit.id) ids.push_back(*kit.id);
  return ids;
}

bool valid_at(const Kit& kit, Instant when) {
  return (!kit.from || *kit.from <= when) && (!kit.until || when < *kit.until);
}

std::string units_allowed(Test test) {
  switch (test) {
    case Test::ammonia: return "mg/L or ppm with a kit whose basis is known, mg/L as N, mg/L as NH3, mg/L as NH4, mg/L as ion";
    case Test::nitrite: return "mg/L or ppm with a kit whose basis is known, mg/L as N, mg/L as NO2, mg/L as ion";
    case Test::nitrate: return "mg/L or ppm with a kit whose basis is known, mg/L as N, mg/L as NO3, mg/L as ion";
    case Test::alkalinity: return "mg/L as CaCO3, dKH, meq/L";
    case Test::phosphate: return "mg/L as P, mg/L as PO4";
    case Test::ph: return "none";
    case Test::temperature: return "degC, degF";
    case Test::oxygen: return "mg/L, %";
    case Test::conductivity: return "uS/cm";
    default: return "mg/L, ppm";
  }
}

tl::unexpected<CellError> wrong_unit(Test test, const LogRow& row) {
  const std::string allowed = units_allowed(test);
  if (row.unit.empty()) return wrong(Column::unit, fmt::format("{} needs a unit; allowed: {}", to_text(test), allowed));
  const bool all_digits = row.unit.find_first_not_of("0123456789") == std::string::npos;
  return wrong(Column::unit,
               fmt::format("{} is not a unit of {}; allowed: {}{}", in_quotes(row.unit), to_text(test), allowed,
                           all_digits ? "; if the value was written with a decimal comma, write a decimal point" : ""));
}

Basis basis_from(units::WrittenBasis written, Test test) {
  using units::WrittenBasis;
  switch (written) {
    case WrittenBasis::n: return Basis::n;
    case WrittenBasis::nh3: return Basis::nh3;
    case WrittenBasis::nh4: return Basis::nh4;
    case WrittenBasis::no2: return Basis::no2;
    case WrittenBasis::no3: return Basis::no3;
    case WrittenBasis::p: return Basis::p;
    case WrittenBasis::po4: return Basis::po4;
    case WrittenBasis::caco3: return Basis::caco3;
    case WrittenBasis::ion:
      if (test == Test::ammonia) return Basis::nh3;
      if (test == Test::nitrite) return Basis::no2;
      if (test == Test::nitrate) return Basis::no3;
      if (test == Test::phosphate) return Basis::po4;
      return Basis::none;
    default: return Basis::none;
  }
}

bool allowed_for(Test test, Basis basis) {
  for (Basis b : bases_of(test))
    if (b == basis) return true;
  return false;
}

// Units of tests without a basis: the factor to the unit the numbers are kept in.
struct PlainUnit {
  bool known = false;
  double factor = 1;
  bool fahrenheit = false;
  bool percent = false;
};

PlainUnit plain_unit(Test test, std::string_view unit) {
  const std::string normal = units::normal_unit(unit);
  PlainUnit out;
  switch (test) {
    case Test::ph:
      out.known = normal.empty() || normal == "ph";
      return out;
    case Test::temperature:
      out.fahrenheit = normal == "degf" || normal == "deg f" || normal == "f" || normal == "fahrenheit";
      out.known = out.fahrenheit || normal == "degc" || normal == "deg c" || normal == "c" || normal == "celsius";
      return out;
    case Test::conductivity:
      if (normal == "ms/cm") out.factor = 1000;
      out.known = normal == "us/cm" || normal == "ms/cm";
      return out;
    case Test::oxygen:
      out.percent = normal == "%" || normal == "% saturation";
      if (out.percent) {
        out.known = true;
        return out;
      }
      break;
    default: break;
  }
  const auto concentration = units::parse_concentration_unit(unit);
  if (!concentration || concentration->mg_per_l != 1) return out;
  using units::WrittenBasis;
  const WrittenBasis own = test == Test::oxygen     ? WrittenBasis::o2
                           : test == Test::chlorine ? WrittenBasis::cl2
                                                    : WrittenBasis::none;
  out.known = concentration->basis == WrittenBasis::none || concentration->basis == own;
  return out;
}

// What "0" means without a chart: at most half the first step of a usual kit. ESTIMATE, in the test's standard basis.
double zero_limit_standard(Test test) {
  switch (test) {
    case Test::ammonia: return 0.1;   // mg/L N
    case Test::nitrite: return 0.06;  // mg/L N
    case Test::nitrate: return 2.0 * to_standard_factor(Test::nitrate, Basis::no3);  // 2 mg/L as the ion
    case Test::alkalinity: return 0.25;  // meq/L
    case Test::phosphate: return 0.05;   // mg/L P
    case Test::iron: return 0.05;
    case Test::chlorine: return 0.05;
    default: return 5;  // potassium, calcium, magnesium, chloride, mg/L
  }
}

ReadingScale scale_of(Test test, Basis basis, bool percent, bool meter, const std::vector<double>& steps) {
  ReadingScale scale;
  scale.steps = steps;
  scale.may_dilute = is_concentration(test);
  scale.allowed = "0 to 100000";
  switch (test) {
    case Test::ph:
      scale.arithmetic = true;
      scale.open_below = true;
      scale.highest = 14;
      scale.allowed = "pH 0 to 14";
      scale.normal = true;
      scale.sd = meter ? 0.1 : 0.2;
      scale.kit_noise = !meter;
      return scale;
    case Test::temperature:
      scale.arithmetic = true;
      scale.open_below = true;
      scale.lowest = -5;
      scale.highest = 60;
      scale.allowed = "-5 to 60 degC (23 to 140 degF)";
      scale.normal = true;
      scale.sd = 0.5;
      scale.kit_noise = false;
      return scale;
    case Test::oxygen:
      scale.highest = percent ? 500 : 60;
      scale.allowed = percent ? "0 to 500 %" : "0 to 60 mg/L";
      scale.normal = true;
      scale.sd = percent ? 4 : 0.3;  // 0.3 mg/L is about 4 % of saturation between 15 and 30 degC (Benson and Krause)
      scale.kit_noise = false;
      return scale;
    case Test::conductivity:
      scale.highest = 200000;
      scale.allowed = "0 to 200000 uS/cm";
      scale.normal = true;
      scale.sd = 1;  // last digit of a usual meter; ESTIMATE
      scale.sd_relative = 0.02;
      scale.kit_noise = false;
      return scale;
    default:
      scale.zero_limit = zero_limit_standard(test) / to_standard_factor(test, basis);
      return scale;
  }
}

void to_celsius(WrittenReading& written) {
  using Form = WrittenReading::Form;
  if (written.form == Form::hint) return;
  written.x = (written.x - 32) / 1.8;
  written.y = written.form == Form::plus_minus ? written.y / 1.8 : (written.y - 32) / 1.8;
}

void scale_by(WrittenReading& written, double factor) {
  written.x *= factor;
  written.y *= factor;
}

}  // namespace

bool is_meter(const LogRow& row) { return key_word(row.kit) == "meter"; }

tl::expected<int, CellError> kit_of(const Loop& loop, Test test, const LogRow& row, std::vector<Doubt>& doubts) {
  if (is_meter(row)) return -1;
  if (!row.kit.empty()) {
    const std::string wanted = key_word(row.kit);
    int named = -1;
    for (std::size_t i = 0; i < loop.kits.size(); ++i) {
      const Kit& kit = loop.kits[i];
      if (kit.test != test || !kit.id || key_word(*kit.id) != wanted) continue;
      // The same id may stand for successive lots.
      if (named < 0 || valid_at(kit, row.when)) named = static_cast<int>(i);
    }
    if (named >= 0) {
      if (!valid_at(loop.kits[static_cast<std::size_t>(named)], row.when))
        doubts.push_back({row.line, "kit_outside_its_dates",
                          fmt::format("The {} kit {} was not in use at this time by loop.toml: its chart was used all the "
                                      "same; check from and until.",
                                      to_text(test), in_quotes(row.kit))});
      return named;
    }
    const std::vector<std::string> ids = kit_ids(loop, test);
    doubts.push_back({row.line, "unknown_kit",
                      fmt::format("No {} kit {} is described in loop.toml ({}): the reading was taken without a chart; "
                                  "describe the kit there.",
                                  to_text(test), in_quotes(row.kit), ids.empty() ? "none has an id" : "known: " + listed(ids))});
    return -1;
  }
  int found = -1;
  for (std::size_t i = 0; i < loop.kits.size(); ++i) {
    const Kit& kit = loop.kits[i];
    if (kit.test != test || !valid_at(kit, row.when)) continue;
    if (found >= 0)
      return wrong(Column::value, fmt::format("two {} kits are valid at this time, {} and {}; name one in the kit column, or "
                                              "give them from and until in loop.toml",
                                              to_text(test), kit_name(loop, found), kit_name(loop, static_cast<int>(i))));
    found = static_cast<int>(i);
  }
  return found;
}

tl::expected<Basis, CellError> basis_of_unit(const Loop& loop, Test test, int kit, const LogRow& row) {
  const Basis of_kit = kit >= 0 ? loop.kits[static_cast<std::size_t>(kit)].basis : Basis::none;
  const std::string normal = units::normal_unit(row.unit);
  if (test == Test::alkalinity) {
    for (std::string_view dkh : {"dkh", "deg dkh", "degdkh", "kh", "degkh", "deg kh"})
      if (normal == dkh) return Basis::dkh;
    if (normal == "meq/l") return Basis::meq;
  }
  const auto concentration = units::parse_concentration_unit(row.unit);
  if (row.unit.empty() || !concentration || concentration->mg_per_l != 1) return wrong_unit(test, row);
  if (concentration->basis == units::WrittenBasis::none) {
    if (test == Test::alkalinity && of_kit != Basis::caco3) {
      if (kit < 0) return wrong(Column::unit, "alkalinity in mg/L does not say of what; write mg/L as CaCO3");
      return wrong(Column::unit, fmt::format("the unit is {} but the kit counts in {}; write the kit's unit, or mg/L as CaCO3",
                                             in_quotes(row.unit), to_text(of_kit)));
    }
    if (of_kit != Basis::none) return of_kit;
    return wrong(Column::unit,
                 fmt::format("{} does not say what the {} is counted as and no kit says it; allowed: {}; the kit's leaflet "
                             "says which, or describe the kit with its basis in loop.toml",
                             in_quotes(row.unit), to_text(test), units_allowed(test)));
  }
  const Basis basis = basis_from(concentration->basis, test);
  if (!allowed_for(test, basis)) return wrong_unit(test, row);
  return basis;
}

tl::expected<Reading, CellError> read_reading(const Loop& loop, Test test, const LogRow& row, std::vector<Doubt>& doubts) {
  Reading reading;
  reading.test = test;
  const auto kit = kit_of(loop, test, row, doubts);
  if (!kit) return tl::unexpected(kit.error());
  reading.kit = *kit;
  reading.meter = is_meter(row);

  PlainUnit unit;
  if (!bases_of(test).empty()) {
    const auto basis = basis_of_unit(loop, test, reading.kit, row);
    if (!basis) return tl::unexpected(basis.error());
    reading.basis = *basis;
    if (reading.kit >= 0) {
      const Kit& k = loop.kits[static_cast<std::size_t>(reading.kit)];
      if (k.basis != Basis::none && k.basis != *basis) {
        doubts.push_back({row.line, "basis_not_of_kit",
                          fmt::format("The unit counts as {} but the kit counts as {}: the reading was taken without the kit's "
                                      "chart; write the unit the chart uses.",
                                      to_text(*basis), to_text(k.basis))});
        reading.kit = -1;
      }
    }
  } else {
    unit = plain_unit(test, row.unit);
    if (!unit.known) return wrong_unit(test, row);
    if (unit.percent) reading.kit = -1;
  }
  if (reading.kit < 0 && (test == Test::temperature || test == Test::oxygen || test == Test::conductivity)) reading.meter = true;

  auto written = parse_written_reading(row.value);
  if (!written) return wrong(Column::value, written.error());
  if (written->leading_zero)
    doubts.push_back({row.line, "typed_value",
                      fmt::format("{} has a zero before the number: taken as {}; if a decimal point is missing, correct the "
                                  "line.",
                                  in_quotes(row.value), units::number_text(written->x))});
  if (unit.fahrenheit) to_celsius(*written);
  if (unit.factor != 1) scale_by(*written, unit.factor);

  static const std::vector<double> no_steps;
  const std::vector<double>& steps = reading.kit >= 0 ? loop.kits[static_cast<std::size_t>(reading.kit)].steps : no_steps;
  const auto understood = understand(*written, scale_of(test, reading.basis, unit.percent, reading.meter, steps));
  if (!understood) return wrong(Column::value, understood.error());
  if (understood->odd) doubts.push_back({row.line, "value_off_steps", *understood->odd});
  reading.seen = understood->seen;
  return reading;
}

}  // namespace helmwater::records
