// SPDX-License-Identifier: Apache-2.0
#include "page_words.hpp"

#include <gtest/gtest.h>

#include <cstdlib>

#include "hand_made.hpp"
#include "page_style.hpp"

namespace helmwater::app {
namespace {

using app_test::at;

// No-break spaces as blanks.
std::string plain(const std::string& text) {
  std::string out;
  for (const char c : text) {
    if (c == '\xA0') out.back() = ' ';  // U+00A0 is C2 A0
    if (c != '\xA0') out += c;
  }
  return out;
}

TEST(Numbers, have_two_digits) {
  for (const auto& [value, text] : std::vector<std::pair<double, const char*>>{{123.4, "120"},
                                                                               {1234, "1200"},
                                                                               {99.6, "100"},
                                                                               {12.4, "12"},
                                                                               {9.96, "10"},
                                                                               {9.94, "9.9"},
                                                                               {1.04, "1.0"},
                                                                               {0.996, "1.0"},
                                                                               {0.123, "0.12"},
                                                                               {0.0123, "0.01"},
                                                                               {0.0096, "0.01"},
                                                                               {0.004, "<0.01"},
                                                                               {0, "<0.01"}}) {
    EXPECT_EQ(two_digits(value), text) << value;
  }
  EXPECT_EQ(two_digits(0.0213, 0.001), "0.021");
  EXPECT_EQ(two_digits(0.0001, 0.001), "<0.001");
  EXPECT_EQ(range_text(0, 0.001), "<0.01");
  EXPECT_EQ(range_text(0, 1.23), "<0.01 to 1.2");
}

TEST(Chances, are_never_certain_and_agree_with_their_words) {
  EXPECT_EQ(plain(chance(1)), "more than 49 in 50");
  EXPECT_EQ(plain(chance(0)), "less than 1 in 50");
  EXPECT_EQ(plain(chance(0.98)), "49 in 50");
  EXPECT_EQ(plain(chance(0.95)), "19 in 20");
  EXPECT_EQ(plain(chance(0.81)), "8 in 10");
  EXPECT_EQ(plain(chance(0.05)), "1 in 20");
  // The borders are the project's own rule: 97, 90, 70, 55, 45, 30, 10 and 3 %.
  EXPECT_EQ(chance_word(0.971), "almost certain");
  EXPECT_EQ(chance_word(0.91), "very likely");
  EXPECT_EQ(chance_word(0.71), "likely");
  EXPECT_EQ(chance_word(0.56), "more likely than not");
  EXPECT_EQ(chance_word(0.5), "as likely as not");
  EXPECT_EQ(chance_word(0.31), "less likely than not");
  EXPECT_EQ(chance_word(0.11), "unlikely");
  EXPECT_EQ(chance_word(0.04), "very unlikely");
  EXPECT_EQ(chance_word(0.02), "almost ruled out");
}

// Weekdays and clock changes of 2026: an ordinary calendar (summer time in the EU from 29 March, 01:00 UTC).
TEST(Calendar, tells_days_in_its_zone) {
  const Calendar vienna("Europe/Vienna", at("2026-03-19T07:15"));
  EXPECT_EQ(plain(vienna.day(at("2026-03-23T08:00"))), "Mon 23 March");
  EXPECT_EQ(plain(vienna.day(at("2026-04-13T08:00"))), "13 April") << "no weekday so far off";
  EXPECT_EQ(plain(vienna.day(at("2027-01-02T08:00"))), "2 January 2027");
  EXPECT_EQ(plain(vienna.day(at("2026-03-22T23:30"))), "Mon 23 March") << "past midnight there";
  EXPECT_EQ(plain(vienna.moment(at("2026-03-19T07:15"))), "Thu 19 March 2026, 08:15");
  EXPECT_EQ(plain(vienna.between(at("2026-03-14T08:00"), at("2026-03-23T08:00"))), "between 14 and 23 March");
  EXPECT_EQ(plain(vienna.between(at("2026-03-28T08:00"), at("2026-04-04T08:00"))),
            "between 28 March and 4 April");
  EXPECT_EQ(plain(vienna.between(at("2026-03-14T08:00"), at("2026-03-14T18:00"))), "on Sat 14 March");
  EXPECT_EQ(vienna.days(at("2026-03-02T07:30"), at("2026-03-19T07:15")), 17) << "calendar days, not hours";
  EXPECT_EQ(vienna.days(at("2026-03-28T22:30"), at("2026-03-28T23:30")), 1);
}

class Environment : public testing::Test {
 protected:
  void SetUp() override {
    for (const char* name : kNames) {
      if (const char* value = std::getenv(name)) kept_.emplace_back(name, value);
      unsetenv(name);
    }
  }
  void TearDown() override {
    for (const char* name : kNames) unsetenv(name);
    for (const auto& [name, value] : kept_) setenv(name.c_str(), value.c_str(), 1);
  }
  static constexpr const char* kNames[] = {"COLUMNS", "LC_ALL", "LC_CTYPE", "LANG", "NO_COLOR"};
  std::vector<std::pair<std::string, std::string>> kept_;
};

// Order of precedence: POSIX.1-2017, 8.2 Internationalization Variables.
TEST_F(Environment, decides_on_characters) {
  EXPECT_TRUE(page_style_from_environment().utf8) << "nothing set";
  setenv("LANG", "C", 1);
  EXPECT_FALSE(page_style_from_environment().utf8);
  setenv("LANG", "de_AT.utf8", 1);
  EXPECT_TRUE(page_style_from_environment().utf8);
  setenv("LC_CTYPE", "de_AT.ISO-8859-1", 1);
  EXPECT_FALSE(page_style_from_environment().utf8);
  setenv("LC_ALL", "C.UTF-8", 1);
  EXPECT_TRUE(page_style_from_environment().utf8);
  setenv("LC_ALL", "", 1);
  EXPECT_FALSE(page_style_from_environment().utf8) << "empty is as good as unset";
}

TEST_F(Environment, decides_on_the_width_within_bounds) {
  for (const auto& [wish, columns] : {std::pair{"100", 100}, {"20", 60}, {"500", 120}}) {
    setenv("COLUMNS", wish, 1);
    EXPECT_EQ(page_style_from_environment().columns, columns) << wish;
  }
}

}  // namespace
}  // namespace helmwater::app
