// SPDX-License-Identifier: Apache-2.0
// Old sheets with one row a day. The rows are made up in the manner of hand-kept logs.
#include "records/wide_sheet.hpp"

#include "loop_text.hpp"

namespace helmwater::records {
namespace {

WideSheet sheet_from(const std::string& text, bool as_n = false) {
  const auto sheet = read_wide_sheet(loop_from("started = 2026-03-01\n"), as_n, text, "old.csv");
  if (!sheet) throw std::runtime_error(sheet.error().to_text());
  return *sheet;
}
constexpr const char* kHeader = "day,ammonia,nitrite,nitrate,ph,temp_c,event\n";

TEST(WideSheet, one_cell_becomes_one_line) {
  const WideSheet sheet = sheet_from(std::string(kHeader) + "0,4,0,,7.6,25.5,\"filled, dosed\"\n7,1-2,>=5,~20,7.8-8.0,,\n");
  EXPECT_TRUE(sheet.unread.empty());
  EXPECT_EQ(to_log_csv(sheet.log),
            "when,what,value,unit,detail\n"
            "2026-03-01,ammonia,4,mg/L as ion,\n"
            "2026-03-01,nitrite,0,mg/L as ion,\n"
            "2026-03-01,ph,7.6,,\n"
            "2026-03-01,temperature,25.5,degC,\n"
            "2026-03-01,note,\"filled, dosed\",,\n"
            "2026-03-08,ammonia,1..2,mg/L as ion,\n"
            "2026-03-08,nitrite,>5,mg/L as ion,\n"
            "2026-03-08,nitrate,~20,mg/L as ion,\n"
            "2026-03-08,ph,7.8..8.0,,\n");
}
TEST(WideSheet, days_are_noons) {
  const WideSheet sheet = sheet_from(std::string(kHeader) + "3,1,,,,,\n1,2,,,,,\n");
  EXPECT_EQ(to_utc_text(sheet.log.entries[0].when), "2026-03-02T12:00:00Z");
  EXPECT_EQ(to_utc_text(sheet.log.entries[1].when), "2026-03-04T12:00:00Z");
  EXPECT_EQ(to_utc_text(sheet_from("day,ph\n1.25,7\n").log.entries[0].when), "2026-03-02T18:00:00Z");
}
TEST(WideSheet, the_basis_goes_into_the_unit) {
  EXPECT_EQ(sheet_from("day,nitrate\n1,5\n", true).log.entries[0].unit_text, "mg/L as N");
  EXPECT_EQ(sheet_from("day,nitrate\n1,5\n", false).log.entries[0].unit_text, "mg/L as ion");
}
TEST(WideSheet, open_ends_ranges_and_doubts) {
  const auto value = [](const std::string& cell) { return sheet_from("day,nitrite\n1,\"" + cell + "\"\n").log.entries.at(0).value_text; };
  EXPECT_EQ(value(">=2"), ">2");
  EXPECT_EQ(value("<=0.25"), "<0.25");
  EXPECT_EQ(value(">5?"), ">5?");
  EXPECT_EQ(value(">=5?"), ">5?");
  EXPECT_EQ(value("2.0?"), "2.0?");
  EXPECT_EQ(value("1.0 - 2.0"), "1.0..2.0");
  EXPECT_EQ(value("1\xE2\x80\x93" "2"), "1..2");
  EXPECT_EQ(value("~0"), "~0");
}
TEST(WideSheet, cells_that_say_no_number_are_listed_and_left_out) {
  const WideSheet sheet = sheet_from(std::string(kHeader) + "1,lots,umr/0.007,1,15,,\nsoon,1,,,,,\n2,-3,,,,99,x\n");
  ASSERT_EQ(sheet.unread.size(), 6U);
  EXPECT_EQ(sheet.unread[0].text, "lots");
  EXPECT_EQ(sheet.unread[0].line, 2);
  EXPECT_EQ(sheet.unread[0].name, "ammonia");
  EXPECT_EQ(sheet.unread[1].text, "umr/0.007");
  EXPECT_EQ(sheet.unread[2].text, "15");    // no pH
  EXPECT_EQ(sheet.unread[3].text, "soon");  // no day
  EXPECT_EQ(sheet.unread[4].text, "-3");
  EXPECT_EQ(sheet.unread[5].text, "99");  // no water temperature
  EXPECT_EQ(sheet.log.entries.size(), 2U);
}
TEST(WideSheet, columns_it_does_not_know_are_listed_too) {
  const WideSheet sheet = sheet_from("day,ph,colour\n1,7,green\n2,7,\n");
  ASSERT_EQ(sheet.unread.size(), 1U);
  EXPECT_EQ(sheet.unread[0].name, "colour");
}
TEST(WideSheet, equal_rows_of_one_day_both_count) {
  EXPECT_EQ(sheet_from("day,ph\n1,7\n1,7\n").log.entries.size(), 2U);
}
TEST(WideSheet, a_sheet_without_days_is_refused) {
  const auto refusal = [](const std::string& text) {
    const auto sheet = read_wide_sheet(loop_from("started = 2026-03-01\n"), false, text, "old.csv");
    return sheet ? "(accepted)" : sheet.error().to_text();
  };
  EXPECT_TRUE(says(refusal("date,ph\n1,7\n"), {"old.csv:1:1", "no column \"day\""}));
  EXPECT_TRUE(says(refusal("day;ph\n1;7\n"), {"old.csv:1:1", "semicolons"}));
  EXPECT_TRUE(says(refusal("day,ph,ph\n"), {"old.csv:1:8", "stands twice"}));
  EXPECT_TRUE(says(refusal(""), {"empty"}));
}

}  // namespace
}  // namespace helmwater::records
