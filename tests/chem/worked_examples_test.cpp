// SPDX-License-Identifier: Apache-2.0
// Worked answers (tests/reference/worked_examples.csv) that need the equilibrium and reagent lines only.
#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <map>
#include <string>

#include "chem/ammonia.hpp"
#include "chem/carbonate.hpp"
#include "chem/mixing.hpp"
#include "chem/nitrous_acid.hpp"
#include "chem/oxygen.hpp"
#include "chem/reagents.hpp"
#include "reference/reference_table.hpp"
#include "units/convert.hpp"

namespace helmwater::chem {
namespace {

using namespace helmwater::units;

constexpr ReagentLine kAmmonia{1, 0, 1, 0, 0, 0};
constexpr ReagentLine kAmmoniumChloride{0, 0, 1, 0, 0, 0};
constexpr ReagentLine kNitrification{-2, 0, -1, 0, 0, 0};
constexpr ReagentLine kStrongAcid{-1, 0, 0, 0, 0, 0};

Totals water_of(const Conditions& c, Ph ph, AlkalinityMeq alkalinity, Dissolved dissolved = {}) {
  return {alkalinity, Equilibrium(c, dissolved).from_ph_and_alkalinity(ph, alkalinity).value().total_carbon,
          dissolved};
}
double closed_ph(const Conditions& c, const Totals& t) {
  return Equilibrium(c, t.dissolved)
      .from_alkalinity_and_carbon(t.alkalinity, t.total_carbon)
      .value()
      .ph.value();
}
double open_ph(const Conditions& c, const Totals& t, double ppm) {
  return Equilibrium(c, t.dissolved).from_alkalinity_and_pco2(t.alkalinity, GasPpm{ppm}).value().ph.value();
}
double fraction(double ph, double t, double i) {
  return free_ammonia_fraction(Ph{ph}, Celsius{t}, IonicStrength{i});
}

// W03: 3 mg/L N into water of 25 degC, I 0.005, alkalinity 2, pH 7.80.
const Conditions kW03{Celsius{25}, IonicStrength{0.005}};
Totals w03(const ReagentLine& line) {
  return with_dose(water_of(kW03, Ph{7.8}, AlkalinityMeq{2}), line, MmolPerL{3 / kMolarMassN});
}
double w03_free(const ReagentLine& line) { return 3 * fraction(closed_ph(kW03, w03(line)), 25, 0.005); }

// W06 and W08: 24 degC, I 0.005, alkalinity 3, pH 8.2.
const Conditions kW06{Celsius{24}, IonicStrength{0.005}};
Totals w06(double acid_meq) {
  return with_dose(water_of(kW06, Ph{8.2}, AlkalinityMeq{3}), kStrongAcid, MmolPerL{acid_meq});
}

// W23: CO2 at KH 4, pH 7, 25 degC.
double w23(double i) {
  const Conditions c{Celsius{25}, IonicStrength{i}};
  return as_co2(Equilibrium(c, {}).from_ph_and_alkalinity(Ph{7}, as_meq(AlkalinityDkh{4})).value().co2)
      .value();
}

// W24: 3 mg/L N nitrified in 25 degC, I 0.01, alkalinity 0.8, pH 6.8.
const Conditions kW24{Celsius{25}, IonicStrength{0.01}};
Totals w24_before() {
  return water_of(kW24, Ph{6.8}, AlkalinityMeq{0.8}, {AmmoniaN{3}, PhosphateP{0}, NitriteN{0}, MmolPerL{0}});
}
Totals w24_after() { return with_dose(w24_before(), kNitrification, MmolPerL{3 / kMolarMassN}); }

double pure_water(double ppm) {
  return Equilibrium({Celsius{25}, IonicStrength{0}}, {})
      .from_alkalinity_and_pco2(AlkalinityMeq{0}, GasPpm{ppm})
      .value()
      .ph.value();
}
double total_for_0_02(double ph) {
  return total_ammonia_for_free(FreeAmmoniaN{0.02}, Ph{ph}, Celsius{25}, IonicStrength{0}).value();
}

const std::map<std::string, std::function<double()>>& answers() {
  static const std::map<std::string, std::function<double()>> all{
      {"W03 ph_after_ammonia_solution", [] { return closed_ph(kW03, w03(kAmmonia)); }},
      {"W03 free_ammonia_after_ammonia_solution", [] { return w03_free(kAmmonia); }},
      {"W03 ph_after_ammonium_chloride", [] { return closed_ph(kW03, w03(kAmmoniumChloride)); }},
      {"W03 free_ammonia_after_ammonium_chloride", [] { return w03_free(kAmmoniumChloride); }},
      {"W06 ph_rebound", [] { return open_ph(kW06, w06(0.5124), 420); }},
      {"W08 ph_at_once", [] { return closed_ph(kW06, w06(2.3)); }},
      {"W08 ph_aerated", [] { return open_ph(kW06, w06(2.3), 420); }},
      {"W20 free_ammonia", [] { return fraction(8, 24, 0); }},
      {"W20 free_ammonia_ionic_strength_0.01", [] { return fraction(8, 24, 0.01); }},
      {"W21 total_ammonia_ph_7", [] { return total_for_0_02(7); }},
      {"W21 total_ammonia_ph_7.5", [] { return total_for_0_02(7.5); }},
      {"W21 total_ammonia_ph_8", [] { return total_for_0_02(8); }},
      {"W21 total_ammonia_ph_8.5", [] { return total_for_0_02(8.5); }},
      {"W22 share_to_change", [] { return share_to_change(4, 1, 0); }},
      {"W22 four_changes_of_30_percent", [] { return after_water_changes(4, 0, 0.3, 4); }},
      {"W22 flush_volumes", [] { return flush_volumes(4, 1, 0); }},
      {"W23 co2_kh_4_ph_7", [] { return w23(0); }},
      {"W23 co2_kh_4_ph_7_ionic_strength_0.003", [] { return w23(0.003); }},
      {"W24 alkalinity_after", [] { return w24_after().alkalinity.value(); }},
      {"W24 ph_closed", [] { return closed_ph(kW24, w24_after()); }},
      {"W24 ph_2000_ppm_before", [] { return open_ph(kW24, w24_before(), 2000); }},
      {"W24 ph_2000_ppm_after", [] { return open_ph(kW24, w24_after(), 2000); }},
      {"N11 fraction_percent_ph_8_25", [] { return 100 * fraction(8, 25, 0); }},
      {"N11 fraction_percent_ph_7_20", [] { return 100 * fraction(7, 20, 0); }},
      {"N11 fraction_percent_ph_7.5_28", [] { return 100 * fraction(7.5, 28, 0); }},
      {"N11 fraction_percent_ph_8.5_15", [] { return 100 * fraction(8.5, 15, 0); }},
      {"N12 free_ammonia_n",
       [] { return free_ammonia(AmmoniaN{2}, Ph{8}, Celsius{25}, IonicStrength{0}).value(); }},
      {"N12 free_ammonia_nh3",
       [] { return as_nh3(free_ammonia(AmmoniaN{2}, Ph{8}, Celsius{25}, IonicStrength{0})).value(); }},
      {"N13 nitrous_acid_n",
       [] { return free_nitrous_acid(NitriteN{5}, Ph{6.5}, Celsius{25}, IonicStrength{0}).value(); }},
      {"N13 nitrous_acid_anthonisen",
       [] {
         return 46.0 / 14.0 * free_nitrous_acid(NitriteN{5}, Ph{6.5}, Celsius{25}, IonicStrength{0}).value();
       }},
      {"N23 ph_2_meq_420_ppm",
       [] {
         return open_ph({Celsius{25}, IonicStrength{0}}, {AlkalinityMeq{2}, MmolPerL{0}, {}}, 420);
       }},
      {"N23 ph_100_caco3_10_co2",
       [] {
         const ConditionalConstants k = conditional_constants(Celsius{25}, IonicStrength{0});
         const double ppm = 1e6 * mol_per_l(as_mmol(CarbonDioxideCO2{10})) / k.k0;
         return open_ph({Celsius{25}, IonicStrength{0}}, {as_meq(AlkalinityCaCO3{100}), MmolPerL{0}, {}},
                        ppm);
       }},
      {"N24 oxygen_20", [] { return oxygen_saturation(Celsius{20}, Salinity{0}, Atm{1}).value(); }},
      {"N24 oxygen_25", [] { return oxygen_saturation(Celsius{25}, Salinity{0}, Atm{1}).value(); }},
      {"pure water ph_350_ppm", [] { return pure_water(350); }},
      {"pure water ph_350_ppm_calculated", [] { return pure_water(350); }},
      {"pure water ph_400_ppm", [] { return pure_water(400); }},
  };
  return all;
}

TEST(WorkedExamples, come_out_as_calculated_elsewhere) {
  std::size_t checked = 0;
  for (const reference::Row& row : reference::reference_table("worked_examples")) {
    const std::string key = row.text("id") + " " + row.text("quantity");
    SCOPED_TRACE(row.origin() + " " + key);
    const auto found = answers().find(key);
    ASSERT_NE(found, answers().end());
    EXPECT_NEAR(found->second(), row.number("expected"), row.number("tolerance"));
    ++checked;
  }
  EXPECT_EQ(checked, answers().size());
}

}  // namespace
}  // namespace helmwater::chem
