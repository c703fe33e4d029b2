// SPDX-License-Identifier: Apache-2.0
// The program is the same wherever it runs: no terminal, standard input closed, another zone, another
// language, no home.
#include <gtest/gtest.h>

#include <algorithm>

#include "json_checks.hpp"
#include "loop_on_disk.hpp"
#include "run_program.hpp"

namespace helmwater::cli_test {
namespace {

using Words = std::vector<std::string>;

const std::vector<Words>& commands() {
  static const std::vector<Words> all{
      {"water", "--ph", "7.4", "--alkalinity", "2 meq/L", "--json"},
      {"explain", demo("north-bench"), "--json"},
      {"explain", demo("long-raft")},
      {"outlook", demo("long-raft"), "--json", "--members", "400", "--days", "5"},
      {"hindcast", demo("north-bench"), "--json", "--members", "400", "--as-of", "2026-03-12"}};
  return all;
}

TEST(Surroundings, standard_input_closed_changes_nothing) {
  for (const Words& words : commands()) {
    SCOPED_TRACE(words.front());
    const Said open = helmwater(words),
               closed = helmwater(words, {.input_closed = true, .environment = {}, .output_to = {}});
    EXPECT_EQ(open.exit_code, 0) << open.err;
    EXPECT_EQ(closed.exit_code, 0) << closed.err;
    EXPECT_EQ(open.out, closed.out);
    EXPECT_FALSE(open.out.empty());
  }
}

TEST(Surroundings, the_machines_zone_language_and_terminal_change_nothing) {
  const std::map<std::string, std::string> elsewhere{{"TZ", "Pacific/Auckland"}, {"LC_ALL", "de_DE.UTF-8"},
                                                     {"LANG", "de_DE.UTF-8"},    {"TERM", "dumb"},
                                                     {"COLUMNS", "20"},          {"HOME", "/nonexistent"}};
  for (const Words& words : commands()) {
    SCOPED_TRACE(words.front());
    const Said here = helmwater(words),
               there = helmwater(words, {.input_closed = false, .environment = elsewhere, .output_to = {}});
    EXPECT_EQ(there.exit_code, 0) << there.err;
    EXPECT_EQ(here.out, there.out);
  }
}

TEST(Surroundings, json_is_one_object_and_one_line_end) {
  for (const Words& words : commands()) {
    if (std::find(words.begin(), words.end(), "--json") == words.end()) continue;
    SCOPED_TRACE(words.front());
    const Said run = helmwater(words);
    EXPECT_TRUE(answer_of(run).is_object());
    EXPECT_EQ(run.out.front(), '{');
    EXPECT_EQ(run.out.back(), '\n');
  }
}

TEST(Surroundings, an_answer_that_cannot_be_written_is_not_called_done) {
  for (const Words& words : commands()) {
    SCOPED_TRACE(words.front());
    const Said run = helmwater(words, {.input_closed = false, .environment = {}, .output_to = "/dev/full"});
    EXPECT_EQ(run.exit_code, 1) << "the disk is full";
    EXPECT_NE(run.err, "");
  }
}

TEST(Surroundings, help_is_exit_code_0_and_no_command_or_an_unknown_one_is_2) {
  for (const Words& words :
       {Words{"--help"}, Words{"water", "--help"}, Words{"explain", "--help"}, Words{"import", "--help"},
        Words{"outlook", "--help"}, Words{"hindcast", "--help"}}) {
    const Said run = helmwater(words);
    EXPECT_EQ(run.exit_code, 0) << words.front();
    EXPECT_NE(run.out, "");
  }
  EXPECT_EQ(helmwater({}).exit_code, 2);
  const Said unknown = helmwater({"divine"});
  EXPECT_EQ(unknown.exit_code, 2);
  EXPECT_EQ(unknown.out, "");
}

}  // namespace
}  // namespace helmwater::cli_test
