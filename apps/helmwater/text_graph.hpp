// SPDX-License-Identifier: Apache-2.0
// Small graphs of characters on one time axis: bands with their middle, readings as the intervals they are,
// spans of dates. Drawn in UTF-8; each character has one in ASCII (in_ascii()).
#pragma once
#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "infer/outlook.hpp"

namespace helmwater::app {

// Days since the start on a row of columns.
struct TimeAxis {
  double first_day = 0, last_day = 1, now_day = 0;
  int columns = 60;

  // 0 .. columns - 1, nullopt outside.
  std::optional<int> column_of(double day) const;
  // Middle of a column.
  double day_of(int column) const;
  double days_per_column() const { return (last_day - first_day) / columns; }
  // The column of the line for now, columns before it are past. -1 or `columns` outside.
  int now_column() const;
};

// Values on rows. The lowest value stands in the middle of the lowest row, the highest in the middle of the
// highest.
struct ValueScale {
  double bottom = 0, top = 1;
  bool root = false;  // square roots of the distance from the bottom, so that small values stay visible
  int rows = 5;

  // In rows above the lower edge, within [0.5, rows - 0.5]; values outside are held at the ends.
  double place(double value) const;
  int row_of(double value) const { return static_cast<int>(place(value)); }
  double value_of(int row) const;

  // From zero to the next number whose half and quarter are short.
  static ValueScale from_zero(double highest, bool root, int rows);
  // Fifths of a unit that hold both, for pH.
  static ValueScale around(double lowest, double highest, int rows);
};

struct BandPoint {
  double day = 0;
  infer::Quantiles q;
};
struct ReadingBar {
  double day = 0;
  double low = 0, high = 0;  // an end may be infinite: open
  bool doubted = false;
  std::string letter;  // of its footnote, or empty
};
// When something happens. nullopt: later than the axis knows.
struct DateSpan {
  std::optional<double> p05, p25, p50, p75, p95;  // days
  bool told = true;                               // false: no middle is named
};

enum class Ink { plain, test, test_strong, strong };

class Canvas {
 public:
  Canvas(int rows, int columns);

  int rows() const { return rows_; }
  int columns() const { return columns_; }
  // Row 0 is the lowest. Outside: ignored.
  void put(int row, int column, std::string_view character, Ink ink = Ink::plain);
  // ASCII or UTF-8 text of narrow characters, cut at the right edge.
  void write(int row, int column, std::string_view text, Ink ink = Ink::plain);
  bool is_free(int row, int column, int length) const;
  const std::string& at(int row, int column) const;
  // One row, without blanks at its end. `test_code`: terminal code of Ink::test; nullopt: no codes at all.
  std::string row(int row, const std::optional<std::string>& test_code) const;

 private:
  struct Cell {
    std::string character = " ";
    Ink ink = Ink::plain;
    bool taken = false;  // a written blank is
  };
  Cell& cell(int row, int column) { return cells_[static_cast<std::size_t>(row * columns_ + column)]; }
  const Cell& cell(int row, int column) const {
    return cells_[static_cast<std::size_t>(row * columns_ + column)];
  }

  int rows_, columns_;
  std::vector<Cell> cells_;
};

// Per column the mean of the points it stands for; ahead of now at least of a day, so that daily doses do not
// flicker.
std::vector<std::optional<infer::Quantiles>> band_columns(const TimeAxis& axis,
                                                          const std::vector<BandPoint>& band);

// Into the canvas's lowest scale.rows rows.
void draw_band(Canvas& canvas, const TimeAxis& axis, const ValueScale& scale,
               const std::vector<std::optional<infer::Quantiles>>& band);
// Readings by day, none later than now. Those of one column stand side by side where the column before is
// free.
void draw_readings(Canvas& canvas, const TimeAxis& axis, const ValueScale& scale,
                   const std::vector<ReadingBar>& readings);
// In cells that are free.
void draw_now(Canvas& canvas, const TimeAxis& axis);
void draw_dates(Canvas& canvas, const TimeAxis& axis, int row, const DateSpan& span, std::string_view name);

}  // namespace helmwater::app
