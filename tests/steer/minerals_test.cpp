// SPDX-License-Identifier: Apache-2.0
// The ledger of ions against worked doses, against dilution and evaporation by hand, and against what was read.
#include "steer/minerals.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <stdexcept>
#include <string>

#include "records/loop_folder.hpp"

namespace helmwater {
namespace {

using steer::Mineral;
using steer::MineralCourse;
using steer::MineralLedger;
using steer::MineralPoint;
using steer::MineralRange;

// `volume` as loop.toml writes it; day 0 is 2026-03-01T08:00Z.
records::LoopLog log_from(const std::string& rows, const std::string& volume = "1000", const std::string& more = "") {
  const auto loop = records::parse_loop_toml(
      "name = \"Ions\"\nvolume_l = " + volume + "\nstarted = 2026-03-01T08:00:00Z\n" + more, "loop.toml");
  if (!loop) throw std::runtime_error(loop.error().to_text());
  auto log = records::parse_log_csv(*loop, "when,what,value,unit,detail\n" + rows, "log.csv");
  if (!log) throw std::runtime_error(log.error().to_text());
  return *log;
}

const MineralCourse& course(const MineralLedger& ledger, Mineral mineral) {
  return ledger.courses[static_cast<std::size_t>(mineral)];
}
double brought(const records::LoopLog& log, Mineral mineral) {
  return course(steer::mineral_ledger(log), mineral).at_end().middle;
}
// The last point of a line before it acts.
MineralRange before_line(const MineralCourse& c, int line) {
  for (const MineralPoint& p : c.points) {
    if (p.line == line) return p.mg_l;
  }
  throw std::runtime_error("no such line");
}

// ---- doses

struct Worked {
  const char* id;
  const char* row;  // value, unit, substance
  Mineral mineral;
  double mg_l;  // in 1000 L
};

// Worked doses from a calculation outside this program, in 1000 L, stated to hold to 0.5 % (with figures as rounded there).
const Worked kWorked[] = {
    {"acid to pH 7.0", "51.2,mL,hydrochloric acid 31.45 %", Mineral::chloride, 18.2},
    {"caustic potash, 90 % pellets", "6.912,g,potassium hydroxide 90 %", Mineral::potassium, 4.34},
    {"lime, 95 %", "4.324,g,calcium hydroxide 95 %", Mineral::calcium, 2.22},
    {"two degrees of hardness", "71.41,g,potassium bicarbonate", Mineral::potassium, 27.89},
    {"salt against nitrite", "29.4,g,sodium chloride", Mineral::chloride, 17.84},
    {"salt against nitrite, its sodium", "29.4,g,sodium chloride", Mineral::sodium, 11.6},
    {"calcium chloride against nitrite", "37.0,g,calcium chloride dihydrate", Mineral::chloride, 17.84},
    {"calcium chloride against nitrite, its calcium", "37.0,g,calcium chloride dihydrate", Mineral::calcium, 10.1},
    {"magnesium +10", "101.4,g,magnesium sulfate heptahydrate", Mineral::magnesium, 10},
    {"potassium +20", "44.6,g,potassium sulfate", Mineral::potassium, 20},
};

TEST(Minerals, doses_bring_what_the_worked_examples_say) {
  for (const Worked& w : kWorked) {
    const auto log = log_from("2026-03-02T08:00Z,dose," + std::string(w.row) + "\n");
    EXPECT_NEAR(brought(log, w.mineral), w.mg_l, 0.005 * w.mg_l) << w.id;
  }
}

// Per cent by mass as a worked table of reagents prints them (a calculation outside this program), to the last digit.
TEST(Minerals, shares_of_reagents_are_those_of_the_worked_table) {
  struct Share {
    const char* substance;
    Mineral mineral;
    double percent;
  };
  const Share shares[] = {
      {"ammonium chloride", Mineral::chloride, 66.28},      {"hydrochloric acid", Mineral::chloride, 97.24},
      {"potassium hydroxide", Mineral::potassium, 69.69},   {"calcium hydroxide", Mineral::calcium, 54.09},
      {"potassium bicarbonate", Mineral::potassium, 39.05}, {"potassium carbonate", Mineral::potassium, 56.58},
      {"calcium carbonate", Mineral::calcium, 40.04},       {"sodium bicarbonate", Mineral::sodium, 27.37},
      {"sodium carbonate", Mineral::sodium, 43.38},         {"calcium chloride dihydrate", Mineral::calcium, 27.26},
      {"calcium chloride dihydrate", Mineral::chloride, 48.23},
      {"magnesium sulfate heptahydrate", Mineral::magnesium, 9.86},
      {"potassium sulfate", Mineral::potassium, 44.88},     {"potassium chloride", Mineral::potassium, 52.45},
      {"potassium chloride", Mineral::chloride, 47.55},     {"gypsum", Mineral::calcium, 23.28},
      {"sodium chloride", Mineral::sodium, 39.34},          {"sodium chloride", Mineral::chloride, 60.66},
      {"sodium thiosulfate pentahydrate", Mineral::sodium, 18.53},
      {"sodium thiosulfate anhydrous", Mineral::sodium, 29.08},
  };
  for (const Share& s : shares) {
    const auto mg = steer::milligrams_per_gram(*handbook::Handbook::built_in().reagent(s.substance));
    EXPECT_NEAR(mg[static_cast<std::size_t>(s.mineral)] / 10, s.percent, 0.0051) << s.substance;
  }
  // The same table gives the sulphur: three times as much sulphate (96.06/32.06).
  const auto epsom = steer::milligrams_per_gram(*handbook::Handbook::built_in().reagent("magnesium sulfate heptahydrate"));
  EXPECT_NEAR(epsom[static_cast<std::size_t>(Mineral::sulfate)] / 10 * 32.06 / 96.056, 13.01, 0.0051);
}

TEST(Minerals, the_stated_volume_s_uncertainty_is_the_range) {
  // 50 g of potassium chloride, 52.45 % potassium (worked table), in 500 L +- 25 L. The 5th and 95th percentile of the
  // volume lie 1.645 sd away: 458.9 and 541.1 L.
  const auto ledger = steer::mineral_ledger(
      log_from("2026-03-02T08:00Z,dose,50,g,potassium chloride\n", "{ value = 500, sd = 25 }"));
  const MineralRange& k = course(ledger, Mineral::potassium).at_end();
  EXPECT_NEAR(k.middle, 26225.0 / 500, 0.01);
  EXPECT_NEAR(k.low, 26225.0 / 541.12, 0.01);
  EXPECT_NEAR(k.high, 26225.0 / 458.88, 0.01);
  EXPECT_FALSE(course(ledger, Mineral::potassium).whole);
  EXPECT_TRUE(course(ledger, Mineral::calcium).empty());
  EXPECT_FALSE(course(ledger, Mineral::chloride).empty());
}

TEST(Minerals, a_dose_written_by_its_effect_is_named_not_guessed) {
  const auto ledger = steer::mineral_ledger(log_from("2026-03-02T08:00Z,dose,+40,mg/L as CaCO3,potassium bicarbonate\n"));
  EXPECT_TRUE(course(ledger, Mineral::potassium).empty());
  ASSERT_EQ(ledger.not_counted.size(), 1u);
  EXPECT_EQ(ledger.not_counted[0].line, 2);
}

TEST(Minerals, what_happened_before_the_start_does_not_count) {
  EXPECT_EQ(brought(log_from("2026-02-20T08:00Z,dose,50,g,potassium chloride\n2026-03-02T08:00Z,note,,,\n"), Mineral::potassium), 0);
}

// ---- water

// 4 mg/L less four changes of 30 % is 0.960, less one of 75 % is 1.0: a worked example outside this program.
TEST(Minerals, water_changes_dilute) {
  const std::string four = "2026-03-02T08:00Z,dose,7.6263,g,potassium chloride\n";  // 4.000 g of potassium
  std::string rows = four;
  for (int day = 3; day <= 6; ++day) rows += "2026-03-0" + std::to_string(day) + "T08:00Z,water change,30,%,\n";
  EXPECT_NEAR(brought(log_from(four), Mineral::potassium), 4.0, 0.001);
  EXPECT_NEAR(brought(log_from(rows), Mineral::potassium), 0.960, 0.001);
  EXPECT_NEAR(brought(log_from(four + "2026-03-03T08:00Z,water change,750,L,\n"), Mineral::potassium), 1.0, 0.001);
}

TEST(Minerals, new_water_brings_what_it_is_known_to_hold) {
  steer::MineralSource source;
  source.mg_l[static_cast<std::size_t>(Mineral::calcium)] = MineralRange{30, 40, 50};
  // 20 mg/L of calcium on top of 40; a change of a quarter: 60 x 0.75 + 40 x 0.25 = 55.
  const auto ledger = steer::mineral_ledger(
      log_from("2026-03-02T08:00Z,dose,73.36,g,calcium chloride dihydrate\n2026-03-03T08:00Z,water change,25,%,\n", "{ value = 1000, sd = 0 }"),
      source);
  const MineralCourse& calcium = course(ledger, Mineral::calcium);
  EXPECT_EQ(calcium.points.front().mg_l.middle, 40);
  EXPECT_NEAR(calcium.at_end().middle, 55, 0.01);
  EXPECT_NEAR(calcium.at_end().low, 45, 0.01);
  EXPECT_NEAR(calcium.at_end().high, 65, 0.01);
  EXPECT_TRUE(calcium.whole);
  EXPECT_FALSE(course(ledger, Mineral::chloride).whole);
}

// Nothing but water leaves with the vapour: concentration times volume stays. 100 L of 1000 go evenly in ten days.
TEST(Minerals, evaporation_concentrates_until_the_top_up) {
  const auto ledger = steer::mineral_ledger(log_from(
      "2026-03-01T08:00Z,dose,19.066,g,potassium chloride\n"  // 10.00 g of potassium
      "2026-03-06T08:00Z,dose,0.001,g,potassium chloride\n"   // to see the course half way
      "2026-03-11T08:00Z,top-up,100,L,rain\n", "{ value = 1000, sd = 0 }"));
  const MineralCourse& potassium = course(ledger, Mineral::potassium);
  EXPECT_NEAR(before_line(potassium, 3).middle, 10 / 0.95, 0.002);
  EXPECT_NEAR(before_line(potassium, 4).middle, 10 / 0.9, 0.002);
  EXPECT_NEAR(potassium.at_end().middle, 10, 0.002);
}

TEST(Minerals, salts_of_the_top_ups_build_up) {
  // Each top-up of 5 % brings 0.05 x 40 = 2 mg/L and takes nothing away: ten of them 20 mg/L, plus the first filling's 40.
  std::string rows;
  for (int day = 10; day < 20; ++day) rows += "2026-03-" + std::to_string(day) + "T08:00Z,top-up,5,%,tap\n";
  steer::MineralSource source;
  source.mg_l[static_cast<std::size_t>(Mineral::sodium)] = MineralRange{40, 40, 40};
  const auto ledger = steer::mineral_ledger(log_from(rows), source);
  EXPECT_NEAR(course(ledger, Mineral::sodium).at_end().middle, 60, 1e-9);
}

TEST(Minerals, two_top_ups_at_once_are_one) {
  const std::string dose = "2026-03-01T08:00Z,dose,19.066,g,potassium chloride\n";
  const auto one = steer::mineral_ledger(log_from(dose + "2026-03-11T08:00Z,top-up,100,L,rain\n"));
  const auto two = steer::mineral_ledger(
      log_from(dose + "2026-03-11T08:00Z,top-up,60,L,rain\n2026-03-11T08:00Z,top-up,40,L,tap\n"));
  EXPECT_NEAR(before_line(course(two, Mineral::potassium), 3).middle, before_line(course(one, Mineral::potassium), 3).middle, 1e-9);
  EXPECT_NEAR(course(two, Mineral::potassium).at_end().middle, course(one, Mineral::potassium).at_end().middle, 1e-9);
}

// ---- readings

TEST(Minerals, a_reading_starts_the_course_anew) {
  const std::string rows =
      "2026-03-02T08:00Z,dose,50,g,potassium chloride\n"
      "2026-03-03T08:00Z,potassium,20..45,mg/L,\n"
      "2026-03-04T08:00Z,water change,50,%,\n";
  const auto ledger = steer::mineral_ledger(log_from(rows));
  const MineralCourse& potassium = course(ledger, Mineral::potassium);
  EXPECT_NEAR(potassium.at_end().low, 10, 1e-9);
  EXPECT_NEAR(potassium.at_end().middle, 15, 1e-9);  // half of sqrt(20 x 45)
  EXPECT_NEAR(potassium.at_end().high, 22.5, 1e-9);
  ASSERT_TRUE(potassium.read);
  EXPECT_FALSE(potassium.whole) << "half of the water is new, and what it holds is not known";
  EXPECT_TRUE(course(steer::mineral_ledger(log_from(rows.substr(0, rows.rfind("2026")))), Mineral::potassium).whole);
}

TEST(Minerals, readings_open_above_or_exact_or_doubted) {
  const std::string dose = "2026-03-02T08:00Z,dose,50,g,sodium chloride\n";  // 30.33 mg/L of chloride, worked table 60.66 %
  const auto open = course(steer::mineral_ledger(log_from(dose + "2026-03-03T08:00Z,chloride,>20,mg/L,\n")), Mineral::chloride).at_end();
  EXPECT_EQ(open.low, 20);
  EXPECT_NEAR(open.middle, 30.33, 0.01);
  EXPECT_TRUE(std::isinf(open.high));
  // 5th and 95th percentile of a normal: 1.645 sd away.
  const auto exact = course(steer::mineral_ledger(log_from(dose + "2026-03-03T08:00Z,chloride,40+-2,mg/L,\n")), Mineral::chloride).at_end();
  EXPECT_NEAR(exact.low, 40 - 1.645 * 2, 1e-3);
  EXPECT_NEAR(exact.middle, 40, 1e-9);
  EXPECT_NEAR(exact.high, 40 + 1.645 * 2, 1e-3);
  const auto doubted = steer::mineral_ledger(log_from(dose + "2026-03-03T08:00Z,chloride,40..60?,mg/L,\n"));
  EXPECT_NEAR(course(doubted, Mineral::chloride).at_end().middle, 30.33, 0.01);
  EXPECT_EQ(doubted.not_counted.size(), 1u);
}

TEST(Minerals, a_log_without_entries_is_an_empty_ledger) {
  const auto ledger = steer::mineral_ledger(log_from(""));
  for (const MineralCourse& c : ledger.courses) EXPECT_TRUE(c.empty());
  EXPECT_TRUE(ledger.not_counted.empty());
}

}  // namespace
}  // namespace helmwater
