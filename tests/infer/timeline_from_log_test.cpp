// SPDX-License-Identifier: Apache-2.0
// A log as the model's clock: doses against worked examples, the rest against hand calculation.
#include "infer/timeline_from_log.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "infer/plantings_from_log.hpp"
#include "log_text.hpp"
#include "loop/grid.hpp"
#include "loop/simulate.hpp"
#include "loop/deeds.hpp"
#include "loop/feed_load.hpp"

namespace helmwater::infer {
namespace {

using tests::clock_of;
using tests::log_from;

constexpr double kExact = 0.005;  // the worked examples are asserted to half a percent

loop::State<double> dosed(const std::string& amount_and_unit, const std::string& substance, double litres) {
  const loop::Timeline t =
      clock_of(log_from("2026-03-02T08:00,dose," + amount_and_unit + "," + substance + ",\n", "", litres));
  EXPECT_EQ(t.events.size(), 1u);
  EXPECT_NEAR(t.events.at(0).day, 1, 1e-9);
  return std::get<loop::DoseEvent>(t.events.at(0).what).change;
}

// Worked examples by stoichiometry with IUPAC 2021 masses, and for ammonia water the density of Cooley's
// table (0.960 at 10.119 %); worked outside this program.
TEST(timeline, weighed_and_measured_doses_meet_the_worked_examples) {
  const auto chloride = dosed("7.637,g", "ammonium chloride", 1000);
  EXPECT_NEAR(chloride.tan, 2.00, 2.00 * kExact);
  EXPECT_EQ(chloride.alk, 0);

  const auto solution = dosed("18.77,mL", "ammonia solution 10.119 %", 500);
  EXPECT_NEAR(solution.tan, 3.00, 3.00 * kExact);
  EXPECT_NEAR(solution.alk, 0.2142, 0.2142 * kExact);

  const auto sulfate = dosed("5.660,g", "ammonium sulfate", 300);
  EXPECT_NEAR(sulfate.tan, 4.00, 4.00 * kExact);

  const auto bicarbonate = dosed("71.41,g", "potassium bicarbonate", 1000);
  EXPECT_NEAR(bicarbonate.alk, 0.71332, 0.71332 * kExact);  // 2 dKH
  EXPECT_NEAR(bicarbonate.dic, 0.71332, 0.71332 * kExact);
  EXPECT_EQ(bicarbonate.tan, 0);

  const auto acid = dosed("51.2,mL", "hydrochloric acid 31.45 %", 1000);
  EXPECT_NEAR(acid.alk, -0.5124, 0.5124 * kExact);

  const auto lye = dosed("6.912,g", "potassium hydroxide 90 %", 1000);
  EXPECT_NEAR(lye.alk, 0.1109, 0.1109 * kExact);

  const auto phosphoric = dosed("24.40,mL", "phosphoric acid 85 %", 1000);
  EXPECT_NEAR(phosphoric.p, 11.05, 11.05 * kExact);
  EXPECT_NEAR(phosphoric.alk, -0.3567, 0.3567 * kExact);
}

// Urea is neutral until it is split: all its nitrogen waits, and its alkalinity comes with the hydrolysis.
TEST(timeline, urea_changes_nothing_but_urea_at_once) {
  const auto urea = dosed("4.288,g", "urea", 1000);
  EXPECT_NEAR(urea.urea_n, 2.00, 2.00 * kExact);
  EXPECT_EQ(urea.tan, 0);
  EXPECT_NEAR(urea.alk, 0, 1e-12);
  EXPECT_NEAR(urea.dic, 0, 1e-12);
}

TEST(timeline, a_kilogram_is_a_thousand_grams_and_a_litre_a_thousand_millilitres) {
  EXPECT_NEAR(dosed("0.1,kg", "sodium bicarbonate", 1000).alk, dosed("100,g", "sodium bicarbonate", 1000).alk,
              1e-12);
  EXPECT_NEAR(dosed("0.1,L", "ammonia solution 10 %", 1000).tan,
              dosed("100,mL", "ammonia solution 10 %", 1000).tan, 1e-12);
}

// 1 mg/L as NH3 is 14.007/17.031 mg N/L.
constexpr double kNitrogenInNh3 = 14.007 / 17.031;
const char* const kAmmoniaKit = "[[kit]]\ntest = \"ammonia\"\nbasis = \"NH3\"\n";

TEST(timeline, a_dose_logged_by_its_effect_acts_on_the_water_as_it_is) {
  loop::Parameters<double> q{};
  q.effect_factor = 1;
  q.volume_factor = 1;
  loop::State<double> water{};
  water.tan = 1;
  const auto apply = [&](const std::string& value, const std::string& substance) {
    const loop::Timeline t =
        clock_of(log_from("2026-03-02T08:00,dose," + value + ",mg/L," + substance + ",\n", kAmmoniaKit));
    return loop::apply_event(q, t.events.at(0), water);
  };
  EXPECT_NEAR(apply("to 4", "ammonium chloride").tan, 4 * kNitrogenInNh3, 1e-5);
  EXPECT_NEAR(apply("+2", "ammonium chloride").tan, 1 + 2 * kNitrogenInNh3, 1e-5);
  EXPECT_EQ(apply("to 0.5", "ammonium chloride").tan, 1);  // nothing is taken out
  // Ammonia as such brings one equivalent per mole of nitrogen.
  EXPECT_NEAR(apply("+2", "ammonia solution 10 %").alk, 2 * kNitrogenInNh3 / 14.007, 1e-5);
  EXPECT_EQ(apply("+2", "ammonium chloride").alk, 0);
}

TEST(timeline, a_water_change_dilutes_by_its_share_or_its_litres) {
  loop::Parameters<double> q{};
  q.volume_factor = 1;
  q.source_alk = 3;
  loop::State<double> water{};
  water.tan = 4, water.no3 = 20, water.alk = 1;
  const auto after = [&](const std::string& what, const std::string& value, double volume_factor) {
    q.volume_factor = volume_factor;
    const loop::Timeline t = clock_of(log_from("2026-03-02T08:00," + what + "," + value + ",tap,\n",
                                               "[source_water]\ndisinfectant = \"none\"\n", 400));
    return loop::apply_event(q, t.events.at(0), water);
  };
  // 4 -> 1 mg/L by one change of three quarters (mass balance).
  EXPECT_NEAR(after("water change", "75,%", 1).tan, 1, 1e-12);
  EXPECT_NEAR(after("water change", "300,L", 1).tan, 1, 1e-12);
  EXPECT_NEAR(after("water change", "75,%", 1.2).tan, 1, 1e-12);  // a share is a share
  EXPECT_NEAR(after("water change", "300,L", 1.2).tan, 4 - 4 * 0.625,
              1e-12);  // litres of more water are less
  EXPECT_NEAR(after("water change", "50,%", 1).alk, 2, 1e-12);
  // What evaporated before left its solutes behind in nine tenths; topping up dilutes them again and brings what it holds.
  EXPECT_NEAR(after("top-up", "40,L", 1).tan, 3.6, 1e-12);
  EXPECT_NEAR(after("top-up", "40,L", 1.2).no3, 18, 1e-12);
  EXPECT_NEAR(after("top-up", "40,L", 1).alk, 0.9 + 0.3, 1e-12);
}

loop::WaterEvent change_with(const std::string& rows, const std::string& source) {
  for (const loop::Event& e : clock_of(log_from(rows, "[source_water]\n" + source)).events) {
    if (const auto* water = std::get_if<loop::WaterEvent>(&e.what)) return *water;
  }
  throw std::runtime_error("no water event");
}

// 2.100 g of sodium thiosulfate pentahydrate take 1.5 mg/L of chlorine out of 200 L (seven grams per gram;
// worked example). A fifth of the water with 1 mg/L is a full hit (estimate, docs/model/deeds.md).
TEST(timeline, thiosulfate_answers_for_chlorine) {
  const std::string chlorine = "disinfectant = \"chlorine\"\ndisinfectant_mg_l_cl2 = 1.5\n";
  const std::string change = "2026-03-02T08:00,water change,200,L,tap,\n";
  const auto with = [&](const std::string& grams, const std::string& at) {
    return change_with(
        "2026-03-02T" + at + ",dose," + grams + ",g,sodium thiosulfate pentahydrate,\n" + change, chlorine);
  };
  EXPECT_EQ(change_with(change, chlorine).kill_strength, 1);
  EXPECT_NEAR(with("2.100", "07:50").kill_strength, 0, 0.005);
  EXPECT_NEAR(with("1.050", "07:50").kill_strength, 0.5 * 1.5, 0.005);
  EXPECT_EQ(with("5", "07:50").kill_strength, 0);
  EXPECT_EQ(with("5", "08:30").kill_strength, 0);  // just afterwards still helps
  EXPECT_EQ(with("5", "12:00").kill_strength, 1);  // hours later it does not
  EXPECT_EQ(change_with(change, "disinfectant = \"none\"\n").kill_strength, 0);
}

// Of 2.5 mg/L of chloramine (as Cl2) 0.4939 mg/L of nitrogen stay as ammonia (worked example).
TEST(timeline, chloramine_brings_its_ammonia) {
  EXPECT_NEAR(change_with("2026-03-02T08:00,water change,50,%,tap,\n",
                          "disinfectant = \"chloramine\"\ndisinfectant_mg_l_cl2 = 2.5\n")
                  .source_tan,
              0.4939, 0.0005);
  EXPECT_EQ(
      change_with("2026-03-02T08:00,water change,50,%,tap,\n", "disinfectant = \"chlorine\"\n").source_tan,
      0);
}

TEST(timeline, temperature_is_linear_between_readings_and_typical_before_and_a_week_after) {
  const loop::Timeline t =
      clock_of(log_from("2026-03-03T08:00,temperature,18,degC,,\n2026-03-07T08:00,temperature,26,degC,,\n",
                        "typical_temperature_c = 21\n"));
  const auto at = [&](double day) { return t.environment(day).temperature_c; };
  EXPECT_NEAR(at(0), 21, 1e-9);
  EXPECT_NEAR(at(1.99), 21, 1e-9);
  EXPECT_NEAR(at(2), 18, 1e-9);
  EXPECT_NEAR(at(4), 22, 1e-9);
  EXPECT_NEAR(at(6), 26, 1e-9);
  EXPECT_NEAR(at(12.99), 26, 1e-9);
  EXPECT_NEAR(at(13.01), 21, 1e-9);
}

TEST(timeline, readings_after_the_moment_are_not_used_but_deeds_are) {
  const records::LoopLog log = log_from(
      "2026-03-03T08:00,temperature,18,degC,,\n2026-03-07T08:00,temperature,26,degC,,\n"
      "2026-03-09T08:00,dose,5,g,ammonium chloride,\n");
  const records::Instant start = tests::start_instant(log);
  const loop::Timeline early = timeline_from_log(log, start, records::plus_days(start, 3), 20, false);
  EXPECT_NEAR(early.environment(6).temperature_c, 18, 1e-9);
  EXPECT_EQ(early.events.size(), 1u);
}

// Oxygen is worked out, never held, whatever was read; saturation from Benson & Krause 1984.
TEST(timeline, oxygen_follows_from_the_water) {
  const loop::Timeline t = clock_of(log_from("2026-03-04T08:00,oxygen,3,mg/L,,\n", "typical_temperature_c = 25\n"));
  EXPECT_LT(t.environment(3).oxygen_held_mg_l, 0);
  EXPECT_NEAR(t.environment(3).oxygen_saturation_mg_l, 8.263, 0.005);
}

// A tenth of the volume every ten days: before the first top-up the water shrinks from full to 0.9, evenly in ten days, and
// so on; afterwards topped up as it goes, at about the same 1 % a day (a week at the usual 1.5 % counts in: (0.3 + 0.105) in
// 37 days). Doses into less water count for more (arithmetic).
TEST(timeline, what_was_topped_up_had_evaporated_before) {
  const loop::Timeline t = clock_of(
      log_from("2026-03-11T08:00,top-up,10,%,tap,\n2026-03-16T08:00,dose,7.637,g,ammonium chloride,\n"
               "2026-03-21T08:00,top-up,100,L,tap,\n2026-03-31T08:00,top-up,10,%,tap,\n"),
      60);
  for (double day : {0.5, 9.9, 10.1, 29.0}) {
    EXPECT_NEAR(t.loads_at(day).evaporation_per_d, -std::log(0.9) / 10, 1e-12) << day;
    EXPECT_EQ(t.loads_at(day).top_up_per_d, 0) << day;
  }
  EXPECT_EQ(t.loads_at(31).evaporation_per_d, 0);
  EXPECT_NEAR(t.loads_at(31).top_up_per_d, (0.3 + 7 * 0.015) / 37, 1e-12);
  for (const loop::Event& e : t.events) {
    if (const auto* dose = std::get_if<loop::DoseEvent>(&e.what)) {
      EXPECT_NEAR(dose->change.tan, 2 / std::sqrt(0.9), 2 * kExact);
    }
  }
  // Through the model: empty source water, nothing living, what is in the water stays in all.
  loop::Parameters<double> q{};
  q.volume_factor = q.r_max = q.k_a = q.k_n = q.k_p = q.k_oa = q.k_on = q.k_alk = 1;
  q.ki_a_fa = q.ki_a_fna = q.ki_n_fa = q.ki_n_fna = 1;
  loop::State<double> y{};
  y.no3 = 20, y.alk = y.dic = 2, y.o2 = 8;
  struct Last {
    loop::State<double> y{};
    void observe(int, const loop::State<double>& s, double) { y = s; }
    void series(int, const loop::State<double>&, double) {}
    void step(double, const loop::State<double>&, double, const loop::State<double>&) {}
  };
  const auto nitrate_at = [&](double day) {
    Last last;
    loop::simulate(t, loop::make_grid(t, {day}, {}, day), q, y, -19.0, last);
    return last.y.no3;
  };
  EXPECT_NEAR(nitrate_at(10), 20 / 0.9, 1e-4);
  EXPECT_NEAR(nitrate_at(10.01), 20, 1e-2);
  EXPECT_NEAR(nitrate_at(59), 20, 1e-4);
}

TEST(timeline, without_a_logged_top_up_the_usual_evaporation_is_refilled_as_it_goes) {
  const loop::Timeline t = clock_of(log_from("2026-03-11T08:00,note,,,hello,\n"));
  for (double day : {0.0, 5.0, 300.0}) {
    EXPECT_NEAR(t.loads_at(day).top_up_per_d, 0.015, 1e-12);
    EXPECT_EQ(t.loads_at(day).evaporation_per_d, 0);
  }
}

// A top-up later than the question is a deed, not a clue to how much evaporated before the question.
TEST(timeline, a_later_top_up_changes_nothing_before) {
  const std::string early = "2026-03-11T08:00,top-up,5,%,tap,\n";
  const records::LoopLog with = log_from(early + "2026-03-25T08:00,top-up,30,%,tap,\n"), without = log_from(early);
  const records::Instant start = tests::start_instant(with), as_of = records::plus_days(start, 15);
  const loop::Timeline a = timeline_from_log(with, start, as_of, 40, false),
                       b = timeline_from_log(without, start, as_of, 40, false);
  for (double day = 0.05; day < 15; day += 0.1) {
    EXPECT_EQ(a.loads_at(day).evaporation_per_d, b.loads_at(day).evaporation_per_d) << day;
    EXPECT_EQ(a.loads_at(day).top_up_per_d, b.loads_at(day).top_up_per_d) << day;
  }
  EXPECT_NEAR(a.loads_at(20).evaporation_per_d, -std::log(0.7) / 9, 1e-12);
}

TEST(timeline, a_top_up_on_the_first_day_replaces_some_water) {
  const loop::Timeline t = clock_of(log_from("2026-03-01T08:00,top-up,10,%,tap,\n"));
  EXPECT_FALSE(std::get<loop::WaterEvent>(t.events.at(0).what).top_up);
  EXPECT_EQ(t.loads_at(0.1).evaporation_per_d, 0);
}

TEST(timeline, devices_that_are_off_act_until_they_are_on_again) {
  const loop::Timeline t = clock_of(
      log_from("2026-03-03T08:00,air,off,,,\n2026-03-04T08:00,pump,off,,,\n2026-03-05T08:00,air,on,,,\n"
               "2026-03-06T08:00,heater,off,,,\n"));
  EXPECT_EQ(t.loads_at(1).transfer, 1);
  EXPECT_NEAR(t.loads_at(2.5).transfer, 0.1, 1e-12);
  EXPECT_EQ(t.loads_at(2.5).media, 1);
  EXPECT_NEAR(t.loads_at(3.5).transfer, 0.03, 1e-12);
  EXPECT_NEAR(t.loads_at(3.5).media, 0.1, 1e-12);
  EXPECT_NEAR(t.loads_at(4.5).transfer, 0.3, 1e-12);
  EXPECT_NEAR(t.loads_at(300).media, 0.1, 1e-12);
  EXPECT_NEAR(t.environment(10).temperature_c, 22, 1e-9);  // a heater switched off says nothing of how cold it gets
}

// 40 heads at 20 to the square metre are 2 m2; fruiting crops take twice as much (0.5 against 0.25 g N/m2/d).
TEST(timeline, crops_stand_until_they_are_taken_out) {
  const std::string warm = "typical_temperature_c = 22\n";
  const auto area = [&](const std::string& rows, double day) { return 1000 * clock_of(log_from(rows, warm)).planted_at(day); };
  const std::string lettuce = "2026-03-02T08:00,plants in,40,,\"lettuce, mature\",\n";
  EXPECT_NEAR(area(lettuce, 0.9), 0, 1e-12);
  EXPECT_NEAR(area(lettuce, 5), 2, 1e-9);
  EXPECT_NEAR(area(lettuce + "2026-03-04T08:00,plants out,10,,lettuce,\n", 5), 1.5, 1e-9);
  EXPECT_NEAR(area(lettuce + "2026-03-04T08:00,plants out,100,,lettuce,\n", 5), 0, 1e-9);
  EXPECT_NEAR(area("2026-03-02T08:00,plants in,2,m2,lettuce,\n", 15), 2 * 0.55, 1e-9);
  EXPECT_NEAR(area("2026-03-02T08:00,plants in,2,m2,lettuce,\n", 60), 2, 1e-9);
  const std::string tomato = "2026-03-02T08:00,plants in,2,m2,\"Cherry tomato, mature\",\n";
  EXPECT_NEAR(area(tomato, 5), 2 * 2 * (22.0 - 10) / (25 - 10), 1e-9);
  EXPECT_NEAR(area(lettuce + tomato + "2026-03-04T08:00,plants out,2,m2,lettuce,\n", 5), area(tomato, 5), 1e-9);
  EXPECT_NEAR(area(lettuce + "2026-03-04T08:00,light,off,,,\n2026-03-06T08:00,light,on,,,\n", 4), 0, 1e-12);
  EXPECT_NEAR(area(lettuce + "2026-03-04T08:00,light,off,,,\n2026-03-06T08:00,light,on,,,\n", 6), 2, 1e-9);
}

TEST(timeline, fruiting_crops_are_known_by_their_names) {
  for (const char* fruiting : {"tomato", "Tomatoes", "sweet pepper", "chilli", "cucumber", "strawberries", "okra", "peas", "green beans"})
    EXPECT_TRUE(is_fruiting_crop(fruiting)) << fruiting;
  for (const char* leafy : {"lettuce", "basil", "peppermint", "pak choi", "bean sprouts", "peace lily", "", "mint"})
    EXPECT_FALSE(is_fruiting_crop(leafy)) << leafy;
}

// Readings of nine months and more show the year: mean 18, +-6 degC, warmest on day 120 here. A shorter log goes back to the
// typical temperature.
TEST(timeline, a_year_of_readings_goes_on_as_a_year) {
  const auto wave = [](double day) { return 18 + 6 * std::cos(2 * 3.14159265358979 * (day - 120) / 365.25); };
  const auto rows = [&](double last, double gap_from, double gap_to) {
    std::string text;
    const records::Instant start = std::chrono::sys_days{std::chrono::year{2026} / 3 / 1} + std::chrono::hours{8};
    for (double day = 1; day <= last; day += 7) {
      if (day > gap_from && day < gap_to) continue;
      text += records::to_utc_text(records::plus_days(start, day)) + ",temperature," + std::to_string(wave(day)) + ",degC,,\n";
    }
    return text;
  };
  const auto at = [&](const std::string& text, double day) {
    return clock_of(log_from(text, "typical_temperature_c = 30\n"), 700).environment(day).temperature_c;
  };
  const std::string year = rows(330, 1e9, 0), half = rows(200, 1e9, 0), holed = rows(330, 130, 210);
  for (double day : {345.0, 400.0, 500.0, 650.0}) EXPECT_NEAR(at(year, day), wave(day), 0.3) << day;
  EXPECT_NEAR(at(half, 300), 30, 1e-9);
  EXPECT_NEAR(at(holed, 170), wave(170), 0.3);  // a straight line would be 0.9 off there
  EXPECT_NEAR(at(holed, 127), wave(127), 0.05);
}

// 100 g of feed with 32 % protein give 2.944 g of ammonia nitrogen a day at 0.092 g/g (common design figure,
// from memory), and hold 16 % of the protein as nitrogen.
TEST(timeline, feed_goes_through_the_fish_or_rots) {
  const std::string feed = "2026-03-02T08:00,feed,100,g,32 % protein,\n";
  const loop::Loads with_fish =
      clock_of(log_from("2026-03-01T09:00,fish in,20,,tilapia,\n" + feed)).loads_at(1.5);
  EXPECT_NEAR(with_fish.feed_protein_mg_l_d * 0.092, 2.944, 1e-9);
  EXPECT_EQ(with_fish.feed_n_org_mg_l_d, 0);
  EXPECT_NEAR(with_fish.fish_oxygen_mg_l_d, 40, 1e-9);  // 0.4 g of oxygen per g of feed (from memory)
  const loop::Timeline without = clock_of(log_from(feed));
  EXPECT_NEAR(without.loads_at(1.5).feed_n_org_mg_l_d, 5.12, 1e-9);
  EXPECT_EQ(without.loads_at(1.5).feed_protein_mg_l_d, 0);
  EXPECT_EQ(without.loads_at(2.5).feed_n_org_mg_l_d, 0);  // spread over one day (ours)
  EXPECT_EQ(without.loads_at(0.5).feed_n_org_mg_l_d, 0);
}

TEST(timeline, feed_without_a_stated_protein_has_32_percent) {
  const auto load = [](const std::string& detail) {
    return clock_of(log_from("2026-03-02T08:00,feed,100,g," + detail + ",\n"))
        .loads_at(1.5)
        .feed_n_org_mg_l_d;
  };
  EXPECT_NEAR(load(""), load("32 % protein"), 1e-12);
  EXPECT_NEAR(load("48 % protein"), 1.5 * load("32 % protein"), 1e-9);
}

TEST(timeline, fish_that_nobody_is_said_to_feed_have_an_unknown_load) {
  const loop::Timeline from_start =
      clock_of(log_from("2026-03-02T08:00,note,,,hello,\n", "start = \"fish\"\n"));
  EXPECT_EQ(from_start.loads_at(0.5).unknown_feed, 1);
  const records::LoopLog later =
      log_from("2026-03-05T08:00,fish in,20,,tilapia,\n2026-03-10T08:00,fish out,20,,tilapia,\n");
  EXPECT_TRUE(uses_of(later).unknown_feed);
  EXPECT_EQ(clock_of(later).loads_at(3.5).unknown_feed, 0);
  EXPECT_EQ(clock_of(later).loads_at(4.5).unknown_feed, 1);
  EXPECT_EQ(clock_of(later).loads_at(9.5).unknown_feed, 0);  // no fish, no feed
  const records::LoopLog fed = log_from("2026-03-02T08:00,feed,10,g,,\n", "start = \"fish\"\n");
  EXPECT_FALSE(uses_of(fed).unknown_feed);
  EXPECT_EQ(clock_of(fed).loads_at(0.5).unknown_feed, 0);
  EXPECT_FALSE(uses_of(log_from("2026-03-02T08:00,note,,,hello,\n")).unknown_feed);
}

// Clocks go forward in Central Europe on 29 March 2026: 08:00 there is 07:00 UTC before and 06:00 UTC after.
TEST(timeline, the_plan_looks_at_eight_local_time_through_a_change_of_clocks) {
  const records::LoopLog log =
      log_from("2026-03-26T12:00,ammonia,1,mg/L as N,,\n", "time_zone = \"Europe/Vienna\"\n");
  const records::Instant start = tests::start_instant(log), as_of = log.entries.back().when;
  const loop::Timeline t =
      timeline_from_log(log, start, as_of, records::days_between(start, as_of) + 6, true);
  ASSERT_EQ(t.look_days.size(), 6u);
  EXPECT_GT(t.look_days.front(), records::days_between(start, as_of));
  std::vector<std::string> clocks;
  for (double day : t.look_days) clocks.push_back(records::to_utc_text(records::plus_days(start, day)));
  EXPECT_EQ(clocks, (std::vector<std::string>{"2026-03-27T07:00:00Z", "2026-03-28T07:00:00Z",
                                              "2026-03-29T06:00:00Z", "2026-03-30T06:00:00Z",
                                              "2026-03-31T06:00:00Z", "2026-04-01T06:00:00Z"}));
  EXPECT_TRUE(timeline_from_log(log, start, as_of, 60, false).look_days.empty());
}

TEST(timeline, the_plan_begins_after_the_logs_last_entry_of_any_kind) {
  const records::LoopLog log =
      log_from("2026-03-04T12:00,ammonia,1,mg/L as N,,\n2026-03-20T12:00,note,,,still there,\n");
  const records::Instant start = tests::start_instant(log);
  const loop::Timeline t = timeline_from_log(log, start, records::plus_days(start, 5), 30, true);
  ASSERT_FALSE(t.look_days.empty());
  EXPECT_NEAR(t.look_days.front(), 20, 1e-9);  // 21 March, 08:00 UTC
  EXPECT_NEAR(t.policy.redose_to_tan, 2 * kNitrogenInNh3, 1e-5);
  EXPECT_NEAR(t.policy.redose_below_tan, 0.25 * kNitrogenInNh3, 1e-5);
  EXPECT_NEAR(t.policy.redose_while_no2_below, 5 * 14.007 / 46.005, 1e-5);
}

TEST(timeline, a_new_volume_counts_for_what_follows) {
  const loop::Timeline t = clock_of(log_from(
      "2026-03-02T08:00,volume,500,L,half drained,\n2026-03-03T08:00,dose,7.637,g,ammonium chloride,\n"));
  EXPECT_NEAR(std::get<loop::VolumeEvent>(t.events.at(0).what).ratio, 0.5, 1e-12);
  EXPECT_NEAR(std::get<loop::DoseEvent>(t.events.at(1).what).change.tan, 4.00, 4.00 * kExact);
}

}  // namespace
}  // namespace helmwater::infer
