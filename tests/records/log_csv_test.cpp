// SPDX-License-Identifier: Apache-2.0
// log.csv as a file: RFC 4180 with the slips of real files, what is refused, order, duplicates, rows out of force, doubts.
#include "loop_text.hpp"

namespace helmwater::records {
namespace {

TEST(LogFile, takes_bom_crlf_blank_lines_and_short_rows) {
  const LoopLog log = log_from(loop_from(),
                               "\r\n2026-03-02,pump,off\r\n,,,,\r\n2026-03-01,note,hello,,\r\n",
                               "\xEF\xBB\xBFwhen,what,value,unit,detail\r\n");
  ASSERT_EQ(log.entries.size(), 2U);
  EXPECT_EQ(log.entries[0].what_text, "note");
  EXPECT_EQ(log.entries[0].line, 5);
  EXPECT_EQ(log.entries[1].line, 3);
  EXPECT_TRUE(std::holds_alternative<Switch>(log.entries[1].body));
}
// RFC 4180 section 2, rules 5 to 7: quotes, commas and line breaks inside quotes, doubled quotes.
TEST(LogFile, quotes) {
  const LoopLog log = log_from(loop_from(),
                               "2026-03-01,note,\"one, \"\"two\"\"\nthree\",,\n2026-03-02,note,\"\",\"\",\"x\"\n"
                               "2026-03-03,note,5\" pipe,,\n");
  EXPECT_EQ(log.entries[0].value_text, "one, \"two\"\nthree");
  EXPECT_EQ(log.entries[1].detail_text, "x");
  EXPECT_EQ(log.entries[1].line, 4);  // the first note takes two lines
  EXPECT_EQ(log.entries[2].value_text, "5\" pipe");
}
TEST(LogFile, an_empty_log_is_a_header) {
  EXPECT_TRUE(log_from(loop_from(), "").entries.empty());
  EXPECT_TRUE(parse_log_csv(loop_from(), "when,what,value,unit,detail", "log.csv"));
}
TEST(LogFile, keeps_further_columns) {
  const LoopLog log = log_from(loop_from(), "2026-03-01,note,a,,,7,me\n", "when,what,value,unit,detail,id,author\n");
  EXPECT_EQ(log.entries[0].more.at("id"), "7");
  EXPECT_EQ(log.entries[0].more.at("author"), "me");
  EXPECT_EQ(log.columns.size(), 7U);
}

TEST(LogRefusals, header) {
  EXPECT_TRUE(says(csv_refusal(loop_from(), ""), {"log.csv:1:1", "no header", "when,what,value,unit,detail"}));
  EXPECT_TRUE(says(csv_refusal(loop_from(), "2026-03-01,ph,7,,\n"), {"log.csv:1:1", "must be \"when\"", "2026-03-01"}));
  EXPECT_TRUE(says(csv_refusal(loop_from(), "when,what,value,unit\n"), {"log.csv:1", "must be \"detail\""}));
  EXPECT_TRUE(says(csv_refusal(loop_from(), "when;what;value;unit;detail\n"), {"1:1", "semicolons", "commas", "decimal points"}));
  EXPECT_TRUE(says(csv_refusal(loop_from(), "when\twhat\tvalue\tunit\tdetail\n"), {"1:1", "tabs"}));
  EXPECT_TRUE(says(csv_refusal(loop_from(), "when,what,value,unit,detail,id,id\n"), {"1:32", "stands twice"}));
}
TEST(LogRefusals, bytes) {
  const std::string head = kLogHead;
  EXPECT_TRUE(says(csv_refusal(loop_from(), head + std::string("2026-03-01,note,a\0b,,\n", 22)), {"log.csv:2:18", "NUL"}));
  EXPECT_TRUE(says(csv_refusal(loop_from(), head + "2026-03-01,note,\xC3\xA4\xC3(,,\n"), {"log.csv:2:18", "0xC3", "UTF-8"}));
  EXPECT_TRUE(says(csv_refusal(loop_from(), head + "2026-03-01,note,\xC0\xAF,,\n"), {"2:17", "UTF-8"}));          // overlong
  EXPECT_TRUE(says(csv_refusal(loop_from(), head + "2026-03-01,note,\xED\xA0\x80,,\n"), {"2:17", "UTF-8"}));      // surrogate
  EXPECT_TRUE(says(csv_refusal(loop_from(), head + "2026-03-01,note,\xF4\x90\x80\x80,,\n"), {"2:17", "UTF-8"}));  // > U+10FFFF
  const std::string longest(64 * 1024 - std::string("2026-03-01,note,,,").size(), 'x');
  EXPECT_EQ(csv_refusal(loop_from(), head + "2026-03-01,note," + longest + ",,\n"), "(accepted)");
  EXPECT_TRUE(says(csv_refusal(loop_from(), head + "2026-03-01,note," + longest + "x,,\n"), {"log.csv:2:1", "64 KiB"}));
}
TEST(LogRefusals, rows) {
  EXPECT_TRUE(says(row_refusal("2026-03-01;ph;7;;"), {"log.csv:2:1", "semicolons"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,note,\"open,,\n2026-03-02,note,b,,"), {"log.csv:2:17", "never closed"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,note,\"a\"b,,"), {"2:20", "closing quote"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,note,a,,,stray"), {"2:21", "no heading"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,ammonia,0,25,mg/L as N,x"), {"2:35", "decimal comma"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,ammonia,0,25,mg/L as N"), {"2:22", "decimal comma"}));
  EXPECT_TRUE(says(row_refusal("2026-02-30,ph,7,,"), {"2:1", "\"2026-02-30\"", "not a date", "2026-03-01T08:00"}));
  EXPECT_TRUE(says(row_refusal(",ph,7,,"), {"2:1", "not a date"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,amonia,7,,"), {"2:12", "did you mean \"ammonia\"", "water change", "temperature"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01"), {"2:1", "not something a log can say"}));
}

std::string order_of(const LoopLog& log) {
  std::string out;
  for (const Entry& entry : log.entries) out += std::to_string(entry.line) + " ";
  return out;
}
TEST(Order, is_by_time_then_readings_then_the_file) {
  const LoopLog log = log_from(loop_from(),
                               "2026-03-02T08:00,dose,1,g,ammonium chloride\n"   // 2
                               "2026-03-02T08:00,note,b,,\n"                     // 3
                               "2026-03-02T08:00,ph,7,,\n"                       // 4
                               "2026-03-01T08:00Z,note,a,,\n"                    // 5
                               "2026-03-02T09:00+01:00,nitrite,1,mg/L as N,\n"); // 6: the same instant in UTC
  EXPECT_EQ(order_of(log), "5 4 6 2 3 ");
}

TEST(Duplicates, count_once_if_timed_to_the_minute) {
  const LoopLog log = log_from(loop_from(),
                               "2026-03-01T08:00,feed,10,g,\n2026-03-01T08:00,feed,10,g,\n2026-03-01T08:00,feed,10,g,32 % protein\n");
  EXPECT_EQ(order_of(log), "2 4 ");
  EXPECT_EQ(log.dropped_duplicates.size(), 1U);
  EXPECT_EQ(codes(log), "duplicate_line");
  EXPECT_EQ(log.doubts[0].entry, 3);
}
TEST(Duplicates, of_a_date_alone_both_count) {
  EXPECT_EQ(codes(log_from(loop_from(), "2026-03-01,feed,10,g,\n2026-03-01,feed,10,g,\n")), "");
  EXPECT_EQ(order_of(log_from(loop_from(), "2026-03-01,feed,10,g,\n2026-03-01,feed,10,g,\n")), "2 3 ");
}
TEST(Duplicates, two_different_readings_of_one_instant_both_count) {
  EXPECT_EQ(order_of(log_from(loop_from(), "2026-03-01T08:00,ph,7,,\n2026-03-01T08:00,ph,7.1,,\n")), "2 3 ");
}

const char* const kServerHead = "when,what,value,unit,detail,id,supersedes,withdrawn\n";
TEST(InForce, superseded_and_withdrawn_rows_are_kept_but_not_used) {
  const LoopLog log = log_from(loop_from(),
                               "2026-03-01,ph,7,,,a,,\n2026-03-01,ph,8,,,b,a,\n2026-03-02,ph,6,,,c,,2026-03-03T10:00Z\n"
                               "2026-03-02,ph,6.5,,,d,,0\n2026-03-02,nonsense,,,,e,,yes\n",
                               kServerHead);
  EXPECT_EQ(order_of(log), "3 5 ");
  EXPECT_EQ(log.not_in_force.size(), 3U);  // a, c, and e although its text means nothing
  EXPECT_EQ(codes(log), "");
}
TEST(InForce, a_chain_leaves_the_last) {
  const LoopLog log = log_from(loop_from(), "2026-03-01,ph,7,,,a,,\n2026-03-01,ph,8,,,b,a,\n2026-03-01,ph,9,,,c,b,\n", kServerHead);
  EXPECT_EQ(order_of(log), "4 ");
}
TEST(InForce, odd_references_are_doubted) {
  EXPECT_EQ(codes(log_from(loop_from(), "2026-03-01,ph,7,,,a,zzz,\n2026-03-01,ph,7,,,b,b,\n", kServerHead)),
            "supersedes_unknown supersedes_itself");
}

TEST(Doubts, local_times) {
  const LoopLog log = log_from(loop_from("time_zone = \"Europe/Vienna\"\n"),
                               "2026-03-29T02:30,note,a,,\n2026-10-25T02:30,note,b,,\n2026-10-25T02:30Z,note,c,,\n");
  EXPECT_EQ(codes(log), "local_time_skipped local_time_repeated");
  EXPECT_TRUE(says(log.doubts[0].text, {"Europe/Vienna", "2026-03-29T02:30", "2026-03-29T01:00:00Z", "offset"}));
}
TEST(Doubts, before_the_start) {
  const Loop loop = loop_from("started = 2026-03-02T08:00:00\n");
  EXPECT_EQ(codes(log_from(loop, "2026-03-01,ph,7,,\n2026-03-03,ph,7,,\n")), "before_start");
  EXPECT_EQ(codes(log_from(loop, "2026-03-01,note,filled next day,,\n")), "");
}
TEST(Doubts, a_start_written_as_a_date_begins_with_that_days_first_entry) {
  const LoopLog log = log_from(loop_from("started = 2026-03-02\n"), "2026-03-02T07:00,ph,7,,\n2026-03-01T23:00,ph,7,,\n");
  EXPECT_EQ(to_utc_text(*log.loop.started), "2026-03-02T07:00:00Z");
  EXPECT_EQ(codes(log), "before_start");
  const LoopLog later = log_from(loop_from("started = 2026-03-02\n"), "2026-03-02T15:00,ph,7,,\n");
  EXPECT_EQ(to_utc_text(*later.loop.started), "2026-03-02T12:00:00Z");
}

TEST(Doubts, a_jump_that_cannot_be) {
  EXPECT_EQ(codes(log_from(loop_from(), "2026-03-01T08:00,nitrite,0..1,mg/L as N,\n2026-03-01T08:40,nitrite,2..3,mg/L as N,\n")),
            "jump_between_readings");
  // 3 mg/L as NO2 is 0.91 mg/L N: inside 0..1.
  EXPECT_EQ(codes(log_from(loop_from(), "2026-03-01T08:00,nitrite,0..1,mg/L as N,\n2026-03-01T08:40,nitrite,2..3,mg/L as NO2,\n")), "");
  EXPECT_EQ(codes(log_from(loop_from(), "2026-03-01T08:00,nitrite,0..1,mg/L as N,\n2026-03-01T09:10,nitrite,2..3,mg/L as N,\n")), "");
  EXPECT_EQ(codes(log_from(loop_from(), "2026-03-01T08:00,nitrite,0..1,mg/L as N,\n2026-03-01T08:30,water change,50,%,\n"
                                        "2026-03-01T08:40,nitrite,2..3,mg/L as N,\n")), "");
  EXPECT_EQ(codes(log_from(loop_from(), "2026-03-01T08:00,nitrite,0..1,mg/L as N,\n2026-03-01T08:40,nitrate,2..3,mg/L as N,\n")), "");
}

TEST(Doubts, a_dose_logged_after_the_reading_that_shows_it) {
  // 100 L: 0.7637 g of NH4Cl (53.489 g/mol, 14.007 g N) are 2.0 mg/L N.
  const std::string before = "2026-03-01T08:00,ammonia,0..0.1,mg/L as N,\n";
  EXPECT_EQ(codes(log_from(loop_from(), before + "2026-03-02T08:00,ammonia,1.8..2.2,mg/L as N,\n2026-03-02T08:10,dose,0.7637,g,ammonium chloride\n")),
            "dose_before_reading");
  EXPECT_EQ(codes(log_from(loop_from(), before + "2026-03-02T08:00,ammonia,1.8..2.2,mg/L as N,\n2026-03-02T08:10,dose,to 2,mg/L as N,ammonium chloride\n")),
            "dose_before_reading");
  // The reading shows nothing new; the dose is too late; the dose is far too small; an earlier dose explains it.
  EXPECT_EQ(codes(log_from(loop_from(), before + "2026-03-02T08:00,ammonia,0..0.1,mg/L as N,\n2026-03-02T08:10,dose,0.7637,g,ammonium chloride\n")), "");
  EXPECT_EQ(codes(log_from(loop_from(), before + "2026-03-02T08:00,ammonia,1.8..2.2,mg/L as N,\n2026-03-02T08:31,dose,0.7637,g,ammonium chloride\n")), "");
  EXPECT_EQ(codes(log_from(loop_from(), before + "2026-03-02T08:00,ammonia,1.8..2.2,mg/L as N,\n2026-03-02T08:10,dose,0.1,g,ammonium chloride\n")), "");
  EXPECT_EQ(codes(log_from(loop_from(), before + "2026-03-01T09:00,dose,0.7637,g,ammonium chloride\n2026-03-02T08:00,ammonia,1.8..2.2,mg/L as N,\n"
                                                 "2026-03-02T08:10,dose,0.7637,g,ammonium chloride\n")), "");
}

TEST(Doubts, a_rise_with_another_cause_is_no_dose_before_its_reading) {
  const std::string rise = "2026-03-02T08:00,ammonia,1.8..2.2,mg/L as N,\n2026-03-02T08:10,dose,0.7637,g,ammonium chloride\n";
  const std::string before = "2026-03-01T08:00,ammonia,0..0.1,mg/L as N,\n";
  EXPECT_EQ(codes(log_from(loop_from(), before + rise)), "dose_before_reading");
  EXPECT_EQ(codes(log_from(loop_from(), "2026-02-20,feed,5,g,\n" + before + rise)), "");
  EXPECT_EQ(codes(log_from(loop_from(), before + "2026-03-01T09:00,water change,50,%,\n" + rise)), "");
  EXPECT_EQ(codes(log_from(loop_from("start = \"fish\"\n"), before + rise)), "");
  // The first reading of a new loop: fresh water does not hold 1.8 mg/L N.
  EXPECT_EQ(codes(log_from(loop_from(), rise)), "dose_before_reading");
}

TEST(Doubts, stand_in_the_order_of_the_file) {
  const LoopLog log = log_from(loop_from("started = 2026-03-01T00:00:00\n"),
                               "2026-03-02,ammonia,02,mg/L as N,\n2026-02-01,ph,7,,\n2026-03-02,plants in,3,,\"kale, head\"\n");
  EXPECT_EQ(codes(log), "typed_value before_start unknown_stage");
}
TEST(Doubts, say_what_to_do_in_one_sentence) {
  const LoopLog log = log_from(loop_from("started = 2026-03-01T00:00:00\n"),
                               "2026-02-01T08:00,ammonia,02,mg/L as N,\n2026-02-01T08:00,ammonia,02,mg/L as N,\n"
                               "2026-03-02,water change,,,\n2026-03-02,plants in,3,,\"moss, old\"\n2026-03-02,fish in,3,,unicorn\n");
  ASSERT_EQ(log.doubts.size(), 7U) << codes(log);
  for (const Doubt& doubt : log.doubts) {
    EXPECT_EQ(doubt.text.back(), '.') << doubt.text;
    EXPECT_TRUE(doubt.entry) << doubt.text;
    EXPECT_EQ(doubt.code.find_first_not_of("abcdefghijklmnopqrstuvwxyz_0123456789"), std::string::npos) << doubt.code;
  }
}

}  // namespace
}  // namespace helmwater::records
