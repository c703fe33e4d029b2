// SPDX-License-Identifier: Apache-2.0
// Priors against published values.
#include <gtest/gtest.h>

#include <stdexcept>
#include <string>

#include "handbook/handbook.hpp"

namespace {

using helmwater::handbook::Confidence;
using helmwater::handbook::Handbook;
using helmwater::handbook::Prior;

struct Published {
  const char* name;
  double lowest;
  double highest;
  const char* where;
};

// The centre of each prior must lie among the published values of the same quantity.
TEST(Priors, centre_lies_among_published_values) {
  for (const Published& row : {
           Published{"mu_a", 0.297, 1.5, "Wade parameter file; Sin 2008"},
           Published{"mu_n", 0.337, 0.78, "Wade parameter file; Hiatt & Grady 2008 table 2"},
           Published{"theta_a", 1.072, 1.123, "Metcalf & Eddy table 8-14; Ekama"},
           Published{"theta_film", 1.011, 1.09, "Zhu & Chen 2002 (oxygen limited); Hoang 2014"},
           Published{"b_a", 0.014, 0.17, "Wade parameter file; Metcalf & Eddy table 8-14"},
           Published{"b_n", 0.02, 0.17, "Wade parameter file; Metcalf & Eddy table 8-14"},
           Published{"theta_b", 1.029, 1.029, "Ekama; Metcalf & Eddy table 8-14"},
           Published{"k_a", 0.14, 2.4, "Sin 2008; Wade parameter file"},
           Published{"k_n", 0.056, 3.0, "Nitrospira NS4 (4.0 umol/L); Sin 2008"},
           Published{"k_oa", 0.4, 0.7, "Ekama; Sin 2008"},
           Published{"k_on", 0.08, 1.5, "Ushiki 2017 (2.6 umol/L); Sin 2008"},
           Published{"ki_a_fa", 1.0, 22.4, "Hiatt & Grady 2008; Park & Bae 2009 (1600 umol/L)"},
           Published{"ki_n_fa", 0.2, 0.70, "Hiatt & Grady 2008; Ushiki 2017 (0.85 mg NH3/L)"},
           Published{"ki_a_fna", 0.1, 0.17, "Hiatt & Grady 2008; Park & Bae 2009 (12 umol/L)"},
           Published{"ki_n_fna", 0.024, 0.095, "Park & Bae 2009 (1.7-6.8 umol/L)"},
           Published{"ln_theta_ph", 0.122, 0.854, "Villaverde 1997 (13 % a unit); Ekama (2.35)"},
           Published{"f_tan", 0.063, 0.10, "25 g ammonia per kg feed of 40 % protein (blog); design primer"},
       }) {
    const Prior& prior = Handbook::built_in().prior(row.name);
    EXPECT_GE(prior.a, row.lowest) << row.name << ": " << row.where;
    EXPECT_LE(prior.a, row.highest) << row.name << ": " << row.where;
  }
}

// Capacity of feed solids: 7 to 32 % of feed nitrogen (introduction citing Kristiansen & Cripps 1996).
TEST(Priors, mean_share_of_solids_lies_among_published_values) {
  const Prior& prior = Handbook::built_in().prior("f_sol");
  ASSERT_EQ(prior.shape, Prior::Shape::beta);
  const double mean = prior.a / (prior.a + prior.b);
  EXPECT_GE(mean, 0.07);
  EXPECT_LE(mean, 0.32);
}

TEST(Priors, every_one_says_what_it_is_and_where_it_comes_from) {
  for (const Prior& prior : Handbook::built_in().priors()) {
    EXPECT_FALSE(prior.says.empty()) << prior.name;
    EXPECT_FALSE(prior.unit.empty()) << prior.name;
    EXPECT_FALSE(prior.source.empty()) << prior.name;
    if (prior.confidence == Confidence::derived) {
      EXPECT_FALSE(prior.note.empty()) << prior.name << ": derived how?";
    }
  }
}

TEST(Priors, the_two_numbers_follow_the_shape) {
  const Handbook& handbook = Handbook::built_in();
  EXPECT_EQ(handbook.prior("mu_a").shape, Prior::Shape::lognormal);
  EXPECT_EQ(handbook.prior("theta_a").shape, Prior::Shape::normal);
  EXPECT_EQ(handbook.prior("seed_survival").shape, Prior::Shape::beta);
  EXPECT_EQ(handbook.prior("theta_b").shape, Prior::Shape::fixed);
  EXPECT_EQ(handbook.prior("theta_b").b, 0);
  EXPECT_TRUE(handbook.prior("source_nitrate").cut_at_zero);
  EXPECT_FALSE(handbook.prior("mu_a").cut_at_zero);
}

TEST(Priors, a_missing_one_is_our_own_mistake_and_named) {
  try {
    Handbook::built_in().prior("mu_x");
    FAIL() << "no exception";
  } catch (const std::out_of_range& error) {
    EXPECT_STREQ(error.what(), "the handbook has no prior \"mu_x\"");
  }
}

}  // namespace
