// SPDX-License-Identifier: Apache-2.0
// helmwater fish at the shell: shape of its answer, and what it says to bad input.
#include <gtest/gtest.h>

#include "json_checks.hpp"
#include "loop_on_disk.hpp"
#include "run_program.hpp"

namespace helmwater::cli_test {
namespace {

using Words = std::vector<std::string>;

Said fish(const std::string& loop, const Words& more) {
  Words words{"fish", loop};
  words.insert(words.end(), more.begin(), more.end());
  return helmwater(words);
}
const Words kTwenty{"--count", "20", "--weight", "50", "--species", "tilapia", "--feed-percent", "2"};

TEST(Fish, the_loop_on_its_way_is_not_ready) {
  Words words = kTwenty;
  words.emplace_back("--json");
  const Json j = answer_of(fish(demo("north-bench"), words));
  EXPECT_EQ(j["verdict"], "not_yet") << "nitrite stood at 16 mg/L that morning";
  EXPECT_EQ(j["part_now"], false);
  EXPECT_EQ(j["fish"], false);
  EXPECT_EQ(j["asked"]["feed_g_per_day"], 20);
  ASSERT_EQ(j["after"].size(), 5u);
  for (const Json& a : j["after"]) {
    const double p = a["full"]["probability"].get<double>();
    EXPECT_GE(p, 0);
    EXPECT_LE(p, 1);
    // All limits together are never kept by more than one alone.
    for (const char* one : {"ammonia", "free_ammonia", "nitrite", "oxygen"}) EXPECT_LE(p, a["full"][one].get<double>() + 1e-9) << one;
  }
  EXPECT_LT(j["after"][0]["full"]["probability"].get<double>(), 0.01);
  EXPECT_NEAR(j["challenge"]["ammonium_chloride_g"].get<double>(), 3.14, 0.005) << "2 mg/L as NH3 in 500 L, molar masses";
  EXPECT_FALSE(j["cautions"].empty());
}

TEST(Fish, the_page_says_no_and_what_to_mind) {
  const Said said = fish(demo("long-raft"), kTwenty);
  EXPECT_EQ(said.exit_code, 0);
  EXPECT_NE(said.out.find("Not yet: keep fish out."), std::string::npos) << said.out;
  EXPECT_NE(said.out.find("Alkalinity is probably"), std::string::npos) << "none was left on the strip";
  for (const char* word : {"quarantine", "veterinarian", "authority", "chlorine"}) EXPECT_NE(said.out.find(word), std::string::npos) << word;
  EXPECT_EQ(said.out.find("legal"), std::string::npos);
  EXPECT_EQ(said.out, fish(demo("long-raft"), kTwenty).out) << "the same to the byte";
}

TEST(Fish, as_of_takes_the_log_to_that_moment) {
  Words words = kTwenty;
  words.insert(words.end(), {"--json", "--as-of", "2026-03-10"});
  EXPECT_EQ(answer_of(fish(demo("north-bench"), words))["as_of"], "2026-03-10T11:00:00Z");
}

TEST(Fish, bad_input_is_named_with_what_is_allowed) {
  const auto refused = [](const Words& words, const std::string& what) {
    const Said said = fish(demo("north-bench"), words);
    EXPECT_EQ(said.exit_code, 2) << what;
    EXPECT_TRUE(said.out.empty()) << said.out;
    EXPECT_NE(said.err.find(what), std::string::npos) << said.err;
  };
  refused({}, "how many fish");
  refused({"--count", "20"}, "--weight");
  refused({"--count", "0", "--weight", "50"}, "from 1 to 100000");
  refused({"--count", "nan", "--weight", "50"}, "from 1 to 100000");
  refused({"--count", "20", "--weight", "-5"}, "from 0.1 to 20000");
  refused({"--count", "20", "--weight", "50", "--feed", "20", "--feed-percent", "2"}, "excludes");
  refused({"--count", "20", "--weight", "50", "--feed-percent", "90"}, "from 0.1 to 30");
  refused({"--count", "20", "--weight", "50", "--protein", "3"}, "from 10 to 70");
  refused({"--count", "20", "--weight", "50", "--weeks", "60"}, "not in range 1 to 12");
  refused({"--count", "20", "--weight", "9000", "--species", "tilapia"}, "no ration for tilapia");
  refused({"--count", "20", "--weight", "50", "--feed", "5", "--as-of", "soon"}, "no moment");
  refused({"--count", "20", "--weight", "50", "--feed", "5", "--as-of", "2020-01-01"}, "before the loop started");
  EXPECT_EQ(fish("/no/such/folder", kTwenty).exit_code, 2);
}

}  // namespace
}  // namespace helmwater::cli_test
