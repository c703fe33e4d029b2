// SPDX-License-Identifier: Apache-2.0
// loop.toml: defaults, every key, and the words of each refusal.
#include "loop_text.hpp"

namespace helmwater::records {
namespace {

std::string refusal(const std::string& more) { return toml_refusal(kHead + more); }

TEST(LoopToml, defaults) {
  const Loop loop = loop_from();
  EXPECT_EQ(loop.name, "Test loop");
  EXPECT_EQ(loop.volume.value(), 100);
  EXPECT_DOUBLE_EQ(loop.volume_sd.value(), 10);  // 10 %
  EXPECT_EQ(loop.zone(), "UTC");
  EXPECT_FALSE(loop.time_zone);
  EXPECT_FALSE(loop.started);
  EXPECT_EQ(loop.start, Start::unseeded);
  EXPECT_EQ(loop.typical_temperature.value(), 22);
  EXPECT_EQ(loop.bed, Bed::media);
  EXPECT_EQ(loop.bed_area.value(), 0);
  EXPECT_EQ(loop.turnover_per_h, 1);
  EXPECT_EQ(loop.air, Air::gentle);
  EXPECT_FALSE(loop.plan);
}

TEST(LoopToml, every_key) {
  const auto loop = parse_loop_toml(R"(name = "All"
volume_l = { value = 500, sd = 25 }
time_zone = "Europe/Vienna"
started = 2026-03-01T08:00:00
start = "seeded media"
seed_area_m2 = 1.5
seed_note = "from the old bed"
typical_temperature_c = 24.5
bed = "raft"
bed_area_m2 = 3
turnover_per_h = 2
air = "strong"
[media]
volume_l = 60
specific_surface_m2_m3 = 300
[source_water]
ph = 7.8
alkalinity_mg_l_caco3 = 120
nitrate_mg_l = 10
disinfectant = "chloramine"
disinfectant_mg_l_cl2 = 1.2
[[kit]]
test = "ammonia"
basis = "ion"
steps = [0, 0.5, 1]
id = "k1"
lot = "L7"
from = 2026-03-01
until = 2026-04-01T12:00:00Z
[plan]
redose = "none"
redose_to_mg_l = 3
redose_below_mg_l = 0.5
redose_while_nitrite_below_mg_l = 4
buffer_below_mg_l_caco3 = 40
buffer_to_mg_l_caco3 = 80
feed_g_per_day = 12
protein_percent = 36
ready_load_mg_l = 1
)",
                                    "loop.toml");
  ASSERT_TRUE(loop) << loop.error().to_text();
  EXPECT_EQ(loop->volume_sd.value(), 25);
  EXPECT_EQ(to_utc_text(*loop->started), "2026-03-01T07:00:00Z");
  EXPECT_EQ(loop->start, Start::seeded_media);
  EXPECT_EQ(loop->seed_area->value(), 1.5);
  EXPECT_EQ(*loop->seed_note, "from the old bed");
  EXPECT_EQ(loop->typical_temperature.value(), 24.5);
  EXPECT_EQ(loop->bed, Bed::raft);
  EXPECT_EQ(loop->air, Air::strong);
  EXPECT_EQ(loop->media.volume->value(), 60);
  EXPECT_EQ(*loop->media.specific_surface_m2_m3, 300);
  EXPECT_EQ(*loop->source_water.ph, 7.8);
  EXPECT_EQ(loop->source_water.alkalinity->value(), 120);
  EXPECT_EQ(loop->source_water.nitrate->value(), 10);
  EXPECT_EQ(*loop->source_water.disinfectant, Disinfectant::chloramine);
  EXPECT_EQ(loop->source_water.disinfectant_dose->value(), 1.2);
  ASSERT_EQ(loop->kits.size(), 1U);
  EXPECT_EQ(loop->kits[0].basis, Basis::nh3);
  EXPECT_EQ(loop->kits[0].steps.size(), 3U);
  EXPECT_EQ(to_utc_text(*loop->kits[0].from), "2026-02-28T23:00:00Z");  // the day begins at midnight in Vienna
  EXPECT_EQ(to_utc_text(*loop->kits[0].until), "2026-04-01T12:00:00Z");
  ASSERT_TRUE(loop->plan);
  EXPECT_EQ(loop->plan->redose, Redose::none);
  EXPECT_EQ(loop->plan->redose_to.value(), 3);
  EXPECT_EQ(loop->plan->buffer_to->value(), 80);
  EXPECT_EQ(*loop->plan->feed_g_per_day, 12);
  EXPECT_EQ(loop->plan->ready_load.value(), 1);
}

TEST(LoopToml, started_in_every_spelling) {
  const auto started = [](const std::string& value) {
    const Loop loop = loop_from("time_zone = \"Europe/Vienna\"\nstarted = " + value + "\n");
    return to_utc_text(*loop.started) + (loop.started_is_date ? " date" : "");
  };
  EXPECT_EQ(started("2026-03-01"), "2026-03-01T11:00:00Z date");
  EXPECT_EQ(started("\"2026-03-01\""), "2026-03-01T11:00:00Z date");
  EXPECT_EQ(started("2026-03-01T08:00:00"), "2026-03-01T07:00:00Z");
  EXPECT_EQ(started("2026-03-01 08:00:00"), "2026-03-01T07:00:00Z");
  EXPECT_EQ(started("\"2026-03-01T08:00\""), "2026-03-01T07:00:00Z");
  EXPECT_EQ(started("2026-03-01T08:00:00Z"), "2026-03-01T08:00:00Z");
  EXPECT_EQ(started("2026-03-01T08:00:00+05:30"), "2026-03-01T02:30:00Z");
}

TEST(LoopToml, byte_order_mark_and_crlf) {
  const auto loop = parse_loop_toml("\xEF\xBB\xBFname = \"A\"\r\nvolume_l = 5\r\n\r\nair = \"none\"\r\n", "loop.toml");
  ASSERT_TRUE(loop) << loop.error().to_text();
  EXPECT_EQ(loop->air, Air::none);
}

TEST(LoopTomlRefusals, unknown_keys_name_the_nearest_and_the_allowed) {
  EXPECT_TRUE(says(refusal("volum_l = 3\n"), {"loop.toml:3:1", "\"volum_l\"", "did you mean \"volume_l\"", "typical_temperature_c"}));
  EXPECT_TRUE(says(refusal("[media]\nvolume_l = 3\nbed = \"raft\"\n"), {"loop.toml:5:1", "[media]", "above the first [section]"}));
  EXPECT_TRUE(says(refusal("[[kit]]\ntest = \"ph\"\nstep = [6, 7]\n"), {"loop.toml:5:1", "did you mean \"steps\""}));
  EXPECT_TRUE(says(refusal("[plan]\nredoze = \"none\"\n"), {"4:1", "did you mean \"redose\""}));
  EXPECT_TRUE(says(toml_refusal("name = \"a\"\nvolume_l = { value = 3, error = 1 }\n"), {"2:25", "error", "value, sd"}));
  EXPECT_TRUE(says(refusal("[source_water]\nkh = 4\n"), {"4:1", "alkalinity_mg_l_caco3"}));
}
TEST(LoopTomlRefusals, required_keys) {
  EXPECT_TRUE(says(toml_refusal("volume_l = 5\n"), {"loop.toml", "name is missing"}));
  EXPECT_TRUE(says(toml_refusal("name = \"a\"\n"), {"volume_l is missing", "litres"}));
  EXPECT_TRUE(says(toml_refusal("name = \"a\"\nvolume_l = { sd = 3 }\n"), {"no value"}));
  EXPECT_TRUE(says(toml_refusal(""), {"missing"}));
}
TEST(LoopTomlRefusals, numbers_out_of_range_or_in_quotes) {
  EXPECT_TRUE(says(toml_refusal("name = \"a\"\nvolume_l = 0\n"), {"loop.toml:2:12", "out of range", "above 0", "L"}));
  EXPECT_TRUE(says(toml_refusal("name = \"a\"\nvolume_l = -5\n"), {"2:12", "out of range"}));
  EXPECT_TRUE(says(toml_refusal("name = \"a\"\nvolume_l = nan\n"), {"2:12", "out of range"}));
  EXPECT_TRUE(says(toml_refusal("name = \"a\"\nvolume_l = inf\n"), {"2:12", "out of range"}));
  EXPECT_TRUE(says(toml_refusal("name = \"a\"\nvolume_l = \"500\"\n"), {"2:12", "without quotes"}));
  EXPECT_TRUE(says(toml_refusal("name = \"a\"\nvolume_l = 0,5\n"), {"loop.toml:2"}));
  EXPECT_TRUE(says(refusal("typical_temperature_c = 77\n"), {"3:25", "0 to 45 degC"}));
  EXPECT_TRUE(says(refusal("turnover_per_h = -1\n"), {"3:18", "out of range"}));
  EXPECT_TRUE(says(refusal("[source_water]\nph = 15\n"), {"4:6", "0 to 14"}));
}
TEST(LoopTomlRefusals, choices) {
  EXPECT_TRUE(says(refusal("start = \"seeded\"\n"), {"3:9", "unseeded, bottled culture, fish, seeded media"}));
  EXPECT_TRUE(says(refusal("air = \"gentel\"\n"), {"did you mean \"gentle\""}));
  EXPECT_TRUE(says(refusal("bed = 3\n"), {"must be text"}));
  EXPECT_TRUE(says(refusal("time_zone = \"Europe/Nowhere\"\n"), {"3:13", "IANA"}));
}
TEST(LoopTomlRefusals, dates) {
  EXPECT_TRUE(says(refusal("started = 2026-02-30\n"), {"loop.toml:3"}));
  EXPECT_TRUE(says(refusal("started = \"1 March\"\n"), {"3:11", "2026-03-01"}));
  EXPECT_TRUE(says(refusal("started = 5\n"), {"3:11", "date or time"}));
  EXPECT_TRUE(says(refusal("started = 1850-01-01\n"), {"3:11", "1900 to 2200"}));
}
TEST(LoopTomlRefusals, kits) {
  EXPECT_TRUE(says(refusal("[[kit]]\nbasis = \"N\"\n"), {"3:", "needs its test"}));
  EXPECT_TRUE(says(refusal("[[kit]]\ntest = \"nitrit\"\n"), {"4:8", "did you mean \"nitrite\""}));
  for (const char* test : {"ammonia", "nitrite", "nitrate", "alkalinity"})
    EXPECT_TRUE(says(refusal(std::string("[[kit]]\ntest = \"") + test + "\"\n"), {"does not say what it counts", "leaflet"})) << test;
  EXPECT_TRUE(says(refusal("[[kit]]\ntest = \"nitrite\"\nbasis = \"NO3\"\n"), {"5:9", "allowed: N, NO2, ion"}));
  EXPECT_TRUE(says(refusal("[[kit]]\ntest = \"ph\"\nbasis = \"N\"\n"), {"no basis"}));
  EXPECT_TRUE(says(refusal("[[kit]]\ntest = \"ph\"\nsteps = [6, 6.6, 6.4]\n"), {"5:18", "do not rise"}));
  EXPECT_TRUE(says(refusal("[[kit]]\ntest = \"ph\"\nsteps = [6, 6]\n"), {"do not rise"}));
  EXPECT_TRUE(says(refusal("[[kit]]\ntest = \"ph\"\nsteps = []\n"), {"rising"}));
  EXPECT_TRUE(says(refusal("[[kit]]\ntest = \"ph\"\nsteps = [6, 20]\n"), {"from 0 to 14"}));
  EXPECT_TRUE(says(refusal("[[kit]]\ntest = \"ph\"\nsteps = [6, \"7\"]\n"), {"must be a number"}));
  EXPECT_TRUE(says(refusal("[[kit]]\ntest = \"nitrate\"\nbasis = \"N\"\nsteps = [-1, 2]\n"), {"out of range"}));
  EXPECT_TRUE(says(refusal("[[kit]]\ntest = \"ph\"\nid = \"meter\"\n"), {"cannot name a kit"}));
  EXPECT_TRUE(says(refusal("[[kit]]\ntest = \"ph\"\nfrom = 2026-04-01\nuntil = 2026-03-01\n"), {"until is not after from"}));
  EXPECT_TRUE(says(refusal("[kit]\ntest = \"ph\"\n"), {"[[kit]]"}));
}
TEST(LoopTomlRefusals, plans) {
  EXPECT_TRUE(says(refusal("[plan]\nredose = \"yes\"\n"), {"4:10", "none, to_target"}));
  EXPECT_TRUE(says(refusal("[plan]\nbuffer_below_mg_l_caco3 = 40\n"), {"needs buffer_to_mg_l_caco3"}));
  EXPECT_TRUE(says(refusal("[plan]\nbuffer_below_mg_l_caco3 = 40\nbuffer_to_mg_l_caco3 = 30\n"), {"must be above"}));
  EXPECT_TRUE(says(refusal("[plan]\nredose_to_mg_l = 1\nredose_below_mg_l = 2\n"), {"must be above"}));
  EXPECT_TRUE(says(refusal("[plan]\nprotein_percent = 120\n"), {"0 to 100"}));
}
TEST(LoopTomlRefusals, broken_text) {
  EXPECT_TRUE(says(toml_refusal("name = \n"), {"loop.toml:1", "not valid TOML"}));
  EXPECT_TRUE(says(toml_refusal("name = \"a\"\nname = \"b\"\n"), {"loop.toml:2"}));
  EXPECT_TRUE(says(toml_refusal(std::string("name = \"a\"\nvol\0ume_l = 3", 23)), {"loop.toml:2:4", "NUL"}));
  EXPECT_TRUE(says(toml_refusal("name = \"\xFF\"\n"), {"loop.toml:1"}));
}

}  // namespace
}  // namespace helmwater::records
