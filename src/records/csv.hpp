// SPDX-License-Identifier: Apache-2.0
// Comma-separated text as RFC 4180 describes it, with the slips of real files: BOM, CRLF, blank lines.
#pragma once
#include <string>
#include <string_view>
#include <tl/expected.hpp>
#include <vector>

#include "records/loop_folder.hpp"

namespace helmwater::records {

struct CsvCell {
  std::string text;
  int line = 0;    // where it starts; first line of the file = 1
  int column = 0;  // in characters, 1-based
};
struct CsvRow {
  int line = 0;
  std::vector<CsvCell> cells;
};

inline constexpr std::size_t kLongestLine = 64 * 1024;  // bytes

// All rows that are not blank. Refused: NUL bytes, invalid UTF-8, a line over 64 KiB, an unclosed quote.
tl::expected<std::vector<CsvRow>, Error> parse_csv(std::string_view text, std::string_view file_name);

// A cell as written: quoted if it has to be.
std::string csv_cell(std::string_view text);

}  // namespace helmwater::records
