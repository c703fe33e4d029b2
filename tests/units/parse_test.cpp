// SPDX-License-Identifier: Apache-2.0
// What people write. Factors are checked in convert_test.cpp; here: spellings, refusals and their words.
#include "units/parse.hpp"

#include <gtest/gtest.h>

#include <string>

#include "units/convert.hpp"

namespace helmwater::units {
namespace {

testing::AssertionResult says(const std::string& message, std::initializer_list<const char*> words) {
  for (const char* word : words)
    if (message.find(word) == std::string::npos)
      return testing::AssertionFailure() << "\"" << word << "\" is missing in: " << message;
  return testing::AssertionSuccess();
}

template <class Quantity>
std::string refusal(const Parsed<Quantity>& parsed) {
  return parsed ? "(accepted as " + std::to_string(parsed->value()) + ")" : parsed.error();
}

TEST(ParseNumber, takes_plain_decimal_numbers) {
  EXPECT_EQ(parse_number("2"), 2.0);
  EXPECT_EQ(parse_number(" 2.0 "), 2.0);
  EXPECT_EQ(parse_number("1e-3"), 0.001);
  EXPECT_EQ(parse_number("+0.5"), 0.5);
  EXPECT_EQ(parse_number("-4"), -4.0);
  EXPECT_EQ(parse_number("\xE2\x88\x92"
                         "4"),
            -4.0);  // typographic minus
  EXPECT_EQ(parse_number(".5"), 0.5);
}

TEST(ParseNumber, refuses_what_is_no_finite_number) {
  for (const char* text : {"", " ", "nan", "NaN", "-nan", "inf", "-inf", "Infinity", "1e999", "abc", "+", "-",
                           "+-1", "--1", "0x10", "1.2.3", "2 3", "1e", "1_000"})
    EXPECT_FALSE(parse_number(text)) << text;
}

TEST(ParseNumber, says_what_to_do_about_a_comma) {
  const auto parsed = parse_number("2,5");
  ASSERT_FALSE(parsed);
  EXPECT_TRUE(says(parsed.error(), {"2,5", "decimal point"}));
  EXPECT_FALSE(parse_number("1,000"));
}

TEST(SplitAmount, separates_number_and_unit) {
  for (const char* text : {"2 mg/L as N", "2mg/L as N", "  2   mg/L as N "}) {
    const auto amount = split_amount(text);
    ASSERT_TRUE(amount) << text;
    EXPECT_EQ(amount->number, 2.0);
    EXPECT_EQ(amount->unit, "mg/L as N");
    EXPECT_FALSE(amount->signed_plus);
  }
  EXPECT_EQ(split_amount("25")->unit, "");
  EXPECT_EQ(split_amount("25 %")->unit, "%");
  EXPECT_TRUE(split_amount("+2 mg/L")->signed_plus);
  EXPECT_EQ(split_amount("1e3L")->number, 1000.0);
  EXPECT_EQ(split_amount("2eq")->unit, "eq");  // not an exponent
  EXPECT_FALSE(split_amount("mg/L 2"));
}

TEST(NormalUnit, ignores_case_blanks_and_typography) {
  EXPECT_EQ(normal_unit(" Gal (US) "), "gal(us)");
  EXPECT_EQ(normal_unit("\xC2\xB5S / cm"), "us/cm");
  EXPECT_EQ(normal_unit("\xCE\xBCS/cm"), "us/cm");
  EXPECT_EQ(normal_unit("\xC2\xB0"
                        "C"),
            "degc");
  EXPECT_EQ(normal_unit("mg/L   as  N"), "mg/l as n");
}

TEST(ParseAmmonia, reads_every_allowed_basis) {
  for (const char* text : {"2 mg/L as N", "2mg/L as N", "2 ppm as N", "2 MG/l AS n", "2 mg/L N",
                           "2 mg/L (as N)", "2 mg N/L", "2 mg/L NH3-N", "2000 ug/L as N"})
    EXPECT_DOUBLE_EQ(parse_ammonia(text).value().value(), 2.0) << text;
  // 17.031/14.007 and 18.039/14.007: the table of unit conversions.
  EXPECT_NEAR(parse_ammonia("2 mg/L NH3").value().value(), 2.0 / 1.21589, 1e-4);
  EXPECT_NEAR(parse_ammonia("2 mg/L as ion").value().value(), 2.0 / 1.21589, 1e-4);
  EXPECT_NEAR(parse_ammonia("2 mg/L as NH4").value().value(), 2.0 / 1.28786, 1e-4);
}

TEST(ParseWithBasis, refuses_a_missing_basis_and_says_which_are_allowed) {
  EXPECT_TRUE(says(refusal(parse_ammonia("2 mg/L")), {"ammonia", "2 mg/L", "as N", "as NH3", "as NH4"}));
  EXPECT_TRUE(says(refusal(parse_ammonia("2 ppm")), {"as N", "as NH3", "as NH4"}));
  EXPECT_TRUE(says(refusal(parse_ammonia("2")), {"no unit", "as N"}));
  EXPECT_TRUE(says(refusal(parse_nitrite("1 mg/L")), {"nitrite", "as N", "as NO2"}));
  EXPECT_TRUE(says(refusal(parse_nitrate("20 mg/L")), {"nitrate", "as N", "as NO3"}));
  EXPECT_TRUE(says(refusal(parse_phosphate("5 mg/L")), {"phosphate", "as P", "as PO4"}));
}

TEST(ParseWithBasis, refuses_the_basis_of_another_substance) {
  EXPECT_TRUE(says(refusal(parse_ammonia("2 mg/L as NO2")), {"NO2", "as NH3"}));
  EXPECT_FALSE(parse_nitrite("2 mg/L as NO3"));
  EXPECT_FALSE(parse_nitrate("2 mg/L as NO2"));
  EXPECT_FALSE(parse_phosphate("2 mg/L as N"));
}

TEST(ParseWithBasis, refuses_what_is_no_amount) {
  for (const char* text : {"nan mg/L as N", "inf mg/L as N", "-1 mg/L as N", "1,5 mg/L as N", "", "mg/L as N",
                           "2 g as N", "1e308 mg/L as", "2 mg/L as cheese"})
    EXPECT_FALSE(parse_ammonia(text)) << text;
  EXPECT_TRUE(says(refusal(parse_ammonia("-1 mg/L as N")), {"-1", "negative"}));
}

TEST(ParseAlkalinity, reads_the_three_ways_it_is_counted) {
  EXPECT_NEAR(parse_alkalinity("100 mg/L CaCO3").value().value(), 1.99826, 1e-5);  // 100/50.0435
  EXPECT_NEAR(parse_alkalinity("100mg/l as caco3").value().value(), 1.99826, 1e-5);
  EXPECT_NEAR(parse_alkalinity("100 ppm CaCO3").value().value(), 1.99826, 1e-5);
  EXPECT_NEAR(parse_alkalinity("5.6 dKH").value().value(), 5.6 * 0.35666, 1e-4);
  EXPECT_NEAR(parse_alkalinity("5.6dKH").value().value(), 5.6 * 0.35666, 1e-4);
  EXPECT_DOUBLE_EQ(parse_alkalinity("2 meq/L").value().value(), 2.0);
}

TEST(ParseAlkalinity, refuses_a_number_without_its_way_of_counting) {
  EXPECT_TRUE(says(refusal(parse_alkalinity("100 mg/L")), {"CaCO3", "dKH", "meq/L"}));
  EXPECT_TRUE(says(refusal(parse_alkalinity("100")), {"no unit", "CaCO3", "dKH", "meq/L"}));
  EXPECT_FALSE(parse_alkalinity("-2 meq/L"));
  EXPECT_FALSE(parse_alkalinity("nan meq/L"));
}

TEST(ParseTemperature, reads_celsius_fahrenheit_and_bare_numbers) {
  for (const char* text : {"25", "25 degC", "25degC", "25 C",
                           "25 \xC2\xB0"
                           "C",
                           "77degF", "77 F", "298.15 K"})
    EXPECT_NEAR(parse_temperature(text).value().value(), 25.0, 1e-9) << text;
  EXPECT_NEAR(parse_temperature("-5 degC").value().value(), -5.0, 1e-12);
  EXPECT_TRUE(says(refusal(parse_temperature("25 R")), {"degC", "degF"}));
}

TEST(ParseVolume, wants_to_know_which_gallon) {
  EXPECT_DOUBLE_EQ(parse_volume("1000L").value().value(), 1000.0);
  EXPECT_DOUBLE_EQ(parse_volume("1 m3").value().value(), 1000.0);
  EXPECT_NEAR(parse_volume("264 gal(US)").value().value(), 999.35, 0.01);  // 264 x 3.785412
  EXPECT_NEAR(parse_volume("264 gal (us)").value().value(), 999.35, 0.01);
  EXPECT_TRUE(says(refusal(parse_volume("264 gal")), {"gal(US)", "gal(UK)"}));
  EXPECT_TRUE(says(refusal(parse_volume("264")), {"no unit", "gal(US)"}));
  EXPECT_FALSE(parse_volume("-1 L"));
}

TEST(ParseOthers, read_their_units) {
  EXPECT_DOUBLE_EQ(parse_mass("500 g").value().value(), 500.0);
  EXPECT_DOUBLE_EQ(parse_mass("3 kg").value().value(), 3000.0);
  EXPECT_FALSE(parse_mass("3 mL"));
  EXPECT_DOUBLE_EQ(parse_liquid("20 mL").value().value(), 20.0);
  EXPECT_FALSE(parse_liquid("20 g"));
  EXPECT_DOUBLE_EQ(parse_pressure("1 atm").value().value(), 1.0);
  EXPECT_DOUBLE_EQ(parse_pressure("760 mmHg").value().value(), 1.0);
  EXPECT_NEAR(parse_pressure("101.3 kPa").value().value(), 0.99975, 1e-5);
  EXPECT_NEAR(parse_pressure("1013.25 hPa").value().value(), 1.0, 1e-12);
  EXPECT_FALSE(parse_pressure("1"));
  EXPECT_DOUBLE_EQ(parse_total_carbon("2.1 mmol/L").value().value(), 2.1);
  EXPECT_DOUBLE_EQ(parse_partial_pressure("420 ppm").value().value(), 420.0);
  EXPECT_NEAR(parse_partial_pressure("0.00042 atm").value().value(), 420.0, 1e-9);
  EXPECT_FALSE(parse_partial_pressure("420"));
  EXPECT_DOUBLE_EQ(parse_conductivity("480 uS/cm").value().value(), 480.0);
  EXPECT_DOUBLE_EQ(parse_conductivity("480 \xC2\xB5S/cm").value().value(), 480.0);
  EXPECT_DOUBLE_EQ(parse_conductivity("0.48 mS/cm").value().value(), 480.0);
  EXPECT_DOUBLE_EQ(parse_ionic_strength("0.005").value().value(), 0.005);
  EXPECT_DOUBLE_EQ(parse_ionic_strength("5 mmol/L").value().value(), 0.005);
  EXPECT_DOUBLE_EQ(parse_salinity("35").value().value(), 35.0);
  EXPECT_DOUBLE_EQ(parse_salinity("35 ppt").value().value(), 35.0);
  EXPECT_DOUBLE_EQ(parse_oxygen("8 mg/L").value().value(), 8.0);
  EXPECT_DOUBLE_EQ(parse_chlorine("1.5 mg/L Cl2").value().value(), 1.5);
  EXPECT_DOUBLE_EQ(parse_ph("7.4").value().value(), 7.4);
  EXPECT_FALSE(parse_ph("14.5"));
  EXPECT_FALSE(parse_ph("-1"));
  EXPECT_FALSE(parse_ph("7.4 mg/L"));
}

TEST(ParseOthers, survive_long_and_odd_text) {
  EXPECT_LT(refusal(parse_ammonia(std::string(100000, 'x'))).size(), 1000u);
  EXPECT_LT(refusal(parse_ammonia("2 " + std::string(100000, 'x'))).size(), 1000u);
  EXPECT_EQ(refusal(parse_ammonia("2 a\x01\nb")).find('\x01'), std::string::npos);
}

TEST(NumberText, has_sensible_digits) {
  EXPECT_EQ(number_text(51.2345), "51.2");
  EXPECT_EQ(number_text(0.00345678), "0.00346");
  EXPECT_EQ(number_text(1000), "1000");
  EXPECT_EQ(number_text(123456), "123456");
  EXPECT_EQ(number_text(2.0), "2");
  EXPECT_EQ(number_text(0), "0");
  EXPECT_EQ(fixed_text(7.0, 2), "7.00");
  EXPECT_EQ(fixed_text(-0.001, 2), "0.00");
  EXPECT_EQ(fixed_text(-0.1, 1), "-0.1");
}

}  // namespace
}  // namespace helmwater::units
