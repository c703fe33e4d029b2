// SPDX-License-Identifier: Apache-2.0
// helmwater hindcast at the shell. Keys and rules: the project's contract for its JSON.
#include <gtest/gtest.h>

#include <cmath>
#include <map>
#include <set>

#include "json_checks.hpp"
#include "loop_on_disk.hpp"
#include "run_program.hpp"

namespace helmwater::cli_test {
namespace {

using Words = std::vector<std::string>;
using std::chrono::hours;

Said hindcast_run(const std::string& loop, const Words& more = {}) {
  Words words{"hindcast", loop, "--json", "--members", "400"};
  words.insert(words.end(), more.begin(), more.end());
  return helmwater(words);
}
Json hindcast(const std::string& loop, const Words& more = {}) { return answer_of(hindcast_run(loop, more)); }

// 09:00 every second day of March 2026, from the plain loop's start at 08:00 on the first.
const std::string kRows =
    "2026-03-01T09:00,dose,0.8,g,ammonium chloride\n"
    "2026-03-03T09:00,ammonia,2,mg/L,\n"
    "2026-03-05T09:00,ammonia,2..4,mg/L,\n"
    "2026-03-05T09:00,temperature,25,degC,\n"
    "2026-03-07T09:00,ammonia,~2,mg/L,\n"
    "2026-03-07T09:00,nitrite,>3,mg/L,\n"
    "2026-03-07T09:00,ph,8.0,,\n"
    "2026-03-09T09:00,alkalinity,6,dKH,\n"
    "2026-03-09T09:00,oxygen,8,mg/L,\n";
const std::string kLoop = std::string(kPlainLoop) +
                          "[[kit]]\ntest = \"ammonia\"\nbasis = \"NH4\"\nsteps = [0, 0.5, 1, 2, 4, 8]\n"
                          "[[kit]]\ntest = \"nitrite\"\nbasis = \"NO2\"\nsteps = [0, 0.3, 1, 3, 9]\n";

void expect_complete(const Json& h) {
  ASSERT_TRUE(has_keys(h, {"loop", "cases", "scores"}));
  double log_sum = 0;
  bool all_possible = true;
  std::map<std::string, int> of_test;
  for (const Json& c : h["cases"]) {
    ASSERT_TRUE(has_keys(c, {"as_of", "reading", "predicted", "probability", "lead_days"}));
    ASSERT_TRUE(has_keys(c["reading"], {"when", "what", "value", "low", "high"}));
    ASSERT_TRUE(instant(c["as_of"]) && instant(c["reading"]["when"]));
    EXPECT_TRUE(has_quantiles(c["predicted"]));
    const double probability = c["probability"].get<double>();
    EXPECT_GE(probability, 0);
    EXPECT_LE(probability, 1);
    const double days =
        std::chrono::duration<double>(*instant(c["reading"]["when"]) - *instant(c["as_of"])).count() / 86400;
    EXPECT_NEAR(c["lead_days"].get<double>(), days, 1e-4);
    EXPECT_GT(days, 0);
    EXPECT_TRUE(c["reading"]["value"].is_string());
    ++of_test[c["reading"]["what"].get<std::string>()];
    if (probability > 0)
      log_sum += std::log(probability);
    else
      all_possible = false;
  }
  ASSERT_TRUE(has_keys(h["scores"], {"n", "coverage_50", "coverage_90", "mean_log_score", "by_test"}));
  const Json& scores = h["scores"];
  ASSERT_EQ(scores["n"].get<std::size_t>(), h["cases"].size());
  if (scores["n"] == 0) return;
  for (const char* coverage : {"coverage_50", "coverage_90"}) {
    EXPECT_GE(scores[coverage].get<double>(), 0);
    EXPECT_LE(scores[coverage].get<double>(), 1);
  }
  EXPECT_LE(scores["coverage_50"].get<double>(), scores["coverage_90"].get<double>());
  if (all_possible) {
    EXPECT_NEAR(scores["mean_log_score"].get<double>(), log_sum / scores["n"].get<double>(), 1e-3)
        << "the mean of ln(probability)";
  }
  for (const auto& [test, n] : of_test) {
    ASSERT_TRUE(has_keys(scores["by_test"], {test}));
    EXPECT_EQ(scores["by_test"][test]["n"], n) << test;
  }
}

TEST(Hindcast, has_a_case_for_each_later_reading_within_the_horizon) {
  const LoopOnDisk loop(kLoop, log_of(kRows));
  const Json h = hindcast(loop.path(), {"--every", "3", "--horizon", "4"});
  expect_complete(h);
  EXPECT_EQ(h["loop"], "Test loop");
  // From 4 March 08:00 until the 8th: ammonia on the 5th and 7th, nitrite and pH on the 7th. From 7 March
  // 08:00 until the 11th: ammonia, nitrite, pH on the 7th and alkalinity on the 9th. Temperature and oxygen
  // are no cases.
  std::map<std::string, int> at;
  for (const Json& c : h["cases"])
    ++at[c["as_of"].get<std::string>() + " " + c["reading"]["when"].get<std::string>().substr(0, 10) + " " +
         c["reading"]["what"].get<std::string>()];
  const std::map<std::string, int> expected{
      {"2026-03-04T08:00:00Z 2026-03-05 ammonia", 1}, {"2026-03-04T08:00:00Z 2026-03-07 ammonia", 1},
      {"2026-03-04T08:00:00Z 2026-03-07 nitrite", 1}, {"2026-03-04T08:00:00Z 2026-03-07 ph", 1},
      {"2026-03-07T08:00:00Z 2026-03-07 ammonia", 1}, {"2026-03-07T08:00:00Z 2026-03-07 nitrite", 1},
      {"2026-03-07T08:00:00Z 2026-03-07 ph", 1},      {"2026-03-07T08:00:00Z 2026-03-09 alkalinity", 1}};
  EXPECT_EQ(at, expected);
}

TEST(Hindcast, gives_the_reading_as_written_and_its_interval_in_the_kits_basis) {
  const LoopOnDisk loop(kLoop, log_of(kRows));
  const Json h = hindcast(loop.path(), {"--as-of", "2026-03-04T12:00", "--horizon", "7"});
  expect_complete(h);
  std::set<std::string> seen;
  for (const Json& c : h["cases"]) {
    EXPECT_EQ(c["as_of"], "2026-03-04T12:00:00Z");
    const std::string value = c["reading"]["value"].get<std::string>();
    const Json& low = c["reading"]["low"];
    const Json& high = c["reading"]["high"];
    seen.insert(value);
    if (value == "2..4") {
      EXPECT_DOUBLE_EQ(low.get<double>(), 2);
      EXPECT_DOUBLE_EQ(high.get<double>(), 4);
      // 2.55 mg/L as NH3 were dosed, 2.70 as NH4 (molar masses), and nothing can have grown much in four
      // days.
      EXPECT_NEAR(c["predicted"]["p50"].get<double>(), 2.7, 0.7);
    } else if (value == "~2") {
      EXPECT_DOUBLE_EQ(low.get<double>(), 1);
      EXPECT_DOUBLE_EQ(high.get<double>(), 4);
    } else if (value == ">3") {
      EXPECT_DOUBLE_EQ(low.get<double>(), 3);
      EXPECT_TRUE(high.is_null()) << "an open end is null";
    }
  }
  EXPECT_EQ(seen, (std::set<std::string>{"2..4", "~2", ">3", "8.0", "6"}));
}

TEST(Hindcast, of_a_loop_without_later_readings_has_no_case_and_null_scores) {
  const LoopOnDisk loop(kLoop, log_of("2026-03-01T09:00,ammonia,2,mg/L,\n"));
  const Json h = hindcast(loop.path());
  expect_complete(h);
  EXPECT_EQ(h["scores"]["n"], 0);
  EXPECT_TRUE(h["cases"].is_array() && h["cases"].empty());
  for (const char* score : {"coverage_50", "coverage_90", "mean_log_score"})
    EXPECT_TRUE(h["scores"][score].is_null()) << score;
}

TEST(Hindcast, of_an_empty_log_has_no_case) {
  const LoopOnDisk loop(kLoop, std::string(kHeader));
  EXPECT_EQ(hindcast(loop.path())["scores"]["n"], 0);
}

TEST(Hindcast, does_not_learn_from_the_readings_it_is_tested_on) {
  const LoopOnDisk loop(kLoop, log_of(kRows));
  std::string other = kRows;
  const auto at = other.find("nitrite,>3");
  other.replace(at, 10, "nitrite,0 ");
  const LoopOnDisk perturbed(kLoop, log_of(other));
  const Json a = hindcast(loop.path(), {"--as-of", "2026-03-04T12:00"});
  const Json b = hindcast(perturbed.path(), {"--as-of", "2026-03-04T12:00"});
  ASSERT_EQ(a["cases"].size(), b["cases"].size());
  for (std::size_t i = 0; i < a["cases"].size(); ++i)
    EXPECT_EQ(a["cases"][i]["predicted"], b["cases"][i]["predicted"]);
}

TEST(Hindcast, does_not_follow_the_plan) {
  const LoopOnDisk loop(kLoop, log_of(kRows));
  const LoopOnDisk planned(kLoop + "[plan]\nredose_to_mg_l = 8\nredose_below_mg_l = 7\n", log_of(kRows));
  EXPECT_EQ(hindcast(loop.path(), {"--as-of", "2026-03-04T12:00"})["cases"],
            hindcast(planned.path(), {"--as-of", "2026-03-04T12:00"})["cases"]);
}

TEST(Hindcast, is_the_same_to_the_byte_each_time) {
  const LoopOnDisk loop(kLoop, log_of(kRows));
  EXPECT_EQ(hindcast_run(loop.path()).out, hindcast_run(loop.path()).out);
}

TEST(Hindcast, of_the_loop_on_its_way_is_complete) {
  expect_complete(hindcast(demo("north-bench"), {"--every", "6"}));
}

TEST(Hindcast, speaks_to_people_without_json) {
  const Said run = helmwater({"hindcast", demo("north-bench"), "--members", "400", "--every", "8"});
  EXPECT_EQ(run.exit_code, 0) << run.err;
  EXPECT_TRUE(Json::parse(run.out, nullptr, false).is_discarded());
  EXPECT_NE(run.out.find("nitrite"), std::string::npos);
}

TEST(Hindcast, misuse_is_exit_code_2_with_a_message_and_nothing_on_standard_output) {
  for (const Words& words :
       {Words{"--every", "0"}, Words{"--every", "-1"}, Words{"--every", "nan"}, Words{"--horizon", "0"},
        Words{"--horizon", "soon"}, Words{"--as-of", "2026-02-30"}, Words{"--plan", "none"},
        Words{"--as-of", "2026-03-10", "--every", "3"}}) {
    SCOPED_TRACE(words.front() + " " + words.back());
    const Said run = hindcast_run(demo("north-bench"), words);
    EXPECT_EQ(run.exit_code, 2);
    EXPECT_EQ(run.out, "");
    EXPECT_NE(run.err.find(words.front()), std::string::npos) << run.err;
  }
}

// The record of two folders together holds the cases of each; they are no other than the hindcast's readings.
TEST(Track, sums_up_one_loop_or_all_of_a_folder) {
  const auto track = [](const Words& words) {
    Words all{"track"};
    all.insert(all.end(), words.begin(), words.end());
    all.emplace_back("--json");
    return answer_of(helmwater(all));
  };
  const Json bench = track({demo("north-bench")}), raft = track({demo("long-raft")});
  const std::string both = demo("north-bench");
  const Json all = track({"--data", both.substr(0, both.rfind('/'))});
  EXPECT_EQ(all["loops"].size(), 2u);
  EXPECT_EQ(all["cases_all"].get<int>(), bench["cases_all"].get<int>() + raft["cases_all"].get<int>());
  for (const char* lead : {"near", "far"}) {
    EXPECT_EQ(all[lead]["n"].get<int>(), bench[lead]["n"].get<int>() + raft[lead]["n"].get<int>());
    EXPECT_LE(all[lead]["in_50"].get<int>(), all[lead]["in_90"].get<int>());
    EXPECT_LE(all[lead]["in_90"].get<int>(), all[lead]["n"].get<int>());
  }
  EXPECT_EQ(all["cases"].size(), 60u);
  for (const Json& c : all["cases"]) {
    EXPECT_GT(c["lead_days"].get<double>(), 0);
    EXPECT_LE(c["lead_days"].get<double>(), 7);
    EXPECT_LE(c["p05"].get<double>(), c["p95"].get<double>());
  }
  EXPECT_FALSE(all["text"].get<std::string>().empty());
}

TEST(Track, misuse_is_exit_code_2_with_a_message) {
  for (const Words& words : {Words{"track"}, Words{"track", demo("north-bench"), "--data", "x"}, Words{"track", "--data", "/nowhere/at/all"}}) {
    const Said run = helmwater(words);
    EXPECT_EQ(run.exit_code, 2);
    EXPECT_EQ(run.out, "");
    EXPECT_FALSE(run.err.empty());
  }
}

}  // namespace
}  // namespace helmwater::cli_test
