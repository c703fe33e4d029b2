// SPDX-License-Identifier: Apache-2.0
// Where marks stand on the graphs; positions worked out by hand.
#include "text_graph.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace helmwater::app {
namespace {

constexpr double kOpen = std::numeric_limits<double>::infinity();

TEST(ValueScale, puts_ends_and_middle_into_the_middle_of_their_rows) {
  const ValueScale linear{0, 8, false, 5};
  EXPECT_DOUBLE_EQ(linear.place(0), 0.5);
  EXPECT_DOUBLE_EQ(linear.place(4), 2.5);
  EXPECT_DOUBLE_EQ(linear.place(8), 4.5);
  EXPECT_DOUBLE_EQ(linear.place(99), 4.5);
  const ValueScale root{0, 8, true, 5};
  EXPECT_DOUBLE_EQ(root.place(2), 2.5) << "a quarter stands half way up";
  EXPECT_DOUBLE_EQ(root.value_of(2), 2);
}

TEST(ValueScale, holds_what_it_is_made_for) {
  for (double v = 0.01; v < 2000; v *= 1.07) {
    for (const bool root : {true, false}) {
      const ValueScale s = ValueScale::from_zero(v, root, 5);
      EXPECT_GE(s.top, v * (1 - 1e-6));
      EXPECT_LE(s.top, 1.7 * v) << "little of the height is wasted";
    }
  }
  for (double low = 5; low < 9; low += 0.07) {
    const ValueScale s = ValueScale::around(low, low + 0.9, 3);
    EXPECT_LE(s.bottom, low);
    EXPECT_GE(s.top, low + 0.9);
    EXPECT_NEAR(std::remainder(s.value_of(1) * 10, 1), 0, 1e-6) << "the middle is a whole tenth";
  }
}

TEST(TimeAxis, knows_its_columns) {
  const TimeAxis axis{0, 40, 10, 40};
  EXPECT_EQ(axis.column_of(0), 0);
  EXPECT_EQ(axis.column_of(39.9), 39);
  EXPECT_EQ(axis.column_of(40), 39);
  EXPECT_EQ(axis.column_of(-0.1), std::nullopt);
  EXPECT_EQ(axis.column_of(40.1), std::nullopt);
  EXPECT_EQ(axis.now_column(), 10);
}

class Readings : public testing::Test {
 protected:
  // Column 5 of a reading on day 5, rows from the top.
  std::string drawn(double low, double high, bool doubted = false, const std::string& letter = "") {
    Canvas canvas(5, 20);
    draw_readings(canvas, axis_, scale_, {{5, low, high, doubted, letter}});
    std::string column;
    for (int r = 4; r >= 0; --r) column += canvas.at(r, 5);
    return column;
  }
  const TimeAxis axis_{0, 20, 10, 20};
  const ValueScale scale_{0, 8, false, 5};  // two units a row, rows around 0, 2, 4, 6, 8
};

TEST_F(Readings, are_bars_from_end_to_end) {
  EXPECT_EQ(drawn(2, 6), " ╻┃╹ ");      // from the middle of one row to the middle of another
  EXPECT_EQ(drawn(1.2, 6.8), " ┃┃┃ ");  // over half a row is the row
  EXPECT_EQ(drawn(0, 2), "   ╻╹");
}

TEST_F(Readings, with_an_open_end_have_an_arrow) {
  EXPECT_EQ(drawn(4, kOpen), "↑┃╹  ");
  EXPECT_EQ(drawn(-kOpen, 4), "  ╻┃↓");
}

TEST_F(Readings, in_doubt_are_broken_and_lettered) {
  EXPECT_EQ(drawn(2, 4, true, "b"), " b┇┇ ");
  EXPECT_EQ(drawn(4, 8, true, "b"), "┇┇┇b ") << "below, where there is no room above";
}

TEST_F(Readings, of_now_stand_before_the_line) {
  Canvas canvas(5, 20);
  draw_readings(canvas, axis_, scale_, {{10, 2, 6, false, ""}});
  draw_now(canvas, axis_);
  EXPECT_EQ(canvas.at(2, 9), "┃");
  EXPECT_EQ(canvas.at(2, 10), "│");
}

TEST(Band, covers_its_ranges_and_is_dotted_ahead) {
  const TimeAxis axis{0, 20, 10, 20};
  const ValueScale scale{0, 8, false, 5};
  std::vector<BandPoint> points;
  for (double day = 0; day <= 20; day += 0.25) points.push_back({day, {0, 2, 4, 6, 8}});
  Canvas canvas(5, 20);
  draw_band(canvas, axis, scale, band_columns(axis, points));
  const auto column = [&](int c) {
    std::string text;
    for (int r = 4; r >= 0; --r) text += canvas.at(r, c);
    return text;
  };
  EXPECT_EQ(column(4), "░▒─▒░");
  EXPECT_EQ(column(15), "░▒·▒░");
  EXPECT_EQ(column(10), "     ") << "left to the line for now";
}

TEST(Band, means_the_points_of_a_column_and_fills_between_them) {
  const TimeAxis axis{0, 4, 0, 4};
  std::vector<BandPoint> points{{0.25, {1, 1, 1, 1, 1}}, {0.75, {3, 3, 3, 3, 3}}, {3.5, {8, 8, 8, 8, 8}}};
  const auto columns = band_columns(axis, points);
  ASSERT_TRUE(columns[0] && columns[1] && columns[3]);
  EXPECT_DOUBLE_EQ(columns[0]->p50, 2);
  EXPECT_NEAR(columns[1]->p50, 3 + 5 * (1.5 - 0.75) / (3.5 - 0.75), 1e-9);
  EXPECT_DOUBLE_EQ(columns[3]->p50, 8);
}

TEST(Dates, stand_on_their_days_with_their_name_before_them) {
  const TimeAxis axis{0, 40, 3, 40};
  const auto row = [&](const DateSpan& span) {
    Canvas canvas(1, 40);
    draw_dates(canvas, axis, 0, span, "clear");
    return canvas.row(0, std::nullopt);
  };
  EXPECT_EQ(row({15, 17, 18, 20, 24, true}), "         clear ├─═╪══───┤");
  EXPECT_EQ(row({15, 17, 30, 50, 60, false}), "         clear ├─╱╱╱╱╱╱╱╱╱╱╱╱╱╱╱╱╱╱╱╱╱╱→");
  EXPECT_EQ(row({{}, {}, {}, {}, {}, false}), "                                 clear →");
  EXPECT_EQ(row({4, 5, 6, 7, 8, true}), "    ├═╪═┤ clear") << "no room before it, nor across now";
  EXPECT_EQ(row({0, 30, {}, {}, {}, false}), "├ clear ──────────────────────╱╱╱╱╱╱╱╱╱→")
      << "no room anywhere: into it";
}

TEST(Canvas, paints_runs_and_leaves_no_code_open) {
  Canvas canvas(1, 6);
  canvas.put(0, 0, "░", Ink::test);
  canvas.put(0, 1, "░", Ink::test);
  canvas.put(0, 2, "┃", Ink::strong);
  EXPECT_EQ(canvas.row(0, std::nullopt), "░░┃");
  EXPECT_EQ(canvas.row(0, "38;5;63"), "\x1b[38;5;63m░░\x1b[0m\x1b[1m┃\x1b[0m");
}

}  // namespace
}  // namespace helmwater::app
