// SPDX-License-Identifier: Apache-2.0
// helmwater outlook and hindcast with --history: earlier start-ups of the same keeper.
#include <gtest/gtest.h>

#include <filesystem>

#include "json_checks.hpp"
#include "loop_on_disk.hpp"
#include "run_program.hpp"

namespace helmwater::cli_test {
namespace {

// A start-up with mature media, over in three weeks; `month` sets it apart.
void add_loop(const Folder& shed, const std::string& name, const std::string& month) {
  std::filesystem::create_directory(shed.path(name));
  shed.write(name + "/loop.toml", "name = \"" + name + "\"\nvolume_l = 500\nstarted = 2026-" + month +
                                      "-01T08:00:00Z\nstart = \"seeded media\"\n[source_water]\nalkalinity_mg_l_caco3 = 150\n"
                                      "[[kit]]\ntest = \"ammonia\"\nid = \"a1\"\nbasis = \"NH3\"\nsteps = [0, 0.25, 0.5, 1, 2, 4]\n"
                                      "[[kit]]\ntest = \"nitrite\"\nid = \"n1\"\nbasis = \"NO2\"\nsteps = [0, 0.25, 0.5, 1, 2, 5]\n");
  const char* ammonia[] = {"2", "2", "1", "0.5", "0.25", "0", "0", "0", "0", "0"};
  const char* nitrite[] = {"0", "0.25", "1", "1", "2", "2", "1", "0.25", "0", "0"};
  std::string log = "when,what,value,unit,detail,kit\n2026-" + month + "-01T09:00Z,dose,1.6,g,ammonium chloride,\n";
  for (int k = 0; k < 10; ++k) {
    const int day = 2 + 2 * k;
    const std::string when = "2026-" + month + (day < 10 ? "-0" : "-") + std::to_string(day) + "T18:00Z";
    log += when + ",ammonia," + ammonia[k] + ",mg/L,,a1\n" + when + ",nitrite," + nitrite[k] + ",mg/L,,n1\n";
  }
  shed.write(name + "/log.csv", log);
}

class HistoryOfAShed : public testing::Test {
 protected:
  HistoryOfAShed() {
    add_loop(shed_, "spring", "03");
    add_loop(shed_, "summer", "05");
    add_loop(shed_, "autumn", "09");
  }
  Said outlook(const std::string& as_of, const std::string& history) const {
    std::vector<std::string> words{"outlook", shed_.path("autumn"), "--json", "--members", "500", "--as-of", as_of};
    if (!history.empty()) words.insert(words.end(), {"--history", history});
    return helmwater(words, {.input_closed = false, .environment = {{"HELMWATER_CACHE", shed_.path("cache")}}, .output_to = {}});
  }
  Folder shed_;
};

TEST_F(HistoryOfAShed, earlier_start_ups_are_named_and_narrow_the_dates) {
  const Json with = answer_of(outlook("2026-09-03", shed_.path())), without = answer_of(outlook("2026-09-03", ""));
  EXPECT_EQ(with["history"]["loops"], 2);
  EXPECT_EQ(with["history"]["text"], "Based on 2 earlier start-ups of yours.");
  EXPECT_EQ(with["history"]["of"], Json({"spring", "summer"}));
  EXPECT_FALSE(with["history"]["learnt"].empty());
  EXPECT_EQ(without["history"]["loops"], 0);
  EXPECT_TRUE(without["history"]["learnt"].empty());
  // Two loops whose nitrite was clear by day 18 make it likelier that this one's will be in time.
  EXPECT_GT(with["milestones"]["nitrite_first_clear"]["probability_within_days"],
            without["milestones"]["nitrite_first_clear"]["probability_within_days"]);
  EXPECT_EQ(answer_of(outlook("2026-09-03", shed_.path())), with) << "from what was kept";
}

TEST_F(HistoryOfAShed, what_was_not_yet_known_is_not_used) {
  const Json june = answer_of(helmwater({"outlook", shed_.path("summer"), "--json", "--members", "500", "--as-of", "2026-05-03", "--history", shed_.path()}));
  EXPECT_EQ(june["history"]["loops"], 0);  // only spring was over, and autumn had not begun
}

TEST_F(HistoryOfAShed, a_folder_that_cannot_be_read_is_a_doubt) {
  std::filesystem::create_directory(shed_.path("broken"));
  shed_.write("broken/loop.toml", "volume_l = \"much\"\n");
  const Json j = answer_of(outlook("2026-09-03", shed_.path()));
  EXPECT_EQ(j["history"]["loops"], 2);
  bool said = false;
  for (const Json& doubt : j["doubts"]) {
    said = said || (doubt["code"] == "history_unreadable" && doubt["text"].get<std::string>().find("broken") != std::string::npos);
  }
  EXPECT_TRUE(said) << j["doubts"];
}

TEST_F(HistoryOfAShed, a_folder_without_loops_is_an_error) {
  const Folder empty;
  for (const std::string& folder : {empty.path(), empty.path("nowhere"), shed_.path("autumn/log.csv"), shed_.path("autumn")}) {
    const Said said = outlook("2026-09-03", folder);
    EXPECT_EQ(said.exit_code, 2) << folder;
    EXPECT_TRUE(said.out.empty());
    EXPECT_NE(said.err.find("--history"), std::string::npos) << said.err;
  }
}

TEST_F(HistoryOfAShed, next_and_fish_take_it_too) {
  for (const std::vector<std::string>& words : {std::vector<std::string>{"next", shed_.path("autumn"), "--json", "--as-of", "2026-09-03", "--members", "500"},
                                                std::vector<std::string>{"fish", shed_.path("autumn"), "--json", "--as-of", "2026-09-03", "--count", "20", "--weight", "50"}}) {
    std::vector<std::string> with = words;
    with.insert(with.end(), {"--history", shed_.path()});
    EXPECT_NE(answer_of(helmwater(with)), answer_of(helmwater(words))) << words.front();
    with.back() = shed_.path("autumn");
    EXPECT_EQ(helmwater(with).exit_code, 2) << words.front();
  }
}

TEST_F(HistoryOfAShed, hindcast_takes_it_too) {
  const Json with = answer_of(helmwater({"hindcast", shed_.path("autumn"), "--json", "--members", "500", "--as-of", "2026-09-05", "--history", shed_.path()}));
  const Json without = answer_of(helmwater({"hindcast", shed_.path("autumn"), "--json", "--members", "500", "--as-of", "2026-09-05"}));
  ASSERT_EQ(with["cases"].size(), without["cases"].size());
  EXPECT_NE(with["cases"], without["cases"]);
}

}  // namespace
}  // namespace helmwater::cli_test
