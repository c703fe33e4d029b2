// SPDX-License-Identifier: Apache-2.0
// Every command that reads a loop folder refuses the same bad input the same way: exit code 2, nothing on
// standard output, and a message that says file, line and column, what was seen and what is allowed.
#include <gtest/gtest.h>

#include <regex>

#include "json_checks.hpp"
#include "loop_on_disk.hpp"
#include "run_program.hpp"

namespace helmwater::cli_test {
namespace {

using Words = std::vector<std::string>;

struct LoopCommand {
  std::string name;
  Words after_folder;
};
const LoopCommand kCommands[] = {{"explain", {"--json"}},
                                 {"outlook", {"--json", "--members", "400", "--days", "5"}},
                                 {"hindcast", {"--json", "--members", "400"}}};

Words call(const LoopCommand& command, const std::string& folder) {
  Words words{command.name, folder};
  words.insert(words.end(), command.after_folder.begin(), command.after_folder.end());
  return words;
}

constexpr int kWholeFile = -1;  // what is missing stands on no line

struct BadInput {
  std::string name;
  std::string loop_toml;
  std::string log_csv;
  std::string file;  // that the message names
  int line = 0;
  int column = 0;  // 0: any
  Words says;
};
void PrintTo(const BadInput& bad, std::ostream* out) { *out << bad.name; }

// The row stands on line 3, after a good one.
BadInput row(std::string name, const std::string& text, int column, Words says) {
  return {std::move(name),
          std::string(kPlainLoop),
          log_of("2026-03-01T09:00,ammonia,2,mg/L as N,\n" + text + "\n"),
          "log.csv",
          3,
          column,
          std::move(says)};
}
// The lines follow the four of the plain loop.
BadInput toml(std::string name, const std::string& lines, int line, Words says) {
  return {std::move(name), std::string(kPlainLoop) + lines, std::string(kHeader), "loop.toml", line, 0,
          std::move(says)};
}
BadInput whole_toml(std::string name, std::string text, int line, Words says) {
  return {std::move(name), std::move(text), std::string(kHeader), "loop.toml", line, 0, std::move(says)};
}
BadInput whole_log(std::string name, std::string text, int line, int column, Words says) {
  return {std::move(name), std::string(kPlainLoop), std::move(text), "log.csv", line,
          column,          std::move(says)};
}

const std::string kTwoKits =
    "[[kit]]\ntest = \"ammonia\"\nbasis = \"N\"\nid = \"old\"\n[[kit]]\ntest = \"ammonia\"\nbasis = "
    "\"NH3\"\nid = \"new\"\n";

std::vector<BadInput> bad_inputs() {
  using std::string_literals::operator""s;
  return {
      // log.csv, one cell. The column is that of the cell's first byte.
      row("unknown_unit", "2026-03-02,ammonia,1,stone,", 22, {"stone", "mg/L"}),
      row("reading_without_basis", "2026-03-02,nitrite,1,mg/L,", 22, {"as N", "as NO2"}),
      row("unknown_what", "2026-03-02,amonia,1,mg/L as N,", 12, {"amonia", "ammonia"}),
      row("unknown_substance", "2026-03-02,dose,5,g,moon dust", 21, {"moon dust"}),
      row("dose_without_substance", "2026-03-02,dose,5,g,", 0, {"substance"}),
      row("effect_without_substance", "2026-03-02,dose,to 4,mg/L as N,", 0, {"substance"}),
      row("liquid_without_strength", "2026-03-02,dose,5,mL,ammonia solution", 22, {"%"}),
      row("impossible_date", "2026-02-30,ammonia,1,mg/L as N,", 1, {"2026-02-30"}),
      row("impossible_time", "2026-03-02T25:00,ammonia,1,mg/L as N,", 1, {"25:00"}),
      row("date_in_another_order", "02.03.2026,ammonia,1,mg/L as N,", 1, {"02.03.2026", "2026-"}),
      row("nan", "2026-03-02,ammonia,nan,mg/L as N,", 20, {"nan"}),
      row("infinity", "2026-03-02,ammonia,inf,mg/L as N,", 20, {"inf"}),
      row("a_word_for_a_number", "2026-03-02,nitrite,lots,mg/L as N,", 20, {"lots"}),
      row("missing_reading", "2026-03-02,ammonia,,mg/L as N,", 20, {}),
      row("negative_reading", "2026-03-02,ammonia,-1,mg/L as N,", 20, {"-1"}),
      row("negative_dose", "2026-03-02,dose,-5,g,ammonium chloride", 17, {"-5"}),
      row("nan_dose", "2026-03-02,dose,nan,g,ammonium chloride", 17, {"nan"}),
      row("negative_feed", "2026-03-02,feed,-3,g,", 17, {"-3"}),
      row("more_than_all_water", "2026-03-02,water change,120,%,", 25, {"120", "100"}),
      row("no_volume_left", "2026-03-02,volume,0,L,leak", 19, {"0"}),
      row("part_of_a_fish", "2026-03-02,fish in,1.5,,\"tilapia, 10 g, stocked\"", 20, {"1.5"}),
      row("ph_off_the_scale", "2026-03-02,ph,15,,", 15, {"15", "14"}),
      row("range_backwards", "2026-03-02,ammonia,2..1,mg/L as N,", 20, {"2..1", "1..2"}),
      row("decimal_comma", "2026-03-02,ammonia,\"0,5\",mg/L as N,", 20, {"0,5", "decimal point"}),
      row("decimal_comma_unquoted", "2026-03-02,ammonia,0,5,mg/L as N,", 0, {"decimal"}),
      // log.csv, the file
      whole_log("semicolons", "when;what;value;unit;detail\n2026-03-02;ammonia;1;mg/L as N;\n", 1, 0,
                {";", ","}),
      whole_log("semicolons_below_a_good_header", log_of("2026-03-02;ammonia;1;mg/L as N;\n"), 2, 0, {";"}),
      whole_log("missing_header", "2026-03-02,ammonia,1,mg/L as N,\n", 1, 0, {"when,what,value,unit,detail"}),
      whole_log("header_in_another_order", "what,when,value,unit,detail\n", 1, 0,
                {"when,what,value,unit,detail"}),
      whole_log("empty_file", "", 1, 0, {"when,what,value,unit,detail"}),
      whole_log("line_over_64_KiB", log_of("2026-03-02,note,,," + std::string(65536, 'x') + "\n"), 2, 0,
                {"64"}),
      whole_log("nul_byte", log_of("2026-03-02,note,,,a\0b\n"s), 2, 0, {"NUL"}),
      whole_log("unclosed_quote", log_of("2026-03-02,note,,,\"never closed\n"), 2, 0, {}),
      whole_log("not_utf_8", log_of("2026-03-02,note,,,caf\xe9 water\n"), 2, 0, {"UTF-8"}),
      // loop.toml
      toml("unknown_key", "volumme_l = 5\n", 5, {"volumme_l", "volume_l"}),
      toml("unknown_key_in_a_section", "[plan]\nredoze = \"none\"\n", 6, {"redoze", "redose"}),
      toml("unknown_word", "start = \"seedy\"\n", 5, {"seedy", "unseeded"}),
      toml("unknown_zone", "", 3, {"Mars/Base"}),
      toml("wrong_type", "turnover_per_h = \"fast\"\n", 5, {"turnover_per_h"}),
      toml("nan_in_toml", "typical_temperature_c = nan\n", 5, {"typical_temperature_c"}),
      toml("temperature_out_of_range", "typical_temperature_c = 77\n", 5, {"77", "45"}),
      toml("kit_without_basis", "[[kit]]\ntest = \"nitrite\"\n", 0, {"basis", "NO2"}),
      toml("kit_steps_not_rising", "[[kit]]\ntest = \"nitrite\"\nbasis = \"NO2\"\nsteps = [0, 2, 1]\n", 8,
           {"steps"}),
      toml("kit_of_an_unknown_test", "[[kit]]\ntest = \"mood\"\n", 6, {"mood"}),
      whole_toml("no_volume", "name = \"x\"\n", kWholeFile, {"volume_l"}),
      whole_toml("no_name", "volume_l = 100\n", kWholeFile, {"name"}),
      whole_toml("volume_zero", "name = \"x\"\nvolume_l = 0\n", 2, {"volume_l"}),
      whole_toml("volume_negative", "name = \"x\"\nvolume_l = -100\n", 2, {"volume_l"}),
      whole_toml("impossible_start", "name = \"x\"\nvolume_l = 100\nstarted = \"2026-02-30\"\n", 3,
                 {"started"}),
      whole_toml("broken_toml", "name = \"x\nvolume_l = 100\n", 1, {}),
      {"two_kits_at_one_time",
       std::string(kPlainLoop) + kTwoKits,
       log_of("2026-03-02,ammonia,1,mg/L,\n"),
       "log.csv",
       2,
       0,
       {"kit", "old", "new"}},
  };
}

class BadLoop : public testing::TestWithParam<std::tuple<LoopCommand, BadInput>> {};

TEST_P(BadLoop, is_refused_with_a_place_and_a_message) {
  const auto& [command, bad] = GetParam();
  std::string loop_toml = bad.loop_toml;
  if (bad.name == "unknown_zone") loop_toml.replace(loop_toml.find("UTC"), 3, "Mars/Base");
  const LoopOnDisk loop(loop_toml, bad.log_csv);
  const Said run = helmwater(call(command, loop.path()));
  EXPECT_EQ(run.exit_code, 2) << run.err;
  EXPECT_EQ(run.out, "");
  for (const std::string& word : bad.says)
    EXPECT_NE(run.err.find(word), std::string::npos) << word << ": " << run.err;
  if (bad.line == kWholeFile) {
    EXPECT_NE(run.err.find("/" + bad.file + ": "), std::string::npos) << run.err;
    return;
  }
  std::smatch place;
  ASSERT_TRUE(std::regex_search(run.err, place, std::regex("(loop\\.toml|log\\.csv):(\\d+):(\\d+)")))
      << run.err;
  EXPECT_EQ(place[1], bad.file) << run.err;
  if (bad.line > 0) {
    EXPECT_EQ(std::stoi(place[2]), bad.line) << run.err;
  }
  if (bad.column > 0) {
    EXPECT_EQ(std::stoi(place[3]), bad.column) << run.err;
  }
}

INSTANTIATE_TEST_SUITE_P(Each, BadLoop,
                         testing::Combine(testing::ValuesIn(kCommands), testing::ValuesIn(bad_inputs())),
                         [](const auto& tested) {
                           return std::get<0>(tested.param).name + "_" + std::get<1>(tested.param).name;
                         });

class BadFolder : public testing::TestWithParam<LoopCommand> {};

void expect_refused(const Said& run, const std::string& word) {
  EXPECT_EQ(run.exit_code, 2) << run.err;
  EXPECT_EQ(run.out, "");
  EXPECT_NE(run.err.find(word), std::string::npos) << run.err;
}

TEST_P(BadFolder, that_does_not_exist) {
  const Folder nothing;
  expect_refused(helmwater(call(GetParam(), nothing.path("no_such_loop"))), "no_such_loop");
}
TEST_P(BadFolder, that_is_a_file) {
  const Folder folder;
  folder.write("file", "");
  expect_refused(helmwater(call(GetParam(), folder.path("file"))), "file");
}
TEST_P(BadFolder, without_loop_toml) {
  const LoopOnDisk loop(std::nullopt, std::string(kHeader));
  expect_refused(helmwater(call(GetParam(), loop.path())), "loop.toml");
}
TEST_P(BadFolder, without_log_csv) {
  const LoopOnDisk loop(std::string(kPlainLoop), std::nullopt);
  expect_refused(helmwater(call(GetParam(), loop.path())), "log.csv");
}
TEST_P(BadFolder, not_named) { expect_refused(helmwater({GetParam().name, "--json"}), "LOOP"); }
TEST_P(BadFolder, named_with_an_unknown_option) {
  Words words = call(GetParam(), demo("north-bench"));
  words.emplace_back("--crystal-ball");
  expect_refused(helmwater(words), "--crystal-ball");
}

INSTANTIATE_TEST_SUITE_P(Each, BadFolder, testing::ValuesIn(kCommands),
                         [](const auto& tested) { return tested.param.name; });

struct OddInput {
  std::string name;
  std::string log_csv;
  int entry = 0;
};
void PrintTo(const OddInput& odd, std::ostream* out) { *out << odd.name; }

const OddInput kOddInputs[] = {
    {"duplicate_line",
     log_of("2026-03-02T09:00,ammonia,2,mg/L as N,\n2026-03-02T09:00,ammonia,2,mg/L as N,\n"), 3},
    {"before_the_start",
     log_of("2026-02-20T09:00,ammonia,2,mg/L as N,\n2026-03-02T09:00,nitrite,0,mg/L as N,\n"), 2},
    {"readings_that_contradict",
     log_of("2026-03-02T09:00,ammonia,0,mg/L as N,\n2026-03-02T09:20,ammonia,8,mg/L as N,\n"), 3},
    {"unknown_crop",
     log_of("2026-03-02T09:00,plants in,5,,\"moonwort, seedling\"\n2026-03-03,nitrite,0,mg/L as N,\n"), 2},
    {"unknown_species",
     log_of("2026-03-02T09:00,fish in,5,,\"snark, 10 g, stocked\"\n2026-03-03,nitrite,0,mg/L as N,\n"), 2}};

class OddLoop : public testing::TestWithParam<std::tuple<LoopCommand, OddInput>> {};

TEST_P(OddLoop, is_usable_and_gets_a_doubt_about_its_line) {
  const auto& [command, odd] = GetParam();
  const LoopOnDisk loop(std::string(kPlainLoop), odd.log_csv);
  const Json json = answer_of(helmwater(call(command, loop.path())));
  ASSERT_TRUE(json.is_object());
  if (command.name == "hindcast") return;  // has no doubts in its answer
  ASSERT_TRUE(has_keys(json, {"doubts"}));
  bool found = false;
  for (const Json& doubt : json["doubts"]) {
    ASSERT_TRUE(has_keys(doubt, {"entry", "code", "text"}));
    found = found || (doubt["entry"].is_number_integer() && doubt["entry"] == odd.entry &&
                      doubt["code"].is_string() && !doubt["text"].get<std::string>().empty());
  }
  EXPECT_TRUE(found) << json["doubts"].dump();
}

INSTANTIATE_TEST_SUITE_P(Each, OddLoop,
                         testing::Combine(testing::ValuesIn(kCommands), testing::ValuesIn(kOddInputs)),
                         [](const auto& tested) {
                           return std::get<0>(tested.param).name + "_" + std::get<1>(tested.param).name;
                         });

}  // namespace
}  // namespace helmwater::cli_test
