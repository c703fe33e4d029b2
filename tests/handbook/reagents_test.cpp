// SPDX-License-Identifier: Apache-2.0
// Reagents against their own formulas, against a worked table, and against the explicit conservative expression of
// alkalinity.
#include <gtest/gtest.h>

#include <cmath>
#include <map>
#include <string>

#include "csv_rows.hpp"
#include "handbook/handbook.hpp"

namespace {

using helmwater::handbook::Handbook;
using helmwater::handbook::Reagent;
using helmwater::handbook_test::csv_rows;
using helmwater::handbook_test::Row;

// IUPAC abridged standard atomic weights (CIAAW; from memory), g/mol.
const std::map<std::string, double> kAtomicWeight{
    {"H", 1.008},   {"C", 12.011},  {"N", 14.007}, {"O", 15.999}, {"Na", 22.990}, {"Mg", 24.305},
    {"P", 30.974},  {"S", 32.06},   {"Cl", 35.45}, {"K", 39.098}, {"Ca", 40.078}};

using Atoms = std::map<std::string, int>;

int count_at(const std::string& formula, std::size_t& at) {
  std::size_t digits = 0;
  while (at + digits < formula.size() && std::isdigit(static_cast<unsigned char>(formula[at + digits]))) ++digits;
  const int count = digits == 0 ? 1 : std::stoi(formula.substr(at, digits));
  at += digits;
  return count;
}

// Counts atoms of a formula such as Ca(OH)2 or MgSO4.7H2O.
Atoms atoms_of(const std::string& formula, std::size_t& at) {
  Atoms atoms;
  const auto add = [&](const Atoms& more, int times) {
    for (const auto& [element, count] : more) atoms[element] += count * times;
  };
  while (at < formula.size() && formula[at] != ')') {
    if (formula[at] == '(') {
      ++at;
      const Atoms group = atoms_of(formula, at);
      ++at;
      add(group, count_at(formula, at));
    } else if (formula[at] == '.') {
      ++at;
      const int times = count_at(formula, at);
      add(atoms_of(formula, at), times);
    } else {
      std::size_t length = 1;
      while (at + length < formula.size() && std::islower(static_cast<unsigned char>(formula[at + length]))) ++length;
      const std::string element = formula.substr(at, length);
      at += length;
      atoms[element] += count_at(formula, at);
    }
  }
  return atoms;
}

Atoms atoms_of(const std::string& formula) {
  std::size_t at = 0;
  return atoms_of(formula, at);
}

const Reagent& reagent(const std::string& name) {
  const Reagent* found = Handbook::built_in().reagent(name);
  if (!found) throw std::runtime_error("no reagent " + name);
  return *found;
}

TEST(Reagents, formula_parser_counts_hydrates_and_brackets) {
  const Atoms epsom = atoms_of("MgSO4.7H2O");
  EXPECT_EQ(epsom.at("H"), 14);
  EXPECT_EQ(epsom.at("O"), 11);
  const Atoms sulfate = atoms_of("(NH4)2SO4");
  EXPECT_EQ(sulfate.at("N"), 2);
  EXPECT_EQ(sulfate.at("H"), 8);
}

TEST(Reagents, molar_mass_is_the_sum_of_atomic_weights) {
  for (const Reagent& r : Handbook::built_in().reagents()) {
    double sum = 0;
    for (const auto& [element, count] : atoms_of(r.formula)) sum += count * kAtomicWeight.at(element);
    EXPECT_NEAR(r.molar_mass.value, sum, 0.0006) << r.name << " " << r.formula << ", IUPAC atomic weights";
    EXPECT_EQ(r.molar_mass.unit, "g/mol") << r.name;
  }
}

TEST(Reagents, nitrogen_and_phosphorus_are_those_of_the_formula) {
  for (const Reagent& r : Handbook::built_in().reagents()) {
    Atoms atoms = atoms_of(r.formula);
    EXPECT_EQ(r.ammonia_n_mol_per_mol + r.urea_n_mol_per_mol + r.nitrate_n_mol_per_mol, atoms["N"]) << r.name;
    EXPECT_EQ(r.phosphate_p_mol_per_mol, atoms["P"]) << r.name;
  }
}

// Alkalinity = Na + K + 2 Ca + 2 Mg - Cl - NO3 - 2 SO4 - total phosphate + total ammonia, in mol per mol: the
// explicit conservative expression, Wolf-Gladrow et al. 2007, Marine Chemistry 106:287 (from memory). Citrate counts
// like phosphate with the zero level H2Cit-; thiosulfate carries two charges for two sulphurs; urea none.
TEST(Reagents, alkalinity_follows_the_explicit_conservative_expression) {
  for (const Reagent& r : Handbook::built_in().reagents()) {
    Atoms atoms = atoms_of(r.formula);
    const bool thiosulfate = r.name.find("thiosulfate") != std::string::npos;
    const bool citric = r.name.find("citric") != std::string::npos;
    const double expected = atoms["Na"] + atoms["K"] + 2 * atoms["Ca"] + 2 * atoms["Mg"] - atoms["Cl"] -
                            r.nitrate_n_mol_per_mol - (thiosulfate ? 1 : 2) * atoms["S"] - r.phosphate_p_mol_per_mol +
                            r.ammonia_n_mol_per_mol - (citric ? 1 : 0);
    EXPECT_EQ(r.alkalinity_eq_per_mol, expected) << r.name << " " << r.formula;
  }
}

TEST(Reagents, inorganic_carbon_is_that_of_the_carbonates) {
  for (const Reagent& r : Handbook::built_in().reagents()) {
    const bool carbonate = r.name.find("carbonate") != std::string::npos;
    EXPECT_EQ(r.carbon_mol_per_mol, carbonate ? atoms_of(r.formula).at("C") : 0) << r.name;
  }
}

// Every such ion of these formulas goes into solution; sulphur is sulphate but in thiosulfate.
TEST(Reagents, ions_are_those_of_the_formula) {
  for (const Reagent& r : Handbook::built_in().reagents()) {
    Atoms atoms = atoms_of(r.formula);
    const bool thiosulfate = r.name.find("thiosulfate") != std::string::npos;
    EXPECT_EQ(r.ions.potassium, atoms["K"]) << r.name;
    EXPECT_EQ(r.ions.calcium, atoms["Ca"]) << r.name;
    EXPECT_EQ(r.ions.magnesium, atoms["Mg"]) << r.name;
    EXPECT_EQ(r.ions.sodium, atoms["Na"]) << r.name;
    EXPECT_EQ(r.ions.chloride, atoms["Cl"]) << r.name;
    EXPECT_EQ(r.ions.sulfate, thiosulfate ? 0 : atoms["S"]) << r.name;
  }
}

TEST(Reagents, match_the_worked_table) {
  const std::vector<Row> rows = csv_rows("reagent_table.csv");
  EXPECT_EQ(rows.size(), 25u);
  EXPECT_EQ(Handbook::built_in().reagents().size(), rows.size());
  for (const Row& row : rows) {
    const std::string& name = row.at("name");  // brackets and all
    const Reagent& r = reagent(name);
    EXPECT_EQ(r.formula, row.at("formula")) << name;
    EXPECT_DOUBLE_EQ(r.molar_mass.value, std::stod(row.at("molar_mass_g_mol"))) << name;
    EXPECT_DOUBLE_EQ(r.alkalinity_eq_per_mol, std::stod(row.at("alkalinity_eq_per_mol"))) << name;
    EXPECT_DOUBLE_EQ(r.carbon_mol_per_mol, std::stod(row.at("carbon_mol_per_mol"))) << name;
    // Five digits printed: half a unit of the fifth.
    const double meq_per_g = std::stod(row.at("alkalinity_meq_per_g"));
    EXPECT_NEAR(1000 * r.alkalinity_eq_per_mol / r.molar_mass.value, meq_per_g, 0.5e-4 * std::abs(meq_per_g) + 1e-12)
        << name;
    const double n = r.ammonia_n_mol_per_mol + r.urea_n_mol_per_mol + r.nitrate_n_mol_per_mol;
    if (!row.at("percent_n").empty()) {
      EXPECT_NEAR(100 * 14.007 * n / r.molar_mass.value, std::stod(row.at("percent_n")), 0.0051) << name;
    }
    if (!row.at("percent_p").empty()) {
      EXPECT_NEAR(100 * 30.974 * r.phosphate_p_mol_per_mol / r.molar_mass.value, std::stod(row.at("percent_p")), 0.0051)
          << name;
    }
  }
}

TEST(Reagents, names_ignore_case_blanks_and_a_trailing_bracket) {
  EXPECT_EQ(reagent("Ammonium Chloride").formula, "NH4Cl");
  EXPECT_EQ(reagent("  ammonium   chloride ").formula, "NH4Cl");
  EXPECT_EQ(reagent("ammonia (as NH3)").name, "ammonia solution");
  EXPECT_EQ(reagent("ammonia").name, "ammonia solution");
  EXPECT_EQ(reagent("calcium hydroxide (hydrated lime)").formula, "Ca(OH)2");
  EXPECT_EQ(reagent("hydrated lime").formula, "Ca(OH)2");
  EXPECT_EQ(Handbook::built_in().reagent("ammonium chlorid"), nullptr);
  EXPECT_EQ(Handbook::built_in().reagent(""), nullptr);
  EXPECT_EQ(Handbook::built_in().reagent("(as NH3)"), nullptr);
}

// "7 parts" and 7.00 g of the pentahydrate per g of chlorine: support answer of a laboratory supplier, and the
// stoichiometry 2 S2O3 + Cl2 -> S4O6 + 2 Cl.
TEST(Reagents, thiosulfate_takes_up_its_share_of_chlorine) {
  const double per_mole = 2 * 35.45 / 2;  // g Cl2 per mol of thiosulfate
  const Reagent& hydrate = reagent("sodium thiosulfate pentahydrate");
  EXPECT_NEAR(1 / hydrate.chlorine_removed_g_per_g, 7.00, 0.005);
  EXPECT_NEAR(hydrate.chlorine_removed_g_per_g, per_mole / hydrate.molar_mass.value, 2e-5);
  const Reagent& anhydrous = reagent("sodium thiosulfate anhydrous");
  EXPECT_NEAR(anhydrous.chlorine_removed_g_per_g, per_mole / anhydrous.molar_mass.value, 2e-5);
  for (const Reagent& r : Handbook::built_in().reagents()) {
    if (r.name.find("thiosulfate") == std::string::npos) {
      EXPECT_EQ(r.chlorine_removed_g_per_g, 0) << r.name;
    }
  }
}

// Worked doses from a calculation outside this program.
TEST(Reagents, give_the_worked_doses) {
  const auto grams_for_n = [](const Reagent& r, double mg_per_l, double litres) {
    return mg_per_l / 1000 * litres / 14.007 / (r.ammonia_n_mol_per_mol + r.urea_n_mol_per_mol) * r.molar_mass.value;
  };
  EXPECT_NEAR(grams_for_n(reagent("ammonium chloride"), 2.0, 1000), 7.637, 0.001);
  EXPECT_NEAR(grams_for_n(reagent("urea"), 2.0, 1000), 4.288, 0.001);
  EXPECT_NEAR(grams_for_n(reagent("ammonium sulfate"), 4.0, 300), 5.660, 0.001);
  // +2 dKH (0.35666 meq/L each) in 1000 L with potassium bicarbonate.
  const Reagent& khco3 = reagent("potassium bicarbonate");
  EXPECT_NEAR(2 * 0.35666 * 1000 / 1000 / khco3.alkalinity_eq_per_mol * khco3.molar_mass.value, 71.41, 0.01);
  // 200 L with 1.5 mg/L of chlorine.
  EXPECT_NEAR(1.5 / 1000 * 200 / reagent("sodium thiosulfate pentahydrate").chlorine_removed_g_per_g, 2.100, 0.001);
}

bool warns(const Reagent& r, const std::string& words) {
  for (const std::string& caution : r.cautions) {
    if (caution.find(words) != std::string::npos) return true;
  }
  return false;
}

TEST(Reagents, every_one_carries_the_general_cautions) {
  for (const Reagent& r : Handbook::built_in().reagents()) {
    EXPECT_TRUE(warns(r, "children")) << r.name;
    EXPECT_TRUE(warns(r, "safety data sheet")) << r.name;
    EXPECT_TRUE(warns(r, "local rules")) << r.name;
  }
}

// Never-mix list: chlorine gas from acid and bleach, chloramine from ammonia or urea and bleach (Washington State
// Department of Health, read in answer pages); acid into water (stock-solution page); hydrogen from caustic potash and
// aluminium or zinc, ammonia gas from alkali and ammonium salts (summary of incompatibilities of KOH).
TEST(Reagents, dangerous_ones_carry_their_own_cautions) {
  for (const Reagent& r : Handbook::built_in().reagents()) {
    if (r.ammonia_n_mol_per_mol > 0 || r.urea_n_mol_per_mol > 0) {
      EXPECT_TRUE(warns(r, "chloramine gas")) << r.name;
    }
    const bool acid = r.alkalinity_eq_per_mol < 0;
    if (acid) {
      EXPECT_TRUE(warns(r, "chlorine gas")) << r.name;
    }
    if (acid && r.liquid) {
      EXPECT_TRUE(warns(r, "acid into cold water")) << r.name;
    }
    if (acid || r.name.find("hydroxide") != std::string::npos) {
      EXPECT_TRUE(warns(r, "goggles")) << r.name;
    }
  }
  EXPECT_TRUE(warns(reagent("ammonia solution"), "Never use it with fish"));
  EXPECT_TRUE(warns(reagent("potassium hydroxide"), "hydrogen"));
  EXPECT_TRUE(warns(reagent("calcium hydroxide"), "ammonia gas"));
}

}  // namespace
