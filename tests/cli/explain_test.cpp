// SPDX-License-Identifier: Apache-2.0
// helmwater explain at the shell.
#include <gtest/gtest.h>

#include <algorithm>

#include "json_checks.hpp"
#include "loop_on_disk.hpp"
#include "run_program.hpp"

namespace helmwater::cli_test {
namespace {

class DemoLoop : public testing::TestWithParam<const char*> {};

TEST_P(DemoLoop, is_read_without_a_doubt_and_every_line_is_explained) {
  const Json json = answer_of(helmwater({"explain", demo(GetParam()), "--json"}));
  EXPECT_EQ(json["doubts"].dump(), "[]");
  const std::string text = text_of(demo(GetParam()) + "/log.csv");
  EXPECT_EQ(json["lines"].size(), static_cast<std::size_t>(std::count(text.begin(), text.end(), '\n')) - 1);
  for (const Json& assumed : json["assumed"])
    if (assumed["what"] == "time zone") {
      EXPECT_EQ(assumed["stated"], true);
    }
}

TEST_P(DemoLoop, is_explained_to_people_line_by_line) {
  const Said run = helmwater({"explain", demo(GetParam())});
  EXPECT_EQ(run.exit_code, 0);
  EXPECT_NE(run.out.find("ammonium chloride"), std::string::npos);
  EXPECT_NE(run.out.find("by the chart"), std::string::npos);
  EXPECT_EQ(run.err, "");
}

INSTANTIATE_TEST_SUITE_P(Each, DemoLoop, testing::Values("north-bench", "long-raft"), [](const auto& tested) {
  std::string name = tested.param;
  std::replace(name.begin(), name.end(), '-', '_');
  return name;
});

TEST(Explain, the_start_up_that_really_happened_is_read_without_a_doubt) {
  const Json json = answer_of(helmwater({"explain", HELMWATER_TEST_DATA "/reference/startup_log", "--json"}));
  EXPECT_EQ(json["doubts"].dump(), "[]");
}

TEST(Explain, a_step_reaches_to_the_geometric_middle_and_the_basis_is_converted) {
  const LoopOnDisk loop(
      std::string(kPlainLoop) + "[[kit]]\ntest = \"nitrite\"\nbasis = \"ion\"\nsteps = [0, 0.5, 1, 4, 9]\n",
      log_of("2026-03-02T09:00,nitrite,4,mg/L,\n2026-03-03T09:00,nitrite,9,ppm,\n"
             "2026-03-04T09:00,nitrite,1,mg/L as N,\n"));
  const Json json = answer_of(helmwater({"explain", loop.path(), "--json"}));
  ASSERT_EQ(json["lines"].size(), 3u);
  const Json& step = json["lines"][0]["reading"];
  // sqrt(1 x 4) and sqrt(4 x 9); as N by 14.007 / 46.005 (IUPAC atomic weights).
  EXPECT_NEAR(step["low"].get<double>(), 2, 1e-9);
  EXPECT_NEAR(step["high"].get<double>(), 6, 1e-9);
  EXPECT_NEAR(step["low_mg_l_n"].get<double>(), 2 * 14.007 / 46.005, 2e-4);
  EXPECT_TRUE(json["lines"][1]["reading"]["high"].is_null()) << "the top step is open";
  EXPECT_EQ(json["lines"][2]["reading"]["basis"], "N") << "the unit's own basis wins over the kit's";
}

TEST(Explain, says_so_when_the_time_zone_was_not_stated) {
  const LoopOnDisk loop("name = \"x\"\nvolume_l = 100\n", log_of("2026-03-02T09:00,ammonia,1,mg/L as N,\n"));
  const Said run = helmwater({"explain", loop.path()});
  EXPECT_EQ(run.exit_code, 0);
  EXPECT_NE(run.out.find("UTC  (not stated, assumed)"), std::string::npos) << run.out;
}

TEST(Explain, says_not_used_of_a_word_the_model_does_not_use) {
  const LoopOnDisk loop(std::string(kPlainLoop), log_of("2026-03-02T09:00,heater,on,,\n"));
  const Said run = helmwater({"explain", loop.path()});
  EXPECT_EQ(run.exit_code, 0);
  EXPECT_NE(run.out.find("not used"), std::string::npos);
}

// 50 g of potassium chloride hold 26.23 g of potassium and 23.78 g of chloride (52.45 and 47.55 % in a worked table of
// reagents): 262 and 238 mg/L in 100 L; half of the water changed leaves half of it.
TEST(Explain, says_what_doses_and_water_have_brought) {
  const LoopOnDisk loop(std::string(kPlainLoop),
                        log_of("2026-03-02T09:00,dose,50,g,potassium chloride\n2026-03-03T09:00,water change,50,%,\n"
                               "2026-03-04T09:00,calcium,40..60,mg/L,\n2026-03-05T09:00,dose,+20,mg/L as CaCO3,sodium bicarbonate\n"));
  const Json minerals = answer_of(helmwater({"explain", loop.path(), "--json"}))["minerals"];
  ASSERT_EQ(minerals["ions"].size(), 3u);
  const Json &potassium = minerals["ions"][0], &calcium = minerals["ions"][1], &chloride = minerals["ions"][2];
  EXPECT_EQ(potassium["ion"], "potassium");
  EXPECT_NEAR(potassium["middle"].get<double>(), 131.1, 0.1);
  EXPECT_EQ(potassium["counts"], "doses_alone");
  EXPECT_EQ(potassium["course"].front()["middle"], 0);
  EXPECT_EQ(chloride["ion"], "chloride");
  EXPECT_NEAR(chloride["middle"].get<double>(), 118.9, 0.1);
  EXPECT_EQ(calcium["ion"], "calcium");
  EXPECT_NEAR(calcium["low"].get<double>(), 40, 1e-9);
  EXPECT_NEAR(calcium["high"].get<double>(), 60, 1e-9);
  EXPECT_EQ(calcium["read"], "2026-03-04T09:00:00Z");
  ASSERT_EQ(minerals["not_counted"].size(), 1u);
  EXPECT_EQ(minerals["not_counted"][0]["entry"], 5);

  const Said people = helmwater({"explain", loop.path()});
  EXPECT_NE(people.out.find("potassium  131 ("), std::string::npos) << people.out;
  EXPECT_NE(people.out.find("what the source water brings is not known"), std::string::npos);
  EXPECT_NE(people.out.find("read 4 Mar 2026"), std::string::npos);
  EXPECT_NE(people.out.find("line 5: not counted"), std::string::npos);
}

TEST(Explain, says_so_when_no_dose_brought_any_ion) {
  const LoopOnDisk loop(std::string(kPlainLoop), log_of("2026-03-02T09:00,ammonia,1,mg/L as N,\n"));
  const Json minerals = answer_of(helmwater({"explain", loop.path(), "--json"}))["minerals"];
  EXPECT_EQ(minerals["ions"].dump(), "[]");
  EXPECT_NE(helmwater({"explain", loop.path()}).out.find("no dose has brought any"), std::string::npos);
}

TEST(Explain, a_log_with_byte_order_mark_windows_line_ends_and_blank_lines_is_the_same_log) {
  const LoopOnDisk plain(std::string(kPlainLoop), log_of("2026-03-02T09:00,ammonia,1,mg/L as N,\n"));
  const LoopOnDisk windows(
      "\xEF\xBB\xBFname = \"Test loop\"\r\nvolume_l = 100\r\n\r\ntime_zone = \"UTC\"\r\nstarted = "
      "2026-03-01T08:00:00\r\n",
      "\xEF\xBB\xBFwhen,what,value,unit,detail\r\n2026-03-02T09:00,ammonia,1,mg/L as N,\r\n\r\n");
  EXPECT_EQ(helmwater({"explain", plain.path(), "--json"}).out,
            helmwater({"explain", windows.path(), "--json"}).out);
}

}  // namespace
}  // namespace helmwater::cli_test
