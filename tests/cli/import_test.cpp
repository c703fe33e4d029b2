// SPDX-License-Identifier: Apache-2.0
// helmwater import --wide at the shell, on invented sheets.
#include <gtest/gtest.h>

#include <algorithm>
#include <filesystem>

#include "json_checks.hpp"
#include "loop_on_disk.hpp"
#include "run_program.hpp"

namespace helmwater::cli_test {
namespace {

using Words = std::vector<std::string>;

constexpr const char* kSheet =
    "day,ammonia,nitrite,nitrate,ph,temp_c,event\n"
    "0,,,,7.6,24,filled\n"
    "1,4-5,0,,,,first dose\n"
    "3,>=4,<=0.25,,7.4-7.8,,\n"
    "6,2?,~1,10,,25.5,\"smells, clear\"\n"
    "9,lots,>5,present,7.2,,\n";

Words import_to(const std::string& sheet, const std::string& out, const Words& more = {}) {
  Words words{"import", sheet,     "--wide", "--start", "2026-03-01", "--volume",
              "120L",   "--basis", "ion",    "--out",   out};
  words.insert(words.end(), more.begin(), more.end());
  return words;
}

class Import : public testing::Test {
 protected:
  Import() { folder_.write("sheet.csv", kSheet); }
  std::string sheet() const { return folder_.path("sheet.csv"); }
  std::string out() const { return folder_.path("loop"); }
  std::string row(const std::string& start) const {
    const std::string log = "\n" + text_of(out() + "/log.csv");
    const auto at = log.find("\n" + start);
    return at == std::string::npos ? "(no row " + start + ")"
                                   : log.substr(at + 1, log.find('\n', at + 1) - at - 1);
  }
  Folder folder_;
};

TEST_F(Import, makes_a_folder_that_explain_reads) {
  const Said run = helmwater(import_to(sheet(), out()));
  EXPECT_EQ(run.exit_code, 0) << run.err;
  const Json json = answer_of(helmwater({"explain", out(), "--json"}));
  // 13 readings with a number and 3 events; "lots" and "present" are no numbers.
  EXPECT_EQ(json["lines"].size(), 16u);
}

TEST_F(Import, turns_each_way_of_writing_into_the_logs_own) {
  ASSERT_EQ(helmwater(import_to(sheet(), out())).exit_code, 0);
  EXPECT_EQ(row("2026-03-02,ammonia").substr(0, 35), "2026-03-02,ammonia,4..5,mg/L as ion");
  EXPECT_EQ(row("2026-03-04,ammonia").substr(0, 33), "2026-03-04,ammonia,>4,mg/L as ion");
  EXPECT_EQ(row("2026-03-04,nitrite").substr(0, 36), "2026-03-04,nitrite,<0.25,mg/L as ion");
  EXPECT_EQ(row("2026-03-04,ph").substr(0, 22), "2026-03-04,ph,7.4..7.8");
  EXPECT_EQ(row("2026-03-07,ammonia").substr(0, 33), "2026-03-07,ammonia,2?,mg/L as ion");
  EXPECT_EQ(row("2026-03-07,temperature").substr(0, 32), "2026-03-07,temperature,25.5,degC");
  EXPECT_EQ(row("2026-03-07,note"), "2026-03-07,note,\"smells, clear\",,");
}

TEST_F(Import, lists_the_cells_it_cannot_read_and_exits_0) {
  const Json json = answer_of(helmwater(import_to(sheet(), out(), {"--json"})));
  ASSERT_EQ(json["unread"].size(), 2u) << json.dump();
  EXPECT_EQ(json["unread"][0]["line"], 6);
  EXPECT_EQ(json["unread"][0]["text"], "lots");
  EXPECT_EQ(json["unread"][1]["text"], "present");
  folder_.write("again.csv", kSheet);
  const Said people = helmwater(import_to(folder_.path("again.csv"), folder_.path("second")));
  EXPECT_NE((people.out + people.err).find("lots"), std::string::npos);
}

TEST_F(Import, counts_as_nitrogen_when_told) {
  Words words = import_to(sheet(), out());
  words[8] = "N";
  ASSERT_EQ(helmwater(words).exit_code, 0);
  EXPECT_NE(row("2026-03-02,ammonia").find("mg/L as N"), std::string::npos);
}

TEST_F(Import, keeps_start_volume_begin_and_temperature) {
  ASSERT_EQ(
      helmwater(import_to(sheet(), out(), {"--begin", "seeded media", "--temperature", "26"})).exit_code, 0);
  const std::string toml = text_of(out() + "/loop.toml");
  for (const char* line :
       {"volume_l = ", "120", "start = \"seeded media\"", "typical_temperature_c = 26", "2026-03-01"})
    EXPECT_NE(toml.find(line), std::string::npos) << line << "\n" << toml;
}

TEST_F(Import, does_not_overwrite_a_loop) {
  ASSERT_EQ(helmwater(import_to(sheet(), out())).exit_code, 0);
  const std::string before = text_of(out() + "/log.csv");
  folder_.write("other.csv", "day,ammonia\n0,1\n");
  const Said run = helmwater(import_to(folder_.path("other.csv"), out()));
  EXPECT_EQ(run.exit_code, 2);
  EXPECT_NE(run.err.find("loop.toml"), std::string::npos) << run.err;
  EXPECT_EQ(text_of(out() + "/log.csv"), before);
}

TEST_F(Import, misuse_is_exit_code_2_and_nothing_is_written) {
  const auto without = [&](const std::string& option, std::size_t words) {
    Words all = import_to(sheet(), out());
    const auto at = std::find(all.begin(), all.end(), option);
    all.erase(at, at + static_cast<std::ptrdiff_t>(words));
    return all;
  };
  const auto with = [&](const std::string& option, const std::string& value) {
    Words all = import_to(sheet(), out());
    *(std::find(all.begin(), all.end(), option) + 1) = value;
    return all;
  };
  for (const Words& words : {without("--wide", 1), without("--start", 2), without("--volume", 2),
                             without("--basis", 2), without("--out", 2), with("--start", "2026-02-30"),
                             with("--start", "yesterday"), with("--volume", "0L"), with("--volume", "-5L"),
                             with("--volume", "nan"), with("--volume", "3 buckets"), with("--basis", "ppm"),
                             import_to(sheet(), out(), {"--begin", "magic"}),
                             import_to(sheet(), out(), {"--temperature", "900"})}) {
    SCOPED_TRACE(Json(words).dump());
    const Said run = helmwater(words);
    EXPECT_EQ(run.exit_code, 2) << run.err;
    EXPECT_EQ(run.out, "");
    EXPECT_NE(run.err, "");
    EXPECT_FALSE(std::filesystem::exists(out()));
  }
}

TEST_F(Import, a_sheet_that_is_not_there_is_exit_code_1_with_its_name) {
  const Said run = helmwater(import_to(folder_.path("nothing.csv"), out()));
  EXPECT_EQ(run.exit_code, 1) << "a file that is not available";
  EXPECT_EQ(run.out, "");
  EXPECT_NE(run.err.find("nothing.csv"), std::string::npos) << run.err;
}

TEST_F(Import, a_sheet_without_a_day_column_is_refused_with_file_and_line) {
  folder_.write("bad.csv", "date,ammonia\n2026-03-01,1\n");
  const Said run = helmwater(import_to(folder_.path("bad.csv"), out()));
  EXPECT_EQ(run.exit_code, 2);
  EXPECT_NE(run.err.find("bad.csv:1"), std::string::npos) << run.err;
  EXPECT_FALSE(std::filesystem::exists(out()));
}

}  // namespace
}  // namespace helmwater::cli_test
