// SPDX-License-Identifier: Apache-2.0
// Causes of a loop that does not move. Truth comes from the second simulator (docs/decisions/007-second-simulator.md) or
// from logs written so that one cause alone is possible.
#include "steer/why_stuck.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <stop_token>

#include "handbook/handbook.hpp"
#include "infer/parallel.hpp"
#include "records/loop_folder.hpp"
#include "stall_scores.hpp"
#include "steer/clues.hpp"

namespace helmwater::steer {
namespace {

records::LoopLog log_of(const std::string& loop_toml, const std::string& rows) {
  const auto loop = records::parse_loop_toml(loop_toml, "loop.toml");
  EXPECT_TRUE(loop) << loop.error().to_text();
  const auto log = records::parse_log_csv(*loop, "when,what,value,unit,detail\n" + rows, "log.csv");
  EXPECT_TRUE(log) << log.error().to_text();
  return *log;
}

const std::string kLoop =
    "name = \"pond shed\"\nvolume_l = 300\nstarted = 2026-03-01T09:00:00Z\nstart = \"unseeded\"\ntypical_temperature_c = 24\n";

// Ammonia and nitrite stand still from day 14 on, both in the water.
std::string stuck(const std::string& at_last) {
  return "2026-03-01T10:00,dose,+3,mg/L as NH3,ammonium chloride\n"
         "2026-03-07,ammonia,3,mg/L as NH3,\n2026-03-07,nitrite,0.3±0.1,mg/L as NO2,\n"
         "2026-03-12,ammonia,1.2,mg/L as NH3,\n2026-03-12,nitrite,4,mg/L as NO2,\n2026-03-12,temperature,24,degC,\n"
         "2026-03-13,dose,+2,mg/L as NH3,ammonium chloride\n"
         "2026-03-16,ammonia,2.5,mg/L as NH3,\n2026-03-16,nitrite,6,mg/L as NO2,\n"
         "2026-03-20,ammonia,2.4,mg/L as NH3,\n2026-03-20,nitrite,6,mg/L as NO2,\n2026-03-20,temperature,24,degC,\n"
         "2026-03-26,ammonia,2.4,mg/L as NH3,\n2026-03-26,nitrite,6,mg/L as NO2,\n" + at_last;
}

WhyStuck why(const records::LoopLog& log, std::uint64_t seed = 1) {
  WhyStuckOptions options;
  options.as_of = log.entries.back().when;
  options.seed = seed;
  return why_stuck(log, options);
}

double probability(const WhyStuck& answer, const std::string& cause) {
  const auto found = std::find_if(answer.explanations.begin(), answer.explanations.end(), [&](const auto& e) { return e.cause == cause; });
  return found == answer.explanations.end() ? 0 : found->probability;
}

TEST(WhyStuck, AlkalinityThatWasReadDecides) {
  const WhyStuck gone = why(log_of(kLoop, stuck("2026-03-26,ph,6.3±0.2,,\n2026-03-26,alkalinity,5±5,mg/L as CaCO3,\n")));
  EXPECT_EQ(gone.verdict, "low_alkalinity") << gone.says;
  ASSERT_FALSE(gone.explanations.front().cautions.empty());
  const WhyStuck ample = why(log_of(kLoop, stuck("2026-03-20,alkalinity,120±10,mg/L as CaCO3,\n2026-03-26,ph,7.9±0.2,,\n2026-03-26,alkalinity,120±10,mg/L as CaCO3,\n")));
  EXPECT_NE(ample.explanations.front().cause, "low_alkalinity") << ample.says;
  EXPECT_LT(probability(ample, "low_alkalinity"), 0.05);
}

// A second simulator's loop with 0.3 to 0.8 mg/L of oxygen whose owner measured it; and the same, had he read plenty.
TEST(WhyStuck, OxygenThatWasReadDecides) {
  const tests::SecondLoop made = tests::next_that_stalls(2026, 27, tests::Stall::low_oxygen).loop;
  records::LoopLog log = made.log;
  int readings = 0;
  for (records::Entry& e : log.entries) {
    auto* reading = std::get_if<records::Reading>(&e.body);
    if (reading == nullptr || reading->test != records::Test::oxygen) continue;
    reading->seen.low += 7.8 - reading->seen.centre;
    reading->seen.high += 7.8 - reading->seen.centre;
    reading->seen.centre = 7.8;
    ++readings;
  }
  ASSERT_EQ(readings, 2);
  EXPECT_EQ(why(made.log).verdict, "low_oxygen");
  EXPECT_LT(probability(why(log), "low_oxygen"), 0.03);
}

TEST(WhyStuck, TheAnswerIsWholeAndRepeatable) {
  const records::LoopLog log = log_of(kLoop, stuck(""));
  const WhyStuck once = why(log), again = why(log);
  double sum = 0;
  for (std::size_t i = 0; i < once.explanations.size(); ++i) {
    const Explanation& e = once.explanations[i];
    sum += e.probability;
    EXPECT_EQ(e.probability, again.explanations.at(i).probability) << e.cause;
    EXPECT_FALSE(e.title.empty() || e.says.empty() || e.look.empty() || e.remedy.empty()) << e.cause;
    if (i > 0) {
      EXPECT_LE(e.probability, once.explanations[i - 1].probability);
    }
  }
  EXPECT_NEAR(sum, 1, 1e-9);
  ASSERT_TRUE(once.next_test);
  EXPECT_FALSE(once.next_test->text.empty());
  // Thermometers settle that it is not cold; nobody tested nitrate.
  ASSERT_EQ(once.set_aside.size(), 2u);
  EXPECT_EQ(once.set_aside[0].cause, "cold");
  EXPECT_EQ(once.set_aside[1].cause, "nitrate_unseen");
}

TEST(WhyStuck, CanBeCancelled) {
  std::stop_source source;
  source.request_stop();
  const infer::CancelScope scope(source.get_token());
  EXPECT_THROW(why(log_of(kLoop, stuck(""))), infer::Cancelled);
}

// Clear-cut stalls of the second simulator, whose causes are known; judge_stalls measures on many.
TEST(WhyStuck, FindsTheCauseOfSimulatedStalls) {
  using tests::Stall;
  for (const auto& [stall, index] : {std::pair{Stall::low_alkalinity, 45}, std::pair{Stall::nitrate_unseen, 31}}) {
    const WhyStuck answer = why(tests::next_that_stalls(2026, index, stall).loop.log);
    EXPECT_EQ(answer.verdict, tests::kStallNames[static_cast<std::size_t>(stall)]) << answer.says;
  }
}

TEST(Clues, AreFactsOfTheLog) {
  const auto clues = [](const std::string& extra, const std::string& rows) {
    const records::LoopLog log = log_of(kLoop + extra, rows);
    return clues_of(log, *log.loop.started, records::Instant::max());
  };
  const auto some = clues("air = \"none\"\n", "2026-03-02,water change,20,%,RO water\n2026-03-03,oxygen,6,mg/L,\n");
  for (const char* name : {"air_none", "pure_water", "struck", "temperature_never_read"}) EXPECT_TRUE(some.contains(name)) << name;
  for (const char* name : {"other_water", "not_struck", "fed", "air_strong"}) EXPECT_FALSE(some.contains(name)) << name;
  // A word inside another is none: "trough".
  EXPECT_TRUE(clues("", "2026-03-02,top-up,5,L,trough tap\n").contains("other_water"));
  EXPECT_FALSE(clues("", "2026-03-02,top-up,5,L,trough tap\n").contains("pure_water"));
  const std::string dose = ",dose,1,g,ammonium chloride\n";
  const auto paused = [&](const std::string& rows) {
    const records::LoopLog log = log_of(kLoop, rows);
    return clues_of(log, *log.loop.started, log.entries.back().when).contains("after_a_pause");
  };
  EXPECT_TRUE(paused("2026-03-02" + dose + "2026-03-12" + dose + "2026-03-14,ammonia,1,mg/L as N,\n"));
  EXPECT_FALSE(paused("2026-03-02" + dose + "2026-03-06" + dose + "2026-03-08,ammonia,1,mg/L as N,\n"));
  EXPECT_FALSE(paused("2026-03-02" + dose + "2026-03-12" + dose + "2026-03-24,ammonia,1,mg/L as N,\n"));
}

TEST(Clues, TheHandbookNamesKnownOnesAlone) {
  for (const auto& cause : handbook::Handbook::built_in().causes()) {
    for (const auto& clue : cause.clues) EXPECT_TRUE(clue_names().contains(clue.when)) << cause.name << ": " << clue.when;
  }
}

TEST(TellingTest, TakesTheReadingInWhichTheCausesDiffer) {
  std::vector<ShownDraw> draws;
  for (int i = 0; i < 20; ++i) {
    Shown a, b;
    a.alkalinity = 4 + 0.2 * i;
    b.alkalinity = 90 + 2 * i;
    a.ph = b.ph = 7 + 0.02 * i;
    draws.push_back({"low_alkalinity", 0.03, a});
    draws.push_back({"young", 0.02, b});
  }
  const TellingTest test = telling_test(draws, "low_alkalinity", "young", "look");
  EXPECT_EQ(test.test, "alkalinity");
  EXPECT_LT(test.overlap, 0.01);
  ASSERT_EQ(test.expected.size(), 2u);
  EXPECT_LT(test.expected[0].high, 20);
  EXPECT_GT(test.expected[1].low, 70);
  EXPECT_NE(test.text.find("below"), std::string::npos) << test.text;
  // Alike in all: what to do is said instead.
  for (ShownDraw& d : draws) d.shown.alkalinity = 100;
  const TellingTest none = telling_test(draws, "low_alkalinity", "young", "Add bicarbonate.");
  EXPECT_TRUE(none.test.empty());
  EXPECT_TRUE(none.expected.empty());
  EXPECT_NE(none.text.find("Add bicarbonate."), std::string::npos);
}

}  // namespace
}  // namespace helmwater::steer
