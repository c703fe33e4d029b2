// SPDX-License-Identifier: Apache-2.0
// Densities of solutions against published strength tables.
#include <gtest/gtest.h>

#include <stdexcept>

#include "csv_rows.hpp"
#include "handbook/handbook.hpp"

namespace {

using helmwater::handbook::density_g_per_ml;
using helmwater::handbook::Handbook;
using helmwater::handbook::Reagent;
using helmwater::handbook_test::csv_rows;
using helmwater::handbook_test::Row;

const Reagent& reagent(const std::string& name) {
  const Reagent* found = Handbook::built_in().reagent(name);
  if (!found) throw std::runtime_error("no reagent " + name);
  return *found;
}

double mol_per_litre(const Reagent& r, double percent) {
  return density_g_per_ml(r, percent) * 10 * percent / r.molar_mass.value;
}

// Cooley's Cyclopaedia of Practical Receipts, table of ammonia water; 26 rows.
TEST(Strengths, ammonia_water_matches_the_published_table) {
  const std::vector<Row> rows = csv_rows("aqua_ammonia.csv");
  ASSERT_EQ(rows.size(), 26u);
  const Reagent& ammonia = reagent("ammonia solution");
  EXPECT_EQ(ammonia.strengths.size(), 26u);
  for (const Row& row : rows) {
    const double percent = std::stod(row.at("percent_w_w"));
    EXPECT_NEAR(density_g_per_ml(ammonia, percent), std::stod(row.at("specific_gravity")), 1e-9) << percent << " %";
    // Percent is printed to 0.001, which is up to 0.04 % of the weakest row.
    const double mg_n = std::stod(row.at("mg_n_per_ml"));
    EXPECT_NEAR(mol_per_litre(ammonia, percent) * 14.007, mg_n, 5e-4 * mg_n) << percent << " %";
  }
}

TEST(Strengths, density_is_linear_between_rows_and_held_at_the_ends) {
  const Reagent& ammonia = reagent("ammonia solution");
  EXPECT_DOUBLE_EQ(density_g_per_ml(ammonia, 0), 1.0);
  EXPECT_DOUBLE_EQ(density_g_per_ml(ammonia, 0.61), 0.9975);  // half way from water to 1.22 %, 0.995
  EXPECT_NEAR(density_g_per_ml(ammonia, (8.808 + 9.462) / 2), (0.965 + 0.9625) / 2, 1e-12);
  EXPECT_DOUBLE_EQ(density_g_per_ml(ammonia, 60), 0.875);
}

// The table itself is smooth: leaving one row out and interpolating over the gap comes back to it within 0.0005.
// This bounds what interpolation costs between rows.
TEST(Strengths, interpolation_over_a_missing_row_of_ammonia_water_stays_close) {
  Reagent ammonia = reagent("ammonia solution");
  const std::vector<Reagent::Strength> all = ammonia.strengths;
  for (std::size_t i = 1; i + 1 < all.size(); ++i) {
    ammonia.strengths = all;
    ammonia.strengths.erase(ammonia.strengths.begin() + static_cast<std::ptrdiff_t>(i));
    EXPECT_NEAR(density_g_per_ml(ammonia, all[i].percent_w_w), all[i].density_g_per_ml, 0.0005) << all[i].percent_w_w;
  }
}

// 3.00 mg/L of nitrogen in 500 L from ammonia water of specific gravity 0.960: 18.77 mL, worked outside this program.
TEST(Strengths, ammonia_water_gives_the_worked_dose) {
  EXPECT_NEAR(3.0 * 500 / (mol_per_litre(reagent("ammonia solution"), 10.119) * 14.007), 18.77, 0.02);
}

struct Molarity {
  const char* name;
  double percent;
  double mol_per_l;
};

// Printed molarities of concentrated reagents (two laboratory pages and a third table); they carry three digits.
TEST(Strengths, concentrated_reagents_have_the_printed_molarity) {
  for (const Molarity& row : {Molarity{"hydrochloric acid", 32, 10.2}, Molarity{"hydrochloric acid", 36, 11.65},
                              Molarity{"hydrochloric acid", 37.2, 12.1}, Molarity{"sulfuric acid", 96, 18.0},
                              Molarity{"phosphoric acid", 85, 14.6}, Molarity{"phosphoric acid", 85.5, 14.8},
                              Molarity{"nitric acid", 69.6, 15.6}, Molarity{"potassium hydroxide", 45, 11.68},
                              Molarity{"ammonia solution", 28, 14.65}, Molarity{"ammonia solution", 25, 13.4}}) {
    EXPECT_NEAR(mol_per_litre(reagent(row.name), row.percent), row.mol_per_l, 0.011 * row.mol_per_l)
        << row.name << " " << row.percent << " %";
  }
}

// University of Massachusetts Extension, adjusting alkalinity with acids: one US fluid ounce of 93 % sulphuric acid in
// 100 US gallons takes away 136 mg/L CaCO3 and adds 43.6 mg/L of sulphur.
TEST(Strengths, sulfuric_acid_takes_the_printed_alkalinity) {
  const double ml = 29.5735;
  const double litres = 100 * 3.785412;
  const Reagent& acid = reagent("sulfuric acid");
  const double mol = mol_per_litre(acid, 93) * ml / 1000;
  EXPECT_NEAR(-mol * acid.alkalinity_eq_per_mol * 50.04 * 1000 / litres, 136, 0.5);
  EXPECT_NEAR(mol * 32.06 * 1000 / litres, 43.6, 0.05);
}

TEST(Strengths, a_solid_without_solutions_has_no_density) {
  EXPECT_THROW(density_g_per_ml(reagent("urea"), 10), std::logic_error);
}

TEST(Strengths, liquids_are_those_sold_as_solutions) {
  for (const char* name : {"ammonia solution", "hydrochloric acid", "sulfuric acid", "phosphoric acid", "nitric acid"}) {
    EXPECT_TRUE(reagent(name).liquid) << name;
  }
  for (const char* name : {"ammonium chloride", "urea", "potassium hydroxide", "citric acid anhydrous"}) {
    EXPECT_FALSE(reagent(name).liquid) << name;
  }
}

}  // namespace
