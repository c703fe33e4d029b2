// SPDX-License-Identifier: Apache-2.0
// Old sheets with one row a day and one column a test, turned into a loop with a log.
#pragma once
#include <string>
#include <string_view>
#include <tl/expected.hpp>
#include <vector>

#include "records/loop_folder.hpp"

namespace helmwater::records {

// A cell that could not be read and was left out.
struct UnreadCell {
  int line = 0;
  int column = 0;
  std::string name;  // of the column
  std::string text;
  std::string reason;
};

struct WideSheet {
  LoopLog log;
  std::vector<UnreadCell> unread;
};

// Columns day,ammonia,nitrite,nitrate,ph,temp_c,event in any order, day required. `loop.started` is day 0; readings of
// day d are at noon d days later. `as_n`: the nitrogen columns count N, else the ion (NH3, NO2, NO3).
tl::expected<WideSheet, Error> read_wide_sheet(const Loop& loop, bool as_n, std::string_view text, std::string_view file_name);

}  // namespace helmwater::records
