// SPDX-License-Identifier: Apache-2.0
// The alkalinity balance against separate calculations, PHREEQC and printed factors.
#include "chem/carbonate.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <map>
#include <string>

#include "chem/ammonia.hpp"
#include "chem/reagents.hpp"
#include "reference/reference_table.hpp"
#include "units/convert.hpp"

namespace helmwater::chem {
namespace {

using units::AlkalinityMeq;
using units::AmmoniaN;
using units::Celsius;
using units::GasPpm;
using units::IonicStrength;
using units::MmolPerL;
using units::NitriteN;
using units::Ph;
using units::PhosphateP;

constexpr double kPhTolerance = 0.003;

Conditions conditions(const reference::Row& row) {
  return {Celsius{row.number("t_c")}, IonicStrength{row.number("ionic_strength")}};
}

TEST(Carbonate, agrees_with_66_separately_solved_waters) {
  for (const reference::Row& row : reference::reference_table("reference_solutions")) {
    SCOPED_TRACE(row.origin() + " " + row.text("id"));
    const Equilibrium water(
        conditions(row), {AmmoniaN{row.number("ammonia_mg_l_n")}, PhosphateP{row.number("phosphate_mg_l_p")},
                          NitriteN{row.number("nitrite_mg_l_n")}, MmolPerL{0}});
    const AlkalinityMeq alkalinity{row.number("alkalinity_meq_l")};
    CarbonateResult result;
    if (row.text("kind") == "closed") {
      result = water.from_alkalinity_and_carbon(alkalinity, MmolPerL{row.number("total_carbon_mmol_l")});
    } else if (row.text("kind") == "open") {
      result = water.from_alkalinity_and_pco2(
          alkalinity, units::gas_ppm_from_atm(units::Atm{row.number("pco2_imposed_atm")}));
    } else {
      ASSERT_EQ(row.text("kind"), "pH_given");
      result = water.from_ph_and_alkalinity(Ph{row.number("ph")}, alkalinity);
    }
    ASSERT_TRUE(result) << result.error().message;
    EXPECT_NEAR(result->ph.value(), row.number("ph"), kPhTolerance);
    // 0.003 pH is 0.7 % in a concentration that goes with a_H, 1.4 % in carbonate at constant CO2.
    const auto near = [](double ours, double theirs, double relative) {
      EXPECT_NEAR(ours, theirs, relative * theirs + 1e-9);
    };
    near(result->total_carbon.value(), row.number("total_carbon_mmol_l"), 0.001);
    near(units::as_co2(result->co2).value(), row.number("co2_mg_l"), 0.007);
    near(result->bicarbonate.value(), row.number("bicarbonate_mmol_l"), 0.002);
    near(result->carbonate.value(), row.number("carbonate_mmol_l"), 0.014);
    near(result->pco2.value() * 1e-6, row.number("pco2_atm"), 0.007);
    const double fraction = free_ammonia_fraction(result->ph, Celsius{row.number("t_c")},
                                                  IonicStrength{row.number("ionic_strength")});
    near(fraction, row.number("free_ammonia_fraction"), 0.007);
    near(fraction * row.number("ammonia_mg_l_n"), row.number("free_ammonia_mg_l_n"), 0.007);
  }
}

TEST(Carbonate, agrees_with_phreeqc_on_waters_with_ammonia_phosphate_nitrite_and_citrate) {
  for (const reference::Row& row : reference::reference_table("phreeqc_crosscheck")) {
    SCOPED_TRACE(row.origin() + ": " + row.text("ph"));
    const auto mol = [&](const char* name) { return row.number(std::string(name) + "_mol_l"); };
    const double alkalinity = mol("nahco3") + mol("nh3") - mol("h3po4") - mol("hcl") - mol("h3cit");
    const Equilibrium water(
        conditions(row), {AmmoniaN{1000 * units::kMolarMassN * (mol("nh4cl") + mol("nh3"))},
                          PhosphateP{1000 * units::kMolarMassP * mol("h3po4")},
                          NitriteN{1000 * units::kMolarMassN * mol("nano2")}, MmolPerL{1000 * mol("h3cit")}});
    CarbonateResult result;
    if (row.text("mode") == "closed") {
      result = water.from_alkalinity_and_carbon(AlkalinityMeq{1000 * alkalinity},
                                                MmolPerL{1000 * (mol("nahco3") + mol("co2"))});
    } else {
      result = water.from_alkalinity_and_pco2(AlkalinityMeq{1000 * alkalinity},
                                              units::gas_ppm_from_atm(units::Atm{row.number("pco2_atm")}));
    }
    ASSERT_TRUE(result) << result.error().message;
    EXPECT_NEAR(result->ph.value(), row.number("ph"), kPhTolerance);
  }
}

TEST(Carbonate, leaving_out_ion_pairs_costs_at_most_0_02_pH_in_very_hard_water) {
  for (const reference::Row& row : reference::reference_table("phreeqc_hard_water")) {
    SCOPED_TRACE(row.origin());
    const Equilibrium water(conditions(row), {});
    const double alkalinity = row.number("alkalinity_meq_l");
    const auto result = water.from_alkalinity_and_carbon(
        AlkalinityMeq{alkalinity}, MmolPerL{alkalinity + row.number("co2_added_mmol_l")});
    ASSERT_TRUE(result) << result.error().message;
    EXPECT_NEAR(result->ph.value(), row.number("ph_no_ion_pairs"), kPhTolerance);
    EXPECT_GE(result->ph.value() - row.number("ph"), -0.0005);
    EXPECT_LE(result->ph.value() - row.number("ph"), 0.02);
    if (!row.has("si_calcite")) continue;
    const double index =
        calcite_saturation_index(MmolPerL{row.number("calcium_mmol_l")}, result->carbonate, conditions(row));
    EXPECT_NEAR(index, row.number("si_calcite_no_ion_pairs"), 0.004);
    EXPECT_LT(index - row.number("si_calcite"), 0.075);
  }
}

TEST(Carbonate, carbon_dioxide_factors_agree_with_a_printed_table) {
  int misprints = 0;
  for (const reference::Row& row : reference::reference_table("co2_factor_published")) {
    SCOPED_TRACE(row.origin());
    // The table is bicarbonate only: CO2 = alkalinity x 10^(pK1 - pH).
    const ConditionalConstants k = conditional_constants(Celsius{row.number("t_c")}, IonicStrength{0});
    const double ours =
        units::kMolarMassCO2 / units::kCaCO3MgPerMeq * std::pow(10.0, -row.number("ph")) / k.k1;
    const double printed = row.number("factor");
    if (row.has("misprint")) {
      ++misprints;
      EXPECT_GT(std::abs(ours - printed), 0.03 * printed);
      continue;
    }
    // 3 % and half of the last printed digit.
    EXPECT_NEAR(ours, printed, 0.03 * printed + 0.0005)
        << "pH " << row.number("ph") << ", " << row.number("t_c");
  }
  EXPECT_EQ(misprints, 3);
}

TEST(Carbonate, settles_where_the_printed_values_say) {
  for (const reference::Row& row : reference::reference_table("settled_ph")) {
    SCOPED_TRACE(row.origin());
    const Equilibrium water(conditions(row), {});
    const AlkalinityMeq alkalinity{row.number("alkalinity_meq_l")};
    const auto result =
        row.has("pco2_ppm")
            ? water.from_alkalinity_and_pco2(alkalinity, GasPpm{row.number("pco2_ppm")})
            : water.from_alkalinity_and_carbon(alkalinity, MmolPerL{row.number("total_carbon_mmol_l")});
    ASSERT_TRUE(result) << result.error().message;
    EXPECT_NEAR(result->ph.value(), row.number("ph"), row.number("tolerance"));
  }
}

TEST(Carbonate, buffer_capacity_is_nine_times_smaller_at_8_than_at_6_5) {
  for (const reference::Row& row : reference::reference_table("buffer_capacity")) {
    SCOPED_TRACE(row.origin());
    const Equilibrium water({Celsius{25}, IonicStrength{0.005}}, {});
    // Of carbonate alone: water's own share, as buffer capacity without carbon, taken off.
    const Ph ph{row.number("ph")};
    const double carbonate_only =
        water.buffer_capacity(ph, MmolPerL{1}).value() - water.buffer_capacity(ph, MmolPerL{0}).value();
    EXPECT_NEAR(carbonate_only, row.number("eq_per_ph_per_mol_carbon"), 0.0006);
  }
}

TEST(Carbonate, acids_give_the_protons_that_were_calculated) {
  for (const reference::Row& row : reference::reference_table("protons_given")) {
    SCOPED_TRACE(row.origin());
    const Ph ph{row.number("ph")};
    const Conditions c{Celsius{25}, IonicStrength{0.005}};
    Dissolved acid;
    if (row.text("acid") == "phosphoric acid")
      acid.phosphate = PhosphateP{units::kMolarMassP};
    else
      acid.citrate = MmolPerL{1};
    // One mole takes off one equivalent of alkalinity and its own species hold the rest.
    const double held = Equilibrium(c, acid).non_carbonate_alkalinity(ph).value() -
                        Equilibrium(c, {}).non_carbonate_alkalinity(ph).value();
    EXPECT_NEAR(1.0 + held, row.number("protons_per_mole"), 0.0055);
  }
}

std::map<std::string, ReagentLine> reagent_lines() {
  std::map<std::string, ReagentLine> lines;
  for (const reference::Row& row : reference::reference_table("reagent_lines"))
    lines[row.text("reagent")] = {row.number("alkalinity_eq"),   row.number("carbon_mol"),
                                  row.number("ammonia_n_mol"),   row.number("nitrite_n_mol"),
                                  row.number("phosphate_p_mol"), row.number("citrate_mol")};
  return lines;
}

TEST(Titration, doses_reach_the_ph_they_were_calculated_for) {
  const auto lines = reagent_lines();
  int open_doses = 0;
  for (const reference::Row& row : reference::reference_table("titrations")) {
    SCOPED_TRACE(row.origin() + " " + row.text("id"));
    const Conditions c = conditions(row);
    const Totals water{AlkalinityMeq{row.number("alkalinity_meq_l")},
                       MmolPerL{row.number("total_carbon_mmol_l")},
                       {AmmoniaN{row.number("ammonia_mg_l_n")}, PhosphateP{row.number("phosphate_mg_l_p")},
                        NitriteN{0}, MmolPerL{0}}};
    const ReagentLine& line = lines.at(row.text("reagent"));
    const auto closed_ph = [&](const Totals& t) {
      return Equilibrium(c, t.dissolved).from_alkalinity_and_carbon(t.alkalinity, t.total_carbon).value();
    };
    const auto open_ph = [&](const Totals& t, double atm) {
      return Equilibrium(c, t.dissolved)
          .from_alkalinity_and_pco2(t.alkalinity, units::gas_ppm_from_atm(units::Atm{atm}))
          .value();
    };
    const double target = row.number("ph_target");
    EXPECT_NEAR(closed_ph(water).ph.value(), row.number("ph_start"), kPhTolerance);
    EXPECT_NEAR(closed_ph(water).pco2.value() * 1e-6, row.number("start_pco2_atm"),
                0.007 * row.number("start_pco2_atm"));
    EXPECT_NEAR(open_ph(water, 420e-6).ph.value(), row.number("ph_start_open_air"), kPhTolerance);

    const Totals closed = with_dose(water, line, MmolPerL{row.number("closed_mmol_l")});
    EXPECT_NEAR(closed_ph(closed).ph.value(), target, kPhTolerance);
    EXPECT_NEAR(closed.alkalinity.value(), row.number("closed_alkalinity_meq_l"), 1e-4);
    EXPECT_NEAR(open_ph(closed, 420e-6).ph.value(), row.number("ph_rebound_420_ppm"), kPhTolerance);
    if (row.has("open_mmol_l")) {
      ++open_doses;
      EXPECT_NEAR(open_ph(with_dose(water, line, MmolPerL{row.number("open_mmol_l")}), 420e-6).ph.value(),
                  target, kPhTolerance);
    }
    if (row.has("fixed_pco2_mmol_l")) {
      EXPECT_NEAR(open_ph(with_dose(water, line, MmolPerL{row.number("fixed_pco2_mmol_l")}),
                          row.number("start_pco2_atm"))
                      .ph.value(),
                  target, kPhTolerance);
    }
  }
  EXPECT_GT(open_doses, 20);
}

TEST(Degassing, follows_the_calculated_course) {
  // Rows of one water follow each other in time.
  double carbon = 0;
  double hours = 0;
  for (const reference::Row& row : reference::reference_table("degassing")) {
    SCOPED_TRACE(row.origin() + " hour " + row.text("hours"));
    const Equilibrium water(conditions(row), {});
    const AlkalinityMeq alkalinity{row.number("alkalinity_meq_l")};
    const units::PerHour kla{row.number("kla_per_h")};
    const GasPpm air = units::gas_ppm_from_atm(units::Atm{row.number("pco2_atm")});
    if (row.number("hours") == 0) {
      carbon = row.number("total_carbon_mmol_l");
      hours = 0;
    }
    // Explicit midpoint steps of 0.005 h: error far below the tolerance.
    const auto rate = [&](double c) {
      return co2_exchange(kla, water.from_alkalinity_and_carbon(alkalinity, MmolPerL{c}).value(), air, water)
          .value();
    };
    const int steps = static_cast<int>(std::lround((row.number("hours") - hours) / 0.005));
    for (int i = 0; i < steps; ++i) carbon += 0.005 * rate(carbon + 0.0025 * rate(carbon));
    hours = row.number("hours");
    const auto now = water.from_alkalinity_and_carbon(alkalinity, MmolPerL{carbon}).value();
    EXPECT_NEAR(now.total_carbon.value(), row.number("total_carbon_mmol_l"),
                0.0005 * row.number("total_carbon_mmol_l"));
    EXPECT_NEAR(now.ph.value(), row.number("ph"), kPhTolerance);
    EXPECT_NEAR(units::as_co2(now.co2).value(), row.number("co2_mg_l"), 0.007 * row.number("co2_mg_l"));
  }
}

TEST(Contradiction, is_named_and_not_clamped) {
  // Consistency guard calculated separately: 26 degC, I 0.01, alkalinity 1.0, pH 7.8, 20 mg/L ammonia N and
  // 40 mg/L phosphate P leave less than no carbon.
  const Equilibrium water({Celsius{26}, IonicStrength{0.01}},
                          {AmmoniaN{20}, PhosphateP{40}, NitriteN{0}, MmolPerL{0}});
  const auto result = water.from_ph_and_alkalinity(Ph{7.8}, AlkalinityMeq{1.0});
  ASSERT_FALSE(result);
  EXPECT_EQ(result.error().kind, CarbonateError::Kind::contradiction);
  EXPECT_EQ(result.error().readings, (std::vector<std::string>{"ph", "alkalinity", "phosphate"}));
  EXPECT_NE(result.error().message.find("pH 7.8"), std::string::npos) << result.error().message;
  EXPECT_NE(result.error().message.find("phosphate"), std::string::npos) << result.error().message;
}

TEST(Contradiction, high_ph_with_hardly_any_alkalinity) {
  // At pH 10.5 hydroxide alone is about 0.3 meq/L (pKw 14): 0.1 meq/L cannot be.
  const auto result = Equilibrium({Celsius{25}, IonicStrength{0.005}}, {})
                          .from_ph_and_alkalinity(Ph{10.5}, AlkalinityMeq{0.1});
  ASSERT_FALSE(result);
  EXPECT_NE(result.error().message.find("hydroxide"), std::string::npos) << result.error().message;
}

TEST(Contradiction, more_dissolved_carbon_dioxide_than_carbon) {
  // 5000 ppm puts 0.17 mmol/L of CO2 into water of 25 degC (K0 = 10^-1.468): 0.1 mmol/L of carbon cannot hold
  // it.
  const auto result =
      Equilibrium({Celsius{25}, IonicStrength{0.005}}, {}).from_carbon_and_pco2(MmolPerL{0.1}, GasPpm{5000});
  ASSERT_FALSE(result);
  EXPECT_EQ(result.error().kind, CarbonateError::Kind::contradiction);
  EXPECT_EQ(result.error().readings, (std::vector<std::string>{"total_carbon", "pco2"}));
  EXPECT_NE(result.error().message.find("0.17 mmol/L"), std::string::npos) << result.error().message;
}

TEST(Contradiction, no_carbon_at_all_fits_every_ph) {
  const auto result =
      Equilibrium({Celsius{25}, IonicStrength{0.005}}, {}).from_carbon_and_pco2(MmolPerL{0}, GasPpm{0});
  ASSERT_FALSE(result);
  EXPECT_EQ(result.error().kind, CarbonateError::Kind::undetermined);
}

TEST(OutOfRange, lye_is_not_bent_into_the_equations) {
  // 0.5 eq/L of hydroxide would need a pH near 13.6.
  const auto result = Equilibrium({Celsius{25}, IonicStrength{0.1}}, {})
                          .from_alkalinity_and_carbon(AlkalinityMeq{500}, MmolPerL{0});
  ASSERT_FALSE(result);
  EXPECT_EQ(result.error().kind, CarbonateError::Kind::out_of_range);
}

}  // namespace
}  // namespace helmwater::chem
