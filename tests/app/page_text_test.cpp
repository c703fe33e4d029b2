// SPDX-License-Identifier: Apache-2.0
#include "page_text.hpp"

#include <gtest/gtest.h>

#include "hand_made.hpp"

namespace helmwater::app {
namespace {

using app_test::lines_of;

TEST(ShownWidth, counts_columns_not_bytes) {
  EXPECT_EQ(shown_width("NO₂⁻"), 4);
  EXPECT_EQ(shown_width("\x1b[1;38;5;160mnow\x1b[0m"), 3);
  EXPECT_EQ(shown_width("e\u0301"), 1) << "a combining accent";
  EXPECT_EQ(shown_width("水槽"), 4) << "wide in Unicode's annex 11";
  EXPECT_EQ(shown_width("\xff\xfe"), 2) << "broken bytes one by one";
}

TEST(PageText, wraps_at_words_and_breaks_only_words_wider_than_the_page) {
  PageText page({40, false, true});
  page.paragraph("one two three four five six seven eight nine ten", "* ", "  ");
  page.paragraph(std::string(90, 'x'));
  const auto lines = lines_of(page.text());
  ASSERT_EQ(lines.size(), 5u);
  EXPECT_EQ(lines[0], "* one two three four five six seven");
  EXPECT_EQ(lines[1], "  eight nine ten");
  EXPECT_EQ(lines[2].size(), 40u);
  EXPECT_EQ(lines[4].size(), 10u);
}

TEST(PageText, keeps_together_what_a_no_break_space_joins) {
  PageText page({40, false, false});
  page.paragraph("a text whose chance comes at the very end (3\u00A0in\u00A04)");
  EXPECT_EQ(lines_of(page.text())[1], "end (3 in 4)") << page.text();
}

TEST(PageText, frames_have_straight_edges) {
  PageText page({50, false, true});
  page.frame("Before you do",
             {"Wear goggles and gloves, and rinse splashes with plenty of water at once.", "Short."}, 2);
  for (const std::string& line : lines_of(page.text())) EXPECT_EQ(shown_width(line), 50) << line;
}

TEST(PageText, writes_ascii_where_it_must) {
  PageText page({60, false, false});
  page.paragraph("mg/L as NO₂⁻ at 20 °C, mg/L as CaCO₃, Käfig");
  EXPECT_EQ(page.text(), "mg/L as NO2- at 20 degC, mg/L as CaCO3, K?fig\n");
}

TEST(PageText, drops_controls_from_what_others_wrote) {
  EXPECT_EQ(without_controls("a\x1b[31mb\tc\x07\u202Ed"), "a[31mb cd");
}

}  // namespace
}  // namespace helmwater::app
