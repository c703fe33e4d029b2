// SPDX-License-Identifier: Apache-2.0
#include "hindcast_page.hpp"

#include <gtest/gtest.h>

#include "hand_made.hpp"
#include "page_text.hpp"

namespace helmwater::app_test {
namespace {

infer::HindcastCase a_case(const std::string& as_of, double rank) {
  infer::HindcastCase c;
  c.as_of = at(as_of);
  c.when = records::plus_days(c.as_of, 3);
  c.line = 12;
  c.what = "nitrite";
  c.value = "1.6";
  c.low = 1.1;
  c.high = 2.4;
  c.predicted = {3.0, 3.5, 4, 4.5, 5.0};
  c.rank = rank;
  c.lead_days = 3;
  return c;
}

// 30 cases of one test, `outside` of them below their range.
infer::Hindcast look_back(int outside) {
  infer::Hindcast h;
  h.loop = "Test bench";
  h.zone = "Europe/Vienna";
  for (int i = 0; i < 30; ++i)
    h.cases.push_back(a_case(i < 15 ? "2026-03-05T08:00" : "2026-03-08T08:00", i < outside ? 0.01 : 0.4));
  h.scores = {30, (30.0 - outside) / 30, (30.0 - outside) / 30, -1.0};
  h.by_test["nitrite"] = h.scores;
  return h;
}

TEST(HindcastPage, counts_and_judges) {
  EXPECT_TRUE(has(unwrapped(app::hindcast_page(look_back(3), {})),
                  "Of 30 readings that came after an outlook, 27 fell inside its 9-in-10 range and 27 inside "
                  "its 1-in-2 range."));
  // Of 30 independent cases 90 % hold 27, give or take 3.3 (two standard deviations of the binomial
  // distribution).
  EXPECT_FALSE(has(app::hindcast_page(look_back(6), {}), "too sure"));
  EXPECT_TRUE(has(app::hindcast_page(look_back(7), {}), "too sure"));
}

TEST(HindcastPage, shows_one_mark_a_case_and_names_those_outside) {
  const std::string page = app::hindcast_page(look_back(1), {});
  EXPECT_TRUE(has(page, "  5 Mar 2026    ↓··············\n")) << page;
  EXPECT_TRUE(has(page, "  8 Mar 2026    ···············\n")) << page;
  EXPECT_TRUE(has(unwrapped(page),
                  "8 Mar 2026, line 12: nitrite 1.6, expected 3.0 to 5.0; the outlook was 3 days old."))
      << page;
}

TEST(HindcastPage, says_when_there_is_nothing_or_little_to_compare) {
  infer::Hindcast none;
  none.loop = "Test bench";
  none.zone = "UTC";
  EXPECT_TRUE(has(app::hindcast_page(none, {}), "There is nothing to compare yet"));
  infer::Hindcast few = look_back(0);
  few.cases.resize(5);
  few.scores.n = 5;
  EXPECT_TRUE(has(app::hindcast_page(few, {}), "too few readings to judge by"));
}

TEST(HindcastPage, keeps_to_its_width) {
  infer::Hindcast h = look_back(9);
  for (int i = 0; i < 150; ++i) h.cases.push_back(a_case("2026-03-11T08:00", 0.99));
  for (const int columns : {60, 80, 120}) {
    for (const bool utf8 : {true, false}) {
      for (const std::string& line : lines_of(app::hindcast_page(h, {columns, false, utf8}))) {
        EXPECT_LE(app::shown_width(line), columns) << line;
        EXPECT_FALSE(!line.empty() && line.back() == ' ') << line;
      }
    }
  }
}

}  // namespace
}  // namespace helmwater::app_test
