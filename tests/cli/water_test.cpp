// SPDX-License-Identifier: Apache-2.0
// helmwater water at the shell. Required keys and exit codes: the project's contract for its JSON; figures:
// the sources beside them.
#include <gtest/gtest.h>

#include <cmath>

#include "json_checks.hpp"
#include "run_program.hpp"

namespace helmwater::cli_test {
namespace {

using Words = std::vector<std::string>;

TEST(Water, answers_with_every_required_key) {
  const Json water =
      answer_of(helmwater({"water", "--ph", "7.4", "--alkalinity", "100 mg/L CaCO3", "--ammonia",
                           "2 mg/L as N", "--nitrite", "1 mg/L as NO2", "--json"}));
  ASSERT_TRUE(has_keys(water, {"ph", "alkalinity_meq_l", "total_carbon_mmol_l", "co2_mg_l", "pco2_ppm",
                               "free_ammonia_fraction", "free_ammonia_mg_l_n", "free_nitrous_acid_mg_l_n",
                               "oxygen_saturation_mg_l", "ionic_strength_mol_l"}));
  for (const auto& [key, value] : water.items())
    if (key.find("_l") != std::string::npos) {
      EXPECT_TRUE(value.is_number()) << key;
    }
  EXPECT_DOUBLE_EQ(water["ph"].get<double>(), 7.4);
  // 1 meq/L is 50.04 mg/L CaCO3 (half the molar mass of CaCO3, IUPAC atomic weights).
  EXPECT_NEAR(water["alkalinity_meq_l"].get<double>(), 100 / 50.0435, 1e-4);
  EXPECT_DOUBLE_EQ(water["ionic_strength_mol_l"].get<double>(), 0.005) << "the stated default";
}

TEST(Water, agrees_with_published_tables_through_the_whole_program) {
  const Json water =
      answer_of(helmwater({"water", "--ph", "8.0", "--alkalinity", "2 meq/L", "--temperature", "25",
                           "--ionic-strength", "0", "--ammonia", "1 mg/L as N", "--json"}));
  // Emerson et al. 1975: pKa = 0.09018 + 2729.92 / T.
  const double fraction = 1 / (1 + std::pow(10, 0.09018 + 2729.92 / 298.15 - 8));
  EXPECT_NEAR(water["free_ammonia_fraction"].get<double>(), fraction, 1e-4 * fraction);
  EXPECT_NEAR(water["free_ammonia_mg_l_n"].get<double>(), fraction, 1e-4 * fraction);
  // Benson & Krause 1984, fresh water at 25 degC and 1 atm: 8.263 mg/L.
  EXPECT_NEAR(water["oxygen_saturation_mg_l"].get<double>(), 8.263, 0.0005);
}

TEST(Water, a_fahrenheit_temperature_and_other_alkalinity_units_are_the_same_water) {
  const Json a = answer_of(
      helmwater({"water", "--ph", "7", "--alkalinity", "2 meq/L", "--temperature", "25", "--json"}));
  const Json b = answer_of(
      helmwater({"water", "--ph", "7", "--alkalinity", "5.608 dKH", "--temperature", "77degF", "--json"}));
  // 1 dKH is 10 mg/L CaO: 17.848 mg/L CaCO3, 0.3566 meq/L.
  EXPECT_NEAR(b["alkalinity_meq_l"].get<double>(), 2, 0.001);
  EXPECT_NEAR(b["co2_mg_l"].get<double>() / a["co2_mg_l"].get<double>(), 1, 0.001);
  EXPECT_NEAR(b["oxygen_saturation_mg_l"].get<double>(), a["oxygen_saturation_mg_l"].get<double>(), 1e-9);
}

TEST(Water, what_cannot_be_computed_is_null_with_a_warning) {
  const Json water = answer_of(helmwater({"water", "--ph", "7", "--alkalinity", "2 meq/L", "--json"}));
  EXPECT_TRUE(water["free_ammonia_mg_l_n"].is_null());
  EXPECT_TRUE(water["free_nitrous_acid_mg_l_n"].is_null());
  EXPECT_GE(water["warnings"].size(), 2u);
}

TEST(Water, every_pair_of_carbonate_readings_comes_back_to_the_same_water) {
  const Json first = answer_of(helmwater({"water", "--ph", "7.6", "--alkalinity", "1.5 meq/L", "--json"}));
  const std::string carbon = std::to_string(first["total_carbon_mmol_l"].get<double>()) + " mmol/L";
  const std::string gas = std::to_string(first["pco2_ppm"].get<double>()) + " ppm";
  const std::vector<Words> all{
      {"--ph", "7.6"}, {"--alkalinity", "1.5 meq/L"}, {"--total-carbon", carbon}, {"--pco2", gas}};
  for (std::size_t i = 0; i < all.size(); ++i) {
    for (std::size_t j = i + 1; j < all.size(); ++j) {
      const Json water =
          answer_of(helmwater({"water", all[i][0], all[i][1], all[j][0], all[j][1], "--json"}));
      SCOPED_TRACE(all[i][0] + " " + all[j][0]);
      // The readings passed on have six decimals.
      EXPECT_NEAR(water["ph"].get<double>(), 7.6, 1e-4);
      EXPECT_NEAR(water["alkalinity_meq_l"].get<double>(), 1.5, 1e-4);
    }
  }
}

TEST(Water, readings_that_contradict_each_other_are_refused_with_exit_code_1_and_named) {
  // pH 9 means 0.01 meq/L of hydroxide alone (Kw = 1e-14), ten times the alkalinity.
  const Said run = helmwater({"water", "--ph", "9", "--alkalinity", "0.001 meq/L", "--json"});
  EXPECT_EQ(run.exit_code, 1);
  const Json water = Json::parse(run.out, nullptr, false);
  ASSERT_TRUE(has_keys(water, {"refused", "reason"}));
  EXPECT_EQ(water["refused"], true);
  const std::string reason = water["reason"].get<std::string>();
  EXPECT_NE(reason.find("pH"), std::string::npos) << reason;
  EXPECT_NE(reason.find("alkalinity"), std::string::npos) << reason;
  EXPECT_FALSE(run.err.empty());
}

struct Misuse {
  std::string name;
  Words arguments;
  Words says;
};
void PrintTo(const Misuse& misuse, std::ostream* out) { *out << misuse.name; }

class WaterMisuse : public testing::TestWithParam<Misuse> {};

TEST_P(WaterMisuse, is_exit_code_2_with_a_message_and_nothing_on_standard_output) {
  Words words{"water"};
  words.insert(words.end(), GetParam().arguments.begin(), GetParam().arguments.end());
  words.emplace_back("--json");
  const Said run = helmwater(words);
  EXPECT_EQ(run.exit_code, 2);
  EXPECT_EQ(run.out, "");
  for (const std::string& word : GetParam().says) EXPECT_NE(run.err.find(word), std::string::npos) << run.err;
}

INSTANTIATE_TEST_SUITE_P(
    EachKind, WaterMisuse,
    testing::Values(
        Misuse{"nothing_given", {}, {"two"}}, Misuse{"one_reading", {"--ph", "7"}, {"two", "--alkalinity"}},
        Misuse{"three_readings", {"--ph", "7", "--alkalinity", "2 meq/L", "--pco2", "420 ppm"}, {"two"}},
        Misuse{"ammonia_without_basis",
               {"--ph", "7", "--alkalinity", "2 meq/L", "--ammonia", "2 mg/L"},
               {"--ammonia", "as N", "as NH3"}},
        Misuse{"nitrite_without_basis",
               {"--ph", "7", "--alkalinity", "2 meq/L", "--nitrite", "2 mg/L"},
               {"--nitrite", "as NO2"}},
        Misuse{"phosphate_without_basis",
               {"--ph", "7", "--alkalinity", "2 meq/L", "--phosphate", "2 ppm"},
               {"--phosphate", "as PO4"}},
        Misuse{"salinity_with_ionic_strength",
               {"--ph", "7", "--alkalinity", "2 meq/L", "--salinity", "1", "--ionic-strength", "0.01"},
               {"--salinity", "--ionic-strength"}},
        Misuse{"unknown_option", {"--ph", "7", "--alkalinity", "2 meq/L", "--colour", "red"}, {"--colour"}},
        Misuse{"option_without_value", {"--alkalinity", "2 meq/L", "--ph"}, {"--ph"}},
        Misuse{"unknown_unit", {"--ph", "7", "--alkalinity", "2 bushels"}, {"--alkalinity", "bushels"}},
        Misuse{"alkalinity_without_unit", {"--ph", "7", "--alkalinity", "2"}, {"--alkalinity", "meq/L"}},
        Misuse{"not_a_number", {"--ph", "seven", "--alkalinity", "2 meq/L"}, {"--ph", "seven"}},
        Misuse{"nan", {"--ph", "nan", "--alkalinity", "2 meq/L"}, {"--ph"}},
        Misuse{"infinite", {"--ph", "7", "--alkalinity", "inf meq/L"}, {"--alkalinity"}},
        Misuse{"negative_amount", {"--ph", "7", "--alkalinity", "-2 meq/L"}, {"--alkalinity"}},
        Misuse{"ph_off_the_scale", {"--ph", "15", "--alkalinity", "2 meq/L"}, {"--ph", "15"}},
        Misuse{"decimal_comma", {"--ph", "7,4", "--alkalinity", "2 meq/L"}, {"--ph", "7,4"}},
        Misuse{"temperature_too_high",
               {"--ph", "7", "--alkalinity", "2 meq/L", "--temperature", "77"},
               {"--temperature", "40"}}),
    [](const auto& tested) { return tested.param.name; });

TEST(Water, speaks_to_people_without_json) {
  const Said run = helmwater({"water", "--ph", "7.4", "--alkalinity", "100 mg/L CaCO3"});
  EXPECT_EQ(run.exit_code, 0);
  EXPECT_NE(run.out.find("mg/L"), std::string::npos);
  EXPECT_TRUE(Json::parse(run.out, nullptr, false).is_discarded());
}

}  // namespace
}  // namespace helmwater::cli_test
