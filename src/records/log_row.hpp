// SPDX-License-Identifier: Apache-2.0
// One row of log.csv on its way from text to an entry.
#pragma once
#include <string>
#include <string_view>
#include <tl/expected.hpp>
#include <vector>

#include "records/entry.hpp"

namespace helmwater::records {

enum class Column { when, what, value, unit, detail, kit };

// All texts trimmed.
struct LogRow {
  int line = 0;
  Instant when;
  bool to_the_minute = false;
  std::string what;  // key word: lower case, single blanks
  std::string value;
  std::string unit;
  std::string detail;
  std::string kit;
};

// What is wrong with one cell; the caller knows where it stands in the file.
struct CellError {
  Column column = Column::what;
  std::string message;
};
inline tl::unexpected<CellError> wrong(Column column, std::string message) {
  return tl::unexpected<CellError>(CellError{column, std::move(message)});
}

// The kit a reading of `test` was made with: the one the row's kit column names, else the one valid at the time.
// -1: none, or a meter. Two valid at the time is an error.
tl::expected<int, CellError> kit_of(const Loop& loop, Test test, const LogRow& row, std::vector<Doubt>& doubts);
bool is_meter(const LogRow& row);

// "mg/L", "mg/L as NO2", "ppm as ion": what the test's numbers are counted in; a unit without basis takes the kit's.
tl::expected<Basis, CellError> basis_of_unit(const Loop& loop, Test test, int kit, const LogRow& row);

tl::expected<Reading, CellError> read_reading(const Loop& loop, Test test, const LogRow& row, std::vector<Doubt>& doubts);

bool is_action(std::string_view what);
const std::vector<std::string>& action_names();
tl::expected<Body, CellError> read_action(const Loop& loop, const LogRow& row, std::vector<Doubt>& doubts);

}  // namespace helmwater::records
