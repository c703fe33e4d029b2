// SPDX-License-Identifier: Apache-2.0
// Conversions against printed factors and definitions: tests/reference/unit_conversions.csv.
#include "units/convert.hpp"

#include <gtest/gtest.h>

#include <functional>
#include <map>
#include <string>

#include "reference/reference_table.hpp"
#include "units/parse.hpp"

namespace helmwater::units {
namespace {

double meq(const char* unit) { return alkalinity_from(1.0, unit).value().value(); }
double caco3(const char* unit) { return as_caco3(AlkalinityMeq{meq(unit)}).value(); }

// How the program converts one of the first unit into the second.
const std::map<std::string, std::function<double()>>& conversions() {
  static const std::map<std::string, std::function<double()>> all{
      {"meq/L > mg/L CaCO3", [] { return as_caco3(AlkalinityMeq{1}).value(); }},
      {"dKH > mg/L CaCO3", [] { return as_caco3(AlkalinityDkh{1}).value(); }},
      {"dKH > meq/L", [] { return as_meq(AlkalinityDkh{1}).value(); }},
      {"meq/L > dKH", [] { return as_dkh(AlkalinityMeq{1}).value(); }},
      {"mg/L CaCO3 > dKH", [] { return as_dkh(AlkalinityCaCO3{1}).value(); }},
      {"fH > mg/L CaCO3", [] { return caco3("fH"); }},
      {"eH > mg/L CaCO3", [] { return kCaCO3MgPerEnglishDegree; }},
      {"gpg > mg/L CaCO3", [] { return caco3("gpg"); }},
      {"mg/L HCO3 > mg/L CaCO3", [] { return caco3("mg/L HCO3"); }},
      {"ammonia N > ammonia NH4", [] { return as_nh4(AmmoniaN{1}).value(); }},
      {"ammonia N > ammonia NH3", [] { return as_nh3(AmmoniaN{1}).value(); }},
      {"nitrite N > nitrite NO2", [] { return as_no2(NitriteN{1}).value(); }},
      {"nitrate N > nitrate NO3", [] { return as_no3(NitrateN{1}).value(); }},
      {"phosphate P > phosphate PO4", [] { return as_po4(PhosphateP{1}).value(); }},
      {"gal(US) > L", [] { return parse_volume("1 gal(US)").value().value(); }},
      {"gal(UK) > L", [] { return parse_volume("1 gal(UK)").value().value(); }},
      {"fl oz(US) > mL", [] { return parse_liquid("1 fl oz(US)").value().value(); }},
      {"ft3 > L", [] { return parse_volume("1 ft3").value().value(); }},
      {"lb > g", [] { return parse_mass("1 lb").value().value(); }},
      {"oz > g", [] { return parse_mass("1 oz").value().value(); }},
      {"inHg > mmHg", [] { return parse_pressure("1 inHg").value() / parse_pressure("1 mmHg").value(); }},
      {"atm > mmHg", [] { return 1.0 / parse_pressure("1 mmHg").value().value(); }},
      {"atm > kPa", [] { return 1.0 / parse_pressure("1 kPa").value().value(); }},
      {"mg/L CO2 > mmol/L", [] { return as_mmol(CarbonDioxideCO2{1}).value(); }},
      {"chloramine mg/L Cl2 > ammonia N", [] { return ammonia_in_chloramine(ChlorineCl2{1}).value(); }},
  };
  return all;
}

TEST(Convert, factors_agree_with_the_printed_ones) {
  std::size_t checked = 0;
  for (const reference::Row& row : reference::reference_table("unit_conversions")) {
    SCOPED_TRACE(row.origin());
    const std::string key = row.text("from") + " > " + row.text("to");
    if (key == "uS/cm > ionic strength mol/L") continue;  // chemistry, checked there
    const auto found = conversions().find(key);
    ASSERT_NE(found, conversions().end()) << key;
    // Printed to four or more digits.
    EXPECT_NEAR(found->second(), row.number("factor"), 2e-4 * row.number("factor")) << key;
    ++checked;
  }
  EXPECT_EQ(checked, conversions().size());
}

TEST(Convert, every_basis_returns_to_itself) {
  // Identity: there and back.
  EXPECT_DOUBLE_EQ(as_n(as_nh3(AmmoniaN{1.7})).value(), 1.7);
  EXPECT_DOUBLE_EQ(as_n(as_nh4(AmmoniaN{1.7})).value(), 1.7);
  EXPECT_DOUBLE_EQ(as_n(as_no2(NitriteN{1.7})).value(), 1.7);
  EXPECT_DOUBLE_EQ(as_n(as_no3(NitrateN{1.7})).value(), 1.7);
  EXPECT_DOUBLE_EQ(as_p(as_po4(PhosphateP{1.7})).value(), 1.7);
  EXPECT_DOUBLE_EQ(as_meq(as_caco3(AlkalinityMeq{1.7})).value(), 1.7);
  EXPECT_DOUBLE_EQ(as_meq(as_dkh(AlkalinityMeq{1.7})).value(), 1.7);
}

TEST(Convert, fahrenheit_points_and_differences_are_not_the_same) {
  // Definition: 32 degF = 0 degC, 212 degF = 100 degC.
  EXPECT_DOUBLE_EQ(celsius_from_fahrenheit(32).value(), 0.0);
  EXPECT_DOUBLE_EQ(celsius_from_fahrenheit(212).value(), 100.0);
  EXPECT_DOUBLE_EQ(difference_from_fahrenheit(9).value(), 5.0);
  EXPECT_DOUBLE_EQ(fahrenheit(Celsius{25}), 77.0);
}

}  // namespace
}  // namespace helmwater::units
