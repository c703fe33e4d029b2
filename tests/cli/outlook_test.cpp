// SPDX-License-Identifier: Apache-2.0
// helmwater outlook at the shell: shape of its answer. Keys, units and rules: the project's contract for its
// JSON. Few members, so that it is quick: nothing here depends on how fine the distributions are.
#include <gtest/gtest.h>

#include <algorithm>
#include <cctype>
#include <set>

#include "json_checks.hpp"
#include "loop_on_disk.hpp"
#include "run_program.hpp"

namespace helmwater::cli_test {
namespace {

using Words = std::vector<std::string>;
using std::chrono::hours;

Said outlook_run(const std::string& loop, const Words& more = {}) {
  Words words{"outlook", loop, "--json", "--members", "400"};
  words.insert(words.end(), more.begin(), more.end());
  return helmwater(words);
}
Json outlook(const std::string& loop, const Words& more = {}) { return answer_of(outlook_run(loop, more)); }

const std::vector<std::string_view> kSeriesTests{"ammonia", "nitrite", "nitrate", "ph", "alkalinity"};

void expect_unit(const Json& now, const char* what, const Json& unit, const Json& basis) {
  ASSERT_TRUE(has_keys(now, {what}));
  EXPECT_TRUE(has_keys(now[what], {"unit", "basis"}));
  EXPECT_EQ(now[what]["unit"], unit) << what;
  EXPECT_EQ(now[what]["basis"], basis) << what;
  EXPECT_TRUE(has_quantiles(now[what])) << what;
}

void expect_milestone(const Json& milestones, const char* name, Seconds as_of) {
  ASSERT_TRUE(has_keys(milestones, {name}));
  const Json& m = milestones[name];
  EXPECT_TRUE(has_instant_quantiles(m)) << name;
  ASSERT_TRUE(has_keys(m, {"probability_within_days", "reached"})) << name;
  if (m.value("applies", true) == false) {
    EXPECT_TRUE(m["p50"].is_null() && m["probability_within_days"].is_null()) << name;
    return;
  }
  EXPECT_GE(m["probability_within_days"].get<double>(), 0) << name;
  EXPECT_LE(m["probability_within_days"].get<double>(), 1) << name;
  ASSERT_TRUE(m["reached"].is_boolean()) << name;
  if (m["reached"] == true) {
    ASSERT_TRUE(instant(m["p50"])) << name;
    EXPECT_LE(*instant(m["p50"]), as_of) << name;
    EXPECT_GE(m["probability_within_days"].get<double>(), 0.5) << name;
  } else if (instant(m["p50"])) {
    EXPECT_GE(*instant(m["p50"]), as_of) << name;
  }
}

// Every key of the contract, on a loop without fish.
void expect_complete(const Json& o, int days) {
  ASSERT_TRUE(
      has_keys(o, {"loop", "as_of", "started", "readings_used", "members", "effective_members", "seed",
                   "engine", "plan", "now", "stage", "milestones", "risk", "series", "advice", "doubts"}));
  ASSERT_TRUE(instant(o["as_of"]) && instant(o["started"]));
  const Seconds as_of = *instant(o["as_of"]);
  const Seconds started = *instant(o["started"]);
  EXPECT_TRUE(o["loop"].is_string());
  EXPECT_TRUE(o["engine"].is_string());
  EXPECT_TRUE(o["plan"].is_object());
  EXPECT_TRUE(o["readings_used"].is_number_integer());
  EXPECT_EQ(o["members"], 400);
  EXPECT_GT(o["effective_members"].get<double>(), 0);
  EXPECT_LE(o["effective_members"].get<double>(), 400.5);
  EXPECT_EQ(o["seed"], 1);

  for (const char* what : {"ammonia", "nitrite", "nitrate"}) expect_unit(o["now"], what, "mg/L", "ion");
  expect_unit(o["now"], "ph", nullptr, nullptr);
  expect_unit(o["now"], "alkalinity", "mg/L", "CaCO3");
  expect_unit(o["now"], "free_ammonia", "mg/L", "N");
  for (const char* what : {"ammonia_capacity", "nitrite_capacity"})
    expect_unit(o["now"], what, "mg/L/d", "N");

  const std::set<std::string> stages{"empty",          "waiting",         "ammonia_falling",
                                     "nitrite_rising", "nitrite_falling", "ready",
                                     "running",        "stalled",         "cannot_tell"};
  ASSERT_TRUE(has_keys(o["stage"], {"name", "since", "probability"}));
  EXPECT_TRUE(stages.contains(o["stage"]["name"].get<std::string>())) << o["stage"].dump();
  ASSERT_TRUE(instant(o["stage"]["since"])) << o["stage"].dump();
  EXPECT_LE(*instant(o["stage"]["since"]), as_of);
  EXPECT_GE(o["stage"]["probability"].get<double>(), 0);
  EXPECT_LE(o["stage"]["probability"].get<double>(), 1);

  for (const char* name : {"ammonia_first_clear", "nitrite_peak", "nitrite_first_clear", "ready_for_fish",
                           "alkalinity_runs_out"})
    expect_milestone(o["milestones"], name, as_of);
  ASSERT_TRUE(has_keys(o["milestones"]["nitrite_peak"], {"height"}));
  EXPECT_TRUE(has_keys(o["milestones"]["nitrite_peak"]["height"], {"p05", "p50", "p95"}));
  ASSERT_TRUE(has_keys(o["milestones"]["ready_for_fish"], {"applies"}));
  ASSERT_TRUE(has_keys(o["risk"], {"applies"}));

  ASSERT_TRUE(o["series"].is_array());
  std::vector<Seconds> moments;
  for (const Json& moment : o["series"]) {
    ASSERT_TRUE(instant(moment["when"])) << moment.dump();
    moments.push_back(*instant(moment["when"]));
    for (std::string_view test : kSeriesTests) {
      ASSERT_TRUE(has_keys(moment, {test}));
      ASSERT_TRUE(has_quantiles(moment[std::string(test)])) << moment["when"] << test;
    }
    for (const char* test : {"ammonia", "nitrite", "nitrate"})
      EXPECT_GE(moment[test]["p05"].get<double>(), 0);
    EXPECT_GT(moment["ph"]["p05"].get<double>(), 2);
    EXPECT_LT(moment["ph"]["p95"].get<double>(), 12);
  }
  ASSERT_FALSE(moments.empty());
  for (std::size_t i = 1; i < moments.size(); ++i) ASSERT_LT(moments[i - 1], moments[i]);
  EXPECT_EQ(moments.front(), started);
  EXPECT_LE(moments.back(), as_of + hours{24 * days});
  EXPECT_TRUE(std::binary_search(moments.begin(), moments.end(), as_of)) << "as_of itself is in the series";
  for (Seconds t = started; t <= as_of + hours{24 * days}; t += hours{6})
    ASSERT_TRUE(std::binary_search(moments.begin(), moments.end(), t)) << "not every 6 h from the start";

  const std::set<std::string> urgencies{"now", "today", "this_week", "note"};
  for (const Json& advice : o["advice"]) {
    ASSERT_TRUE(has_keys(advice, {"code", "urgency", "text", "because", "caution"}));
    EXPECT_TRUE(urgencies.contains(advice["urgency"].get<std::string>())) << advice.dump();
    EXPECT_TRUE(advice["because"].is_array() && advice["caution"].is_array());
  }
  for (const Json& doubt : o["doubts"]) {
    ASSERT_TRUE(has_keys(doubt, {"entry", "code", "text"}));
    EXPECT_TRUE(doubt["entry"].is_null() || doubt["entry"].get<int>() >= 2) << doubt.dump();
  }
}

TEST(Outlook, of_the_loop_on_its_way_is_complete) {
  const Json o = outlook(demo("north-bench"));
  expect_complete(o, 60);
  EXPECT_EQ(o["loop"], "North bench");
  EXPECT_EQ(o["started"], "2026-03-02T07:30:00Z") << "08:30 in Vienna, winter time";
  EXPECT_EQ(o["as_of"], "2026-03-19T07:15:00Z") << "the latest entry, in UTC";
  EXPECT_EQ(o["milestones"]["ready_for_fish"]["applies"], true);
  EXPECT_EQ(o["risk"]["applies"], false);
  EXPECT_EQ(o["milestones"]["ammonia_first_clear"]["reached"], true) << "four vials in a row showed none";
  EXPECT_EQ(o["milestones"]["ready_for_fish"]["reached"], false);
}

TEST(Outlook, of_the_stalled_loop_is_complete_and_knows_that_alkalinity_ran_out) {
  const Json o = outlook(demo("long-raft"), {"--days", "20"});
  expect_complete(o, 20);
  // 34 mg/L of alkalinity at the start, 5.7 mg/L N dosed: 7.1 mg/L CaCO3 per mg N (stoichiometry) is more
  // than there was.
  EXPECT_EQ(o["milestones"]["alkalinity_runs_out"]["reached"], true);
  EXPECT_LT(o["now"]["alkalinity"]["p50"].get<double>(), 20);
  EXPECT_EQ(o["stage"]["name"], "stalled");
}

TEST(Outlook, of_the_start_up_that_really_happened_is_complete) {
  expect_complete(outlook(HELMWATER_TEST_DATA "/reference/startup_log", {"--days", "5"}), 5);
}

TEST(Outlook, is_the_same_to_the_byte_for_a_seed_and_another_for_another) {
  const Said a = outlook_run(demo("north-bench"), {"--days", "5", "--seed", "7"});
  const Said b = outlook_run(demo("north-bench"), {"--days", "5", "--seed", "7"});
  const Said c = outlook_run(demo("north-bench"), {"--days", "5", "--seed", "8"});
  EXPECT_EQ(a.exit_code, 0);
  EXPECT_EQ(a.out, b.out);
  const Json one = answer_of(a), other = answer_of(c);
  EXPECT_EQ(one["seed"], 7);
  EXPECT_EQ(other["seed"], 8);
  EXPECT_NE(one["now"], other["now"]);
}

TEST(Outlook, takes_as_of_in_the_loops_zone_and_a_date_alone_as_noon) {
  EXPECT_EQ(outlook(demo("north-bench"), {"--days", "1", "--as-of", "2026-03-10"})["as_of"],
            "2026-03-10T11:00:00Z");
  EXPECT_EQ(outlook(demo("north-bench"), {"--days", "1", "--as-of", "2026-03-10T08:00"})["as_of"],
            "2026-03-10T07:00:00Z");
  EXPECT_EQ(outlook(demo("north-bench"), {"--days", "1", "--as-of", "2026-03-10T08:00Z"})["as_of"],
            "2026-03-10T08:00:00Z");
}

TEST(Outlook, of_a_loop_without_readings_is_the_prior) {
  const LoopOnDisk loop(std::string(kPlainLoop), log_of("2026-03-01T09:00,dose,0.8,g,ammonium chloride\n"));
  const Json o = outlook(loop.path(), {"--days", "20"});
  expect_complete(o, 20);
  EXPECT_EQ(o["readings_used"], 0);
  // 0.8 g NH4Cl in 100 L: 800 x 17.031 / 53.49 / 100 = 2.55 mg/L as NH3 (molar masses); the volume is good to
  // 10 %.
  EXPECT_NEAR(o["now"]["ammonia"]["p50"].get<double>(), 2.55, 0.08);
}

TEST(Outlook, of_an_empty_log_starts_from_started) {
  const LoopOnDisk loop(std::string(kPlainLoop), log_of(""));
  const Json o = outlook(loop.path(), {"--days", "5"});
  expect_complete(o, 5);
  EXPECT_EQ(o["as_of"], "2026-03-01T08:00:00Z");
  EXPECT_EQ(o["readings_used"], 0);
}

TEST(Outlook, of_an_empty_log_without_started_needs_as_of) {
  const LoopOnDisk loop("name = \"x\"\nvolume_l = 100\n", std::string(kHeader));
  const Said run = outlook_run(loop.path(), {"--days", "5"});
  EXPECT_EQ(run.exit_code, 2);
  EXPECT_EQ(run.out, "");
  EXPECT_NE(run.err.find("--as-of"), std::string::npos) << run.err;
  EXPECT_NE(run.err.find("started"), std::string::npos) << run.err;

  const Json o = outlook(loop.path(), {"--days", "5", "--as-of", "2031-05-01T10:00"});
  expect_complete(o, 5);
  EXPECT_EQ(o["as_of"], "2031-05-01T10:00:00Z") << "dates in the future are valid";
  EXPECT_EQ(o["started"], o["as_of"]);
}

TEST(Outlook, with_fish_in_states_the_risk_and_no_date_for_fish) {
  const LoopOnDisk loop(
      std::string(kPlainLoop) + "start = \"fish\"\n",
      log_of("2026-03-01T09:00,fish in,10,,\"Nile tilapia, 12 g, stocked\"\n"
             "2026-03-01T10:00,feed,3,g,\n2026-03-02T10:00,feed,3,g,\n2026-03-03T10:00,feed,3,g,\n"
             "2026-03-04T09:00,ammonia,1,mg/L as N,\n2026-03-04T09:00,nitrite,0.1,mg/L as NO2,\n"
             "2026-03-04T09:00,ph,7.8,,\n"));
  const Json o = outlook(loop.path(), {"--days", "10"});
  expect_complete(o, 10);
  ASSERT_TRUE(has_keys(o["risk"], {"applies", "species", "free_ammonia", "nitrite"}));
  EXPECT_EQ(o["risk"]["applies"], true);
  EXPECT_NE(o["risk"]["species"].get<std::string>().find("ilapia"), std::string::npos);
  ASSERT_TRUE(has_keys(o["risk"]["free_ammonia"], {"limit_mg_l_n", "within_24_h", "within_72_h"}));
  ASSERT_TRUE(has_keys(o["risk"]["nitrite"], {"limit_mg_l_ion", "within_24_h", "within_72_h"}));
  for (const char* what : {"free_ammonia", "nitrite"}) {
    const double day = o["risk"][what]["within_24_h"].get<double>(),
                 three = o["risk"][what]["within_72_h"].get<double>();
    EXPECT_GE(day, 0);
    EXPECT_GE(three, day) << "three days hold the first";
    EXPECT_LE(three, 1);
  }
  EXPECT_GT(o["risk"]["free_ammonia"]["limit_mg_l_n"].get<double>(), 0);
  const Json& ready = o["milestones"]["ready_for_fish"];
  EXPECT_EQ(ready["applies"], false);
  for (const char* level : {"p05", "p25", "p50", "p75", "p95"}) EXPECT_TRUE(ready[level].is_null()) << level;
}

TEST(Outlook, with_fish_in_that_are_never_fed_assumes_a_load_and_doubts_it) {
  const LoopOnDisk loop(std::string(kPlainLoop) + "start = \"fish\"\n",
                        log_of("2026-03-04T09:00,nitrite,0,mg/L as NO2,\n"));
  const Json o = outlook(loop.path(), {"--days", "5"});
  expect_complete(o, 5);
  const auto about_feed = [](const Json& doubt) { return doubt["code"] == "feed_not_logged"; };
  EXPECT_TRUE(std::any_of(o["doubts"].begin(), o["doubts"].end(), about_feed)) << o["doubts"].dump();
  EXPECT_GT(o["now"]["ammonia"]["p50"].get<double>(), 0.1) << "three days of an unknown load";
}

TEST(Outlook, speaks_to_people_without_json_in_the_loops_zone) {
  const Said run = helmwater({"outlook", demo("north-bench"), "--members", "400", "--days", "30"});
  EXPECT_EQ(run.exit_code, 0) << run.err;
  EXPECT_TRUE(Json::parse(run.out, nullptr, false).is_discarded());
  EXPECT_NE(run.out.find("North bench"), std::string::npos);
  EXPECT_EQ(run.out.find('\x1b'), std::string::npos) << "no colour codes where there is no terminal";
}

class OutlookMisuse : public testing::TestWithParam<Words> {};

TEST_P(OutlookMisuse, is_exit_code_2_with_a_message_and_nothing_on_standard_output) {
  const Said run = outlook_run(demo("north-bench"), GetParam());
  EXPECT_EQ(run.exit_code, 2);
  EXPECT_EQ(run.out, "");
  EXPECT_NE(run.err.find(GetParam().front()), std::string::npos) << run.err;
}

INSTANTIATE_TEST_SUITE_P(Each, OutlookMisuse,
                         testing::Values(Words{"--as-of", "2026-02-30"}, Words{"--as-of", "tomorrow"},
                                         Words{"--as-of", "2020-01-01"}, Words{"--days", "0"},
                                         Words{"--days", "-3"}, Words{"--days", "nan"},
                                         Words{"--days", "many"}, Words{"--seed", "one"},
                                         Words{"--plan", "maybe"}, Words{"--plan"}, Words{"--every", "3"}),
                         [](const auto& tested) {
                           std::string name = testing::PrintToString(tested.index);
                           for (const std::string& word : tested.param)
                             for (char c : "_" + word)
                               name += std::isalnum(static_cast<unsigned char>(c)) ? c : '_';
                           return name;
                         });

TEST(OutlookMembers, none_or_too_few_or_no_number_is_exit_code_2) {
  for (const char* members : {"0", "-5", "1.5", "all"}) {
    const Said run = helmwater({"outlook", demo("north-bench"), "--json", "--members", members});
    EXPECT_EQ(run.exit_code, 2) << members;
    EXPECT_EQ(run.out, "");
    EXPECT_NE(run.err.find("--members"), std::string::npos) << run.err;
  }
}

}  // namespace
}  // namespace helmwater::cli_test
