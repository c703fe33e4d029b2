// SPDX-License-Identifier: Apache-2.0
// Local times against the clock-change rules of the IANA time zone database (rule lines named beside each check).
#include "records/instant.hpp"

#include <gtest/gtest.h>

#include <string>

namespace helmwater::records {
namespace {

std::string utc(const char* text, const char* zone = "UTC") {
  const auto parsed = parse_instant(text, zone);
  return parsed ? to_utc_text(parsed->when) : "refused";
}
LocalTimeOddity oddity(const char* text, const char* zone) { return parse_instant(text, zone).value().oddity; }

TEST(ParseInstant, reads_every_form_of_the_log) {
  EXPECT_EQ(utc("2026-03-01"), "2026-03-01T12:00:00Z");  // a date alone is noon
  EXPECT_EQ(utc("2026-03-01T08:00"), "2026-03-01T08:00:00Z");
  EXPECT_EQ(utc("2026-03-01 08:00"), "2026-03-01T08:00:00Z");
  EXPECT_EQ(utc("2026-03-01T08:00:59"), "2026-03-01T08:00:59Z");
  EXPECT_EQ(utc("2026-03-01T08:00Z", "Europe/Vienna"), "2026-03-01T08:00:00Z");
  EXPECT_EQ(utc("2026-03-01T08:00+01:00", "Asia/Tokyo"), "2026-03-01T07:00:00Z");
  EXPECT_EQ(utc("2026-03-01T08:00:30-05:30"), "2026-03-01T13:30:30Z");
  EXPECT_EQ(utc("  2026-03-01  "), "2026-03-01T12:00:00Z");
}

TEST(ParseInstant, tells_dates_from_times) {
  EXPECT_TRUE(parse_instant("2026-03-01", "UTC")->date_only);
  EXPECT_FALSE(parse_instant("2026-03-01", "UTC")->to_the_minute);
  EXPECT_TRUE(parse_instant("2026-03-01T08:00", "UTC")->to_the_minute);
  EXPECT_FALSE(parse_instant("2026-03-01T08:00", "UTC")->date_only);
}

TEST(ParseInstant, refuses_what_is_no_date) {
  for (const char* text : {"", "today", "2026-02-30", "2026-13-01", "2026-00-10", "2026-03-00", "2025-02-29", "1899-12-31",
                           "2201-01-01", "2026-3-1", "01.03.2026", "2026/03/01", "2026-03-01T", "2026-03-01T8:00",
                           "2026-03-01T24:00", "2026-03-01T08:60", "2026-03-01T08:00:60", "2026-03-01T08:00+1",
                           "2026-03-01T08:00+0100", "2026-03-01T08:00+19:00", "2026-03-01Z", "2026-03-01T08:00 Z",
                           "2026-03-01T08:00:00.", "2026-03-01x"})
    EXPECT_FALSE(parse_instant(text, "UTC")) << text;
  // Gregorian leap years: 2000 yes, 1900 and 2100 no.
  EXPECT_EQ(utc("2000-02-29"), "2000-02-29T12:00:00Z");
  EXPECT_EQ(utc("1900-02-29"), "refused");
  EXPECT_EQ(utc("2100-02-29"), "refused");
  EXPECT_EQ(utc("1900-01-01"), "1900-01-01T12:00:00Z");
  EXPECT_EQ(utc("2200-12-31"), "2200-12-31T12:00:00Z");
}

// Rule EU: last Sunday of March 01:00 UTC forward, last Sunday of October 01:00 UTC back. 2026: 29 March, 25 October.
TEST(LocalTime, europe_vienna_skips_and_repeats_an_hour) {
  EXPECT_EQ(utc("2026-03-29T01:59", "Europe/Vienna"), "2026-03-29T00:59:00Z");
  EXPECT_EQ(utc("2026-03-29T03:00", "Europe/Vienna"), "2026-03-29T01:00:00Z");
  EXPECT_EQ(utc("2026-03-29T02:30", "Europe/Vienna"), "2026-03-29T01:00:00Z");  // the next instant there is
  EXPECT_EQ(oddity("2026-03-29T02:30", "Europe/Vienna"), LocalTimeOddity::skipped);
  EXPECT_EQ(oddity("2026-03-29T03:00", "Europe/Vienna"), LocalTimeOddity::none);

  EXPECT_EQ(utc("2026-10-25T02:30", "Europe/Vienna"), "2026-10-25T00:30:00Z");  // the earlier: still summer time
  EXPECT_EQ(oddity("2026-10-25T02:30", "Europe/Vienna"), LocalTimeOddity::repeated);
  EXPECT_EQ(utc("2026-10-25T02:30+01:00", "Europe/Vienna"), "2026-10-25T01:30:00Z");
  EXPECT_EQ(oddity("2026-10-25T02:30+01:00", "Europe/Vienna"), LocalTimeOddity::none);
  EXPECT_EQ(utc("2026-10-25T03:00", "Europe/Vienna"), "2026-10-25T02:00:00Z");
}

// Rule US: second Sunday of March 02:00 forward, first Sunday of November 02:00 back. 2026: 8 March, 1 November.
TEST(LocalTime, america_chicago_skips_and_repeats_an_hour) {
  EXPECT_EQ(utc("2026-03-08T02:00", "America/Chicago"), "2026-03-08T08:00:00Z");
  EXPECT_EQ(oddity("2026-03-08T02:00", "America/Chicago"), LocalTimeOddity::skipped);
  EXPECT_EQ(utc("2026-11-01T01:15", "America/Chicago"), "2026-11-01T06:15:00Z");
  EXPECT_EQ(oddity("2026-11-01T01:15", "America/Chicago"), LocalTimeOddity::repeated);
}

// Rule LH: first Sunday of October 02:00 half an hour forward to +11, first Sunday of April 02:00 back to +10:30.
TEST(LocalTime, lord_howe_moves_by_half_an_hour) {
  EXPECT_EQ(utc("2026-10-04T02:10", "Australia/Lord_Howe"), "2026-10-03T15:30:00Z");
  EXPECT_EQ(oddity("2026-10-04T02:10", "Australia/Lord_Howe"), LocalTimeOddity::skipped);
  EXPECT_EQ(utc("2026-04-05T01:45", "Australia/Lord_Howe"), "2026-04-04T14:45:00Z");
  EXPECT_EQ(oddity("2026-04-05T01:45", "Australia/Lord_Howe"), LocalTimeOddity::repeated);
}

// Zone Pacific/Apia: 2011-12-29T24:00 from -10 (summer) to +14; the 30th never was.
TEST(LocalTime, a_day_that_never_was_moves_to_the_next) {
  EXPECT_EQ(utc("2011-12-30", "Pacific/Apia"), "2011-12-30T10:00:00Z");
  EXPECT_EQ(oddity("2011-12-30", "Pacific/Apia"), LocalTimeOddity::skipped);
}

// Zone Asia/Kolkata: +5:30 all year.
TEST(LocalTime, half_hour_zones) { EXPECT_EQ(utc("2026-07-01", "Asia/Kolkata"), "2026-07-01T06:30:00Z"); }

// The same EU and US rules far ahead: last Sunday of March 2040 is the 25th (Easter 2040 is 1 April), second Sunday of
// March 2060 is the 14th.
TEST(LocalTime, todays_rules_go_on_after_2037) {
  EXPECT_EQ(utc("2040-07-01", "Europe/Vienna"), "2040-07-01T10:00:00Z");
  EXPECT_EQ(utc("2040-12-01", "Europe/Vienna"), "2040-12-01T11:00:00Z");
  EXPECT_EQ(utc("2040-03-25T02:30", "Europe/Vienna"), "2040-03-25T01:00:00Z");
  EXPECT_EQ(oddity("2040-03-25T02:30", "Europe/Vienna"), LocalTimeOddity::skipped);
  EXPECT_EQ(oddity("2060-03-14T02:30", "America/Chicago"), LocalTimeOddity::skipped);
  EXPECT_EQ(local_time_text(parse_instant("2040-07-01T10:00Z", "UTC")->when, "Europe/Vienna"), "Sun 1 Jul, 12:00");
}

TEST(Zones, known_and_unknown) {
  EXPECT_TRUE(is_known_zone("UTC"));
  EXPECT_TRUE(is_known_zone("Europe/Vienna"));
  EXPECT_FALSE(is_known_zone("Europe/Nowhere"));
  EXPECT_FALSE(is_known_zone(""));
  EXPECT_FALSE(parse_instant("2026-03-01", "Europe/Nowhere"));
}

Instant at(const char* text) { return parse_instant(text, "UTC")->when; }

TEST(NextLocalHour, is_after_the_given_instant) {
  EXPECT_EQ(to_utc_text(next_local_hour(at("2026-01-10T06:59Z"), 8, "Europe/Vienna")), "2026-01-10T07:00:00Z");
  EXPECT_EQ(to_utc_text(next_local_hour(at("2026-01-10T07:00Z"), 8, "Europe/Vienna")), "2026-01-11T07:00:00Z");
  // Across the clock change the wall clock stays at eight: 23 and 25 hours apart.
  EXPECT_EQ(to_utc_text(next_local_hour(at("2026-03-28T07:00Z"), 8, "Europe/Vienna")), "2026-03-29T06:00:00Z");
  EXPECT_EQ(to_utc_text(next_local_hour(at("2026-10-24T06:00Z"), 8, "Europe/Vienna")), "2026-10-25T07:00:00Z");
  // An hour that is skipped counts from the instant the clock moved on.
  EXPECT_EQ(to_utc_text(next_local_hour(at("2026-03-29T00:00Z"), 2, "Europe/Vienna")), "2026-03-29T01:00:00Z");
  EXPECT_EQ(to_utc_text(next_local_hour(at("2026-03-29T01:00Z"), 2, "Europe/Vienna")), "2026-03-30T00:00:00Z");
}

TEST(LocalTexts, are_written_in_the_zone) {
  EXPECT_EQ(local_date_text(at("2026-03-11T23:30Z"), "Europe/Vienna"), "12 Mar 2026");
  EXPECT_EQ(local_time_text(at("2026-03-12T07:00Z"), "Europe/Vienna"), "Thu 12 Mar, 08:00");  // 12 March 2026 is a Thursday
  EXPECT_EQ(local_date_iso(at("2026-03-11T23:30Z"), "Europe/Vienna"), "2026-03-12");
}

}  // namespace
}  // namespace helmwater::records
