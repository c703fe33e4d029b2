// SPDX-License-Identifier: Apache-2.0
// Every word of a log that is not a reading.
#include "loop_text.hpp"

namespace helmwater::records {
namespace {

LoopLog one(const std::string& row, const std::string& toml = "") { return log_from(loop_from(toml), "2026-03-01," + row + "\n"); }
template <class Body>
Body body(const std::string& row, const std::string& toml = "") {
  return std::get<Body>(one(row, toml).entries.at(0).body);
}
std::string refused(const std::string& row, const std::string& toml = "") { return row_refusal("2026-03-01," + row, loop_from(toml)); }

TEST(Dose, weighed_and_measured) {
  const Dose salt = body<Dose>("dose,12.5,g,Ammonium Chloride");
  EXPECT_EQ(salt.how, Dose::Amount::grams);
  EXPECT_EQ(salt.amount, 12.5);
  EXPECT_EQ(salt.substance, "ammonium chloride");
  EXPECT_FALSE(salt.percent);
  EXPECT_EQ(body<Dose>("dose,0.2,kg,sodium bicarbonate").amount, 200);
  const Dose acid = body<Dose>("dose,51.2,mL,hydrochloric acid 31.45 %");
  EXPECT_EQ(acid.how, Dose::Amount::millilitres);
  EXPECT_EQ(*acid.percent, 31.45);
  EXPECT_EQ(body<Dose>("dose,1,L,hydrochloric acid 31.45%").amount, 1000);
  EXPECT_EQ(*body<Dose>("dose,5,g,potassium hydroxide 90 %").percent, 90);  // purity of a solid
  EXPECT_EQ(*body<Dose>("dose,5,mL,ammonia solution 10%").percent, 10);
  EXPECT_EQ(*body<Dose>("dose,5,mL,ammonia solution 10 % (w/w)").percent, 10);
  EXPECT_EQ(body<Dose>("dose,5,g,calcium hydroxide").substance, body<Dose>("dose,5,g,calcium hydroxide (hydrated lime)").substance);
}
TEST(Dose, by_its_effect) {
  const char* kit = "[[kit]]\ntest = \"ammonia\"\nbasis = \"NH4\"\n";
  const Dose to = body<Dose>("dose,to 4,mg/L,ammonium chloride", kit);
  EXPECT_EQ(to.how, Dose::Amount::raise_to);
  EXPECT_EQ(to.amount, 4);
  EXPECT_EQ(to.basis, Basis::nh4);
  const Dose by = body<Dose>("dose,+2,mg/L as N,ammonia solution 10 %");
  EXPECT_EQ(by.how, Dose::Amount::raise_by);
  EXPECT_EQ(by.amount, 2);
  EXPECT_EQ(by.basis, Basis::n);
  // Alkalinity: 1 meq/L = 50.04 mg/L CaCO3.
  const Dose buffer = body<Dose>("dose,+1,meq/L,sodium bicarbonate");
  EXPECT_EQ(buffer.how, Dose::Amount::raise_by);
  EXPECT_NEAR(buffer.amount, 50.04, 0.01);
  EXPECT_EQ(codes(one("dose,+40,mg/L,sodium bicarbonate")), "effect_as_caco3");
  // 5 mg/L of the substance in 100 L are 0.5 g.
  EXPECT_NEAR(body<Dose>("dose,+5,mg/L,potassium sulfate").amount, 0.5, 1e-12);
  EXPECT_EQ(codes(one("dose,+5,mg/L,potassium sulfate")), "effect_as_weight");
}
TEST(Dose, refusals) {
  EXPECT_TRUE(says(refused("dose,5,g,ammonium cloride"), {"log.csv:2:21", "did you mean \"ammonium chloride\"", "sodium bicarbonate"}));
  EXPECT_TRUE(says(refused("dose,5,g,"), {"2:21", "needs its substance"}));
  EXPECT_TRUE(says(refused("dose,to 4,mg/L as N,"), {"2:32", "needs its substance"}));
  EXPECT_TRUE(says(refused("dose,5,mL,hydrochloric acid"), {"2:22", "strength", "10 %"}));
  EXPECT_TRUE(says(refused("dose,5,g,hydrochloric acid"), {"strength"}));
  EXPECT_TRUE(says(refused("dose,5,mL,ammonium chloride"), {"2:22", "solid", "weigh"}));
  EXPECT_TRUE(says(refused("dose,5,,ammonium chloride"), {"2:19", "needs a unit", "g, kg, mL, L"}));
  EXPECT_TRUE(says(refused("dose,5,spoons,ammonium chloride"), {"2:19", "spoons"}));
  EXPECT_TRUE(says(refused("dose,5,mg/L as N,ammonium chloride"), {"2:17", "to 5", "+5"}));
  EXPECT_TRUE(says(refused("dose,+2,g,ammonium chloride"), {"2:20", "effect"}));
  EXPECT_TRUE(says(refused("dose,+2,mg/L,ammonium chloride"), {"2:20", "counted as"}));
  EXPECT_TRUE(says(refused("dose,-5,g,ammonium chloride"), {"2:17", "negative"}));
  EXPECT_TRUE(says(refused("dose,NaN,g,ammonium chloride"), {"2:17"}));
  EXPECT_TRUE(says(refused("dose,,g,ammonium chloride"), {"2:17", "needs an amount"}));
  EXPECT_TRUE(says(refused("dose,\"1,5\",g,ammonium chloride"), {"2:17", "decimal point"}));
  EXPECT_TRUE(says(refused("dose,5,mL,hydrochloric acid 131 %"), {"2:22", "at most 100"}));
  EXPECT_TRUE(says(refused("dose,5,mL,hydrochloric acid 0 %"), {"above 0"}));
}

TEST(Water, shares_and_volumes) {
  EXPECT_EQ(*body<WaterChange>("water change,25,%,tap").share, 0.25);
  EXPECT_EQ(body<WaterChange>("water change,25,%,tap").source, "tap");
  EXPECT_EQ(body<WaterChange>("Water  Change,40,L,").litres->value(), 40);
  EXPECT_NEAR(body<TopUp>("top-up,2,gal(US),").litres->value(), 2 * 3.785411784, 1e-9);  // the US gallon is 231 cubic inches
  EXPECT_EQ(body<VolumeChange>("volume,480,L,tracer").litres.value(), 480);
}
TEST(Water, doubts_and_refusals) {
  EXPECT_EQ(codes(one("water change,,,tap")), "water_change_without_volume");
  EXPECT_FALSE(body<WaterChange>("water change,,,tap").share);
  EXPECT_EQ(codes(one("water change,400,L,")), "more_than_the_loop");
  EXPECT_TRUE(says(refused("water change,125,%,"), {"2:25", "0 to 100 %"}));
  EXPECT_TRUE(says(refused("water change,25,,"), {"2:28", "needs a unit", "%, L, gal(US)"}));
  EXPECT_TRUE(says(refused("water change,5,gal,"), {"2:27", "gal(US)"}));
  EXPECT_TRUE(says(refused("volume,0,L,"), {"2:19", "above 0"}));
  EXPECT_TRUE(says(refused("volume,-1,L,"), {"negative"}));
}

TEST(Feed, protein_is_32_unless_said) {
  EXPECT_EQ(body<Feed>("feed,20,g,").protein_percent, 32);
  EXPECT_EQ(body<Feed>("feed,20,g,40 % protein").protein_percent, 40);
  EXPECT_EQ(body<Feed>("feed,20,g,pellets 36.5% protein").protein_percent, 36.5);
  EXPECT_EQ(body<Feed>("feed,20,g,pellets").amount.value(), 20);
  EXPECT_TRUE(says(refused("feed,20,,"), {"2:20", "allowed: g"}));
  EXPECT_TRUE(says(refused("feed,20,g,140 % protein"), {"2:22", "0 to 100"}));
}

TEST(Fish, species_weight_and_why) {
  const FishMove in = body<FishMove>("fish in,20,,\"Nile tilapia, 12 g, stocked\"");
  EXPECT_TRUE(in.in);
  EXPECT_EQ(in.count, 20);
  EXPECT_EQ(in.species, "Nile tilapia");
  EXPECT_EQ(in.mean_weight->value(), 12);
  EXPECT_EQ(in.why, "stocked");
  const FishMove out = body<FishMove>("fish out,3,,\"tilapia, mean weight 0.4 kg, harvested\"");
  EXPECT_FALSE(out.in);
  EXPECT_EQ(out.mean_weight->value(), 400);
  EXPECT_EQ(codes(one("fish in,20,,goldfish")), "");
  EXPECT_EQ(codes(one("fish in,20,,unicorn")), "unknown_species");
  EXPECT_TRUE(says(refused("fish in,2.5,,"), {"2:20", "whole number"}));
  EXPECT_TRUE(says(refused("fish in,,,"), {"needs an amount"}));
}

TEST(Plants, counts_areas_and_yield) {
  EXPECT_EQ(*body<PlantMove>("plants in,24,,lettuce").count, 24);
  EXPECT_EQ(body<PlantMove>("plants in,2,m2,Basil").area->value(), 2);
  const PlantMove out = body<PlantMove>("plants out,4,,\"lettuce, head, yield 350 g\"");
  EXPECT_EQ(out.yield->value(), 350);
  EXPECT_EQ(out.stage, "head");
  EXPECT_EQ(codes(one("plants in,4,,moss")), "unknown_crop");
  EXPECT_EQ(codes(one("plants in,4,,\"lettuce, seedling\"")), "unknown_stage");
  EXPECT_TRUE(says(refused("plants in,4,kg,lettuce"), {"2:24", "m2"}));
}

TEST(Others, seed_switches_medication_notes) {
  EXPECT_EQ(body<Seed>("seed,50,mL,bottled culture").kind, Seed::Kind::bottled_culture);
  EXPECT_EQ(body<Seed>("seed,5,L,Mature Media").kind, Seed::Kind::mature_media);
  EXPECT_EQ(body<Seed>("seed,20,L,water from an established loop").kind, Seed::Kind::established_water);
  EXPECT_EQ(body<Seed>("seed,1,m2,mature media").unit, "m2");
  EXPECT_EQ(codes(one("seed,1,m2,magic")), "unknown_seed");
  EXPECT_TRUE(says(refused("seed,1,g,mature media"), {"2:19", "mL, L, m2"}));
  EXPECT_FALSE(body<Switch>("pump,off,,").on);
  EXPECT_EQ(body<Switch>("Heater,ON,,").device, Switch::Device::heater);
  EXPECT_TRUE(says(refused("pump,of,,"), {"2:17", "on, off"}));
  EXPECT_TRUE(std::holds_alternative<Medication>(one("medication,5,drops,salt bath").entries[0].body));
  EXPECT_TRUE(says(refused("medication,-5,mL,x"), {"negative"}));
  EXPECT_TRUE(std::holds_alternative<Note>(one("note,hello,,").entries[0].body));
}

// ---- the plan ----

TEST(Plan, of_a_loop_without_fish_redoses) {
  const Plan plan = effective_plan(one("ph,7,,"));
  EXPECT_EQ(plan.redose, Redose::to_target);
  EXPECT_EQ(plan.redose_to.value(), 2.0);
  EXPECT_EQ(plan.redose_below.value(), 0.25);
  EXPECT_EQ(plan.redose_while_nitrite_below.value(), 5.0);
  EXPECT_FALSE(plan.buffer_below);
  EXPECT_FALSE(plan.feed_g_per_day);
  EXPECT_EQ(plan.ready_load.value(), 2.0);
}
TEST(Plan, with_fish_in_goes_on_feeding_as_in_the_last_seven_days) {
  std::string rows = "2026-03-01,fish in,10,,goldfish\n";
  for (int day = 1; day <= 9; ++day) rows += "2026-03-0" + std::to_string(day) + (day < 3 ? ",feed,100,g,\n" : ",feed,14,g,40 % protein\n");
  const Plan plan = effective_plan(log_from(loop_from(), rows));
  EXPECT_EQ(plan.redose, Redose::none);
  EXPECT_NEAR(*plan.feed_g_per_day, 14, 1e-9);  // the two days of 100 g are more than seven days back
  EXPECT_NEAR(plan.protein_percent, 40, 1e-9);
  // A log of three days: three meals, three days.
  const Plan young = effective_plan(log_from(loop_from(), "2026-03-01,fish in,10,,goldfish\n2026-03-01,feed,9,g,\n2026-03-03,feed,9,g,\n"));
  EXPECT_NEAR(*young.feed_g_per_day, 6, 1e-9);
  EXPECT_FALSE(effective_plan(log_from(loop_from(), "2026-03-01,fish in,10,,goldfish\n")).feed_g_per_day);
}
TEST(Plan, written_keys_stand_and_the_others_keep_the_default) {
  const Plan plan = effective_plan(one("ph,7,,", "[plan]\nredose_to_mg_l = 3\n"));
  EXPECT_EQ(plan.redose, Redose::to_target);
  EXPECT_EQ(plan.redose_to.value(), 3);
  EXPECT_EQ(plan.redose_below.value(), 0.25);
  EXPECT_EQ(effective_plan(one("ph,7,,", "[plan]\nredose = \"none\"\n")).redose, Redose::none);
}
TEST(Fish, are_in_by_start_or_by_count) {
  const LoopLog log = log_from(loop_from(), "2026-03-01T08:00,fish in,2,,goldfish\n2026-03-05T08:00,fish out,2,,\"goldfish, died\"\n");
  const auto at = [](const char* text) { return parse_instant(text, "UTC")->when; };
  EXPECT_FALSE(has_fish(log, at("2026-03-01T07:59")));
  EXPECT_TRUE(has_fish(log, at("2026-03-01T08:00")));
  EXPECT_FALSE(has_fish(log, at("2026-03-05T08:00")));
  EXPECT_TRUE(has_fish(log_from(loop_from("start = \"fish\"\n"), ""), at("2026-03-01")));
}

}  // namespace
}  // namespace helmwater::records
