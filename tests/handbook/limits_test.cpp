// SPDX-License-Identifier: Apache-2.0
// Limits against the texts they were taken from.
#include <gtest/gtest.h>

#include <stdexcept>

#include "handbook/handbook.hpp"

namespace {

using helmwater::handbook::Confidence;
using helmwater::handbook::Handbook;
using helmwater::handbook::Limit;

struct Printed {
  const char* name;
  double value;
  const char* unit;
  const char* where;
};

TEST(Limits, are_those_printed) {
  for (const Printed& row : {
           Printed{"free_ammonia_warm", 0.05, "mg/L as N", "Fundamentals of Aquatic Veterinary Medicine: gills"},
           Printed{"free_ammonia_lethal", 2.0, "mg/L as N", "Fundamentals of Aquatic Veterinary Medicine: death"},
           Printed{"free_ammonia_cold_highest", 0.025, "mg/L as N", "UK fishery page: salmonid maximum"},
           Printed{"nitrite_warm", 1, "mg/L as NO2", "FAO TP 589 table 3.1"},
           Printed{"nitrite_cold", 0.1, "mg/L as NO2", "FAO TP 589 table 3.1"},
           Printed{"nitrate_fish", 400, "mg/L as NO3", "FAO TP 589 table 3.1"},
           Printed{"alkalinity_low", 20, "mg/L as CaCO3", "EPA criteria table"},
           Printed{"alkalinity_nitrification", 45, "mg/L as CaCO3", "Biesterfeld et al. 2003, abstract"},
           Printed{"oxygen_warm", 5, "mg/L", "NMSU Circular 680"},
           Printed{"oxygen_cold", 6.5, "mg/L", "NMSU Circular 680"},
           Printed{"chlorine_acute", 0.019, "mg/L as Cl2", "EPA criteria table, 19 ug/L"},
           Printed{"chloramine_fish", 0.1, "mg/L as Cl2", "SA Water sheet"},
       }) {
    const Limit& limit = Handbook::built_in().limit(row.name);
    EXPECT_DOUBLE_EQ(limit.fact.value, row.value) << row.name << ": " << row.where;
    EXPECT_EQ(limit.fact.unit, row.unit) << row.name;
    EXPECT_EQ(limit.fact.confidence, Confidence::seen) << row.name;
  }
}

// Cold-water fish: the page keeps salmonid water below 0.021 for 95 % of the time; ours must not be laxer.
TEST(Limits, free_ammonia_for_cold_water_fish_is_not_laxer_than_the_page) {
  const double ours = Handbook::built_in().limit("free_ammonia_cold").fact.value;
  EXPECT_LE(ours, 0.021);
  EXPECT_GT(ours, 0.5 * 0.021);
}

// FAO TP 589 (table 7.1 and sections on stocking, second hand; 17 degC from its text), growers' rations, a farm's monthly rows.
TEST(Fish, are_those_printed) {
  const auto* tilapia = Handbook::built_in().fish("Nile tilapia (fingerlings)");
  ASSERT_NE(tilapia, nullptr);
  EXPECT_TRUE(tilapia->warm_water);
  EXPECT_EQ(tilapia->lives_low.value, 14);
  EXPECT_EQ(tilapia->lives_high.value, 36);
  EXPECT_EQ(tilapia->lives_low.confidence, Confidence::second_hand);
  EXPECT_EQ(tilapia->eats_from->value, 17);
  EXPECT_EQ(tilapia->ration_at(50)->low_percent, 3);
  EXPECT_EQ(tilapia->ration_at(50)->high_percent, 5);
  EXPECT_EQ(tilapia->ration_at(400)->high_percent, 2);  // FAO: grow-out 1 to 2 % a day
  const auto* trout = Handbook::built_in().fish("Trout");
  ASSERT_NE(trout, nullptr);
  EXPECT_FALSE(trout->warm_water);
  EXPECT_EQ(trout->thrives_low.value, 14);
  EXPECT_EQ(trout->ration_at(100)->confidence, Confidence::derived);
  EXPECT_EQ(Handbook::built_in().fish("unicorn"), nullptr);
  EXPECT_EQ(Handbook::built_in().limit("stocking_highest").fact.value, 20);
  EXPECT_EQ(Handbook::built_in().limit("stocking_highest_below_500_l").fact.value, 10);
}

// Common practice, no source: these must never look like a number from a text.
TEST(Limits, common_practice_is_marked_so) {
  for (const char* name : {"fish_ammonia_with_fish", "nitrate_sweet_low", "nitrate_sweet_high", "nitrate_workable_low",
                           "nitrate_workable_high"}) {
    const Limit& limit = Handbook::built_in().limit(name);
    EXPECT_EQ(limit.fact.source, "common_practice") << name;
    EXPECT_EQ(limit.fact.confidence, Confidence::memory) << name;
  }
}

TEST(Limits, each_is_a_sentence) {
  for (const Limit& limit : Handbook::built_in().limits()) {
    ASSERT_FALSE(limit.says.empty()) << limit.name;
    EXPECT_EQ(limit.says.back(), '.') << limit.name;
  }
}

TEST(Limits, a_missing_one_is_our_own_mistake_and_named) {
  EXPECT_THROW(Handbook::built_in().limit("nitrit_warm"), std::out_of_range);
}

}  // namespace
