// SPDX-License-Identifier: Apache-2.0
// Reading quantities the way people write them, and printing them with sensible digits.
//
// A number, an optional blank, a unit; letter case does not matter. "ppm" is mg/L for what is dissolved in
// fresh water. Ammonia, nitrite, nitrate and phosphate must say what they are counted as. NaN, infinity, a
// decimal comma and (where it makes no sense) a negative amount are refused. Errors are whole sentences: what
// was seen, what is allowed. Nothing here checks the range in which an equation holds.
#pragma once
#include <string>
#include <string_view>
#include <tl/expected.hpp>

#include "units/quantity.hpp"

namespace helmwater::units {

template <class Quantity>
using Parsed = tl::expected<Quantity, std::string>;

// ---- pieces ----

// A finite number with a decimal point and nothing after it: "2", "2.0", "1e-3", "+0.5". Blanks around are
// allowed.
Parsed<double> parse_number(std::string_view text);

struct Amount {
  double number = 0;
  std::string unit;          // as written, trimmed; empty: none
  bool signed_plus = false;  // written with a leading "+"
};
// Splits "2mg/L as N", "264 gal(US)", "+2 mg/L", "25" into number and the rest.
Parsed<Amount> split_amount(std::string_view text);

// A unit in the spelling used for comparing: lower case, single blanks, none around "/" and before "(", micro
// sign as u, degree sign as deg. For example "Gal (US)" becomes "gal(us)", "µS / cm" becomes "us/cm".
std::string normal_unit(std::string_view unit);

// What a concentration is counted as, as far as the unit text says.
enum class WrittenBasis { none, n, nh3, nh4, no2, no3, p, po4, cl2, o2, co2, caco3, ion };
struct ConcentrationUnit {
  double mg_per_l = 1;  // one unit in mg/L
  WrittenBasis basis = WrittenBasis::none;
};
// "mg/L", "ppm", "mg/L as N", "mg/L NH3", "ppm NO3-N", "mg N/L", "ug/L", "mg/L as ion", "mg/L CaCO3".
Parsed<ConcentrationUnit> parse_concentration_unit(std::string_view unit);

// ---- number and unit already apart (a log's columns) ----
Parsed<AmmoniaN> ammonia_from(double number, std::string_view unit);          // bases N, NH3, NH4; ion = NH3
Parsed<NitriteN> nitrite_from(double number, std::string_view unit);          // bases N, NO2; ion = NO2
Parsed<NitrateN> nitrate_from(double number, std::string_view unit);          // bases N, NO3; ion = NO3
Parsed<PhosphateP> phosphate_from(double number, std::string_view unit);      // bases P, PO4; ion = PO4
Parsed<AlkalinityMeq> alkalinity_from(double number, std::string_view unit);  // mg/L CaCO3, dKH, meq/L, fH
Parsed<MmolPerL> total_carbon_from(double number, std::string_view unit);     // mmol/L, mol/L, mg/L CO2
Parsed<GasPpm> partial_pressure_from(double number, std::string_view unit);   // ppm, uatm, atm, Pa
Parsed<Celsius> temperature_from(double number, std::string_view unit);       // none or degC, degF, K
Parsed<Litres> volume_from(double number, std::string_view unit);       // L, mL, m3, gal(US), gal(UK), ft3
Parsed<Grams> mass_from(double number, std::string_view unit);          // g, mg, kg, oz, lb
Parsed<Millilitres> liquid_from(double number, std::string_view unit);  // mL, L, fl oz(US)
Parsed<Atm> pressure_from(double number, std::string_view unit);       // atm, mmHg, kPa, hPa, mbar, bar, inHg
Parsed<Salinity> salinity_from(double number, std::string_view unit);  // none, g/kg, ppt, psu
Parsed<IonicStrength> ionic_strength_from(double number, std::string_view unit);  // none or mol/L, mmol/L
Parsed<Conductivity> conductivity_from(double number, std::string_view unit);     // uS/cm, mS/cm
Parsed<OxygenO2> oxygen_from(double number, std::string_view unit);               // mg/L, ppm
Parsed<ChlorineCl2> chlorine_from(double number, std::string_view unit);  // mg/L, ppm, optionally as Cl2
Parsed<Ph> ph_from(double number, std::string_view unit);                 // no unit; 0..14

// ---- one text ----
Parsed<AmmoniaN> parse_ammonia(std::string_view text);
Parsed<NitriteN> parse_nitrite(std::string_view text);
Parsed<NitrateN> parse_nitrate(std::string_view text);
Parsed<PhosphateP> parse_phosphate(std::string_view text);
Parsed<AlkalinityMeq> parse_alkalinity(std::string_view text);
Parsed<MmolPerL> parse_total_carbon(std::string_view text);
Parsed<GasPpm> parse_partial_pressure(std::string_view text);
Parsed<Celsius> parse_temperature(std::string_view text);
Parsed<Litres> parse_volume(std::string_view text);
Parsed<Grams> parse_mass(std::string_view text);
Parsed<Millilitres> parse_liquid(std::string_view text);
Parsed<Atm> parse_pressure(std::string_view text);
Parsed<Salinity> parse_salinity(std::string_view text);
Parsed<IonicStrength> parse_ionic_strength(std::string_view text);
Parsed<Conductivity> parse_conductivity(std::string_view text);
Parsed<OxygenO2> parse_oxygen(std::string_view text);
Parsed<ChlorineCl2> parse_chlorine(std::string_view text);
Parsed<Ph> parse_ph(std::string_view text);

// ---- printing ----

// At most `digits` significant digits, no trailing zeros, no exponent between 1e-6 and 1e9: 51.2, 0.00345,
// 1000.
std::string number_text(double value, int digits = 3);
// Fixed decimals, "-0.00" printed as "0.00"; for pH and temperatures.
std::string fixed_text(double value, int decimals);

}  // namespace helmwater::units
