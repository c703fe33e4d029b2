// SPDX-License-Identifier: Apache-2.0
// Small graphs of characters: a band over time with its middle, readings as the intervals they are, a line for now.
#pragma once
#include <string>
#include <vector>

namespace helmwater::app {

struct BandPoint {
  double day = 0;
  double p05 = 0, p25 = 0, p50 = 0, p75 = 0, p95 = 0;
};
struct ReadingBar {  // an end may be infinite
  double day = 0;
  double low = 0, high = 0;
};

struct TextGraph {
  double first_day = 0, last_day = 1, now_day = 0;
  int columns = 60;
  int rows = 6;
  bool root_scale = true;  // square-root scale from zero; else linear between the data's ends
  bool utf8 = true;
  std::vector<BandPoint> band;  // by day
  std::vector<ReadingBar> readings;

  // The rows from the top, each `label` wide plus `columns`, without trailing blanks. Labels at top and bottom.
  std::vector<std::string> draw(int label) const;
  // Column of a day, 0 .. columns - 1, or -1 outside.
  int column_of(double day) const;
};

// Counts what a terminal shows, not bytes.
int shown_width(const std::string& text);

}  // namespace helmwater::app
