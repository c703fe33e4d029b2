// SPDX-License-Identifier: Apache-2.0
#include "records/wide_sheet.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <optional>
#include <utility>

#include "records/csv.hpp"
#include "records/log_row.hpp"
#include "records/words.hpp"
#include "units/parse.hpp"

namespace helmwater::records {
namespace {

struct SheetColumn {
  std::string_view name;
  Test test;
  std::string_view unit;  // empty with `nitrogen`: the basis decides
  bool nitrogen;
};
constexpr std::array<SheetColumn, 5> kTests{{{"ammonia", Test::ammonia, "", true},
                                             {"nitrite", Test::nitrite, "", true},
                                             {"nitrate", Test::nitrate, "", true},
                                             {"ph", Test::ph, "", false},
                                             {"temp_c", Test::temperature, "degC", false}}};
constexpr std::string_view kColumns = "day,ammonia,nitrite,nitrate,ph,temp_c,event";
constexpr double kMostDays = 36500;  // a century: beyond it the column is not a day count

// "1-2" and "7.8 - 8.0" as people write ranges in sheets; ">=2" and "<=0.25" as the log writes open ends.
std::string as_log_writes(std::string_view cell) {
  constexpr std::array<std::string_view, 3> kDashes{"\xE2\x80\x93", "\xE2\x80\x94", "\xE2\x88\x92"};  // en, em, minus
  std::string text;
  for (std::string_view rest = trimmed(cell); !rest.empty();) {
    const bool dash = std::find(kDashes.begin(), kDashes.end(), rest.substr(0, 3)) != kDashes.end();
    text.push_back(dash ? '-' : rest.front());
    rest.remove_prefix(dash ? 3 : 1);
  }
  if (text.substr(0, 2) == ">=" || text.substr(0, 2) == "<=") text.erase(1, 1);
  const auto dash = text.find('-');
  if (dash != std::string::npos && dash > 0 && text.find_first_of("<>~+") == std::string::npos) {
    const std::string_view left = trimmed(std::string_view(text).substr(0, dash));
    const std::string_view right = trimmed(std::string_view(text).substr(dash + 1));
    const bool numbers = !left.empty() && !right.empty() && left.find_first_not_of("0123456789.") == std::string_view::npos &&
                         (right.front() == '.' || (right.front() >= '0' && right.front() <= '9'));
    if (numbers) return fmt::format("{}..{}", left, right);
  }
  return text;
}

class SheetReader {
 public:
  SheetReader(const Loop& loop, bool as_n, std::string_view file)
      : loop_(loop), file_(file), nitrogen_unit_(as_n ? "mg/L as N" : "mg/L as ion") {}

  tl::expected<WideSheet, Error> read(std::string_view text) {
    const auto rows = parse_csv(text, file_);
    if (!rows) return tl::unexpected(rows.error());
    if (auto error = read_header(*rows)) return tl::unexpected(std::move(*error));
    for (std::size_t i = 1; i < rows->size(); ++i) take_row((*rows)[i]);
    auto log = parse_log_csv(loop_, csv_, "log.csv");
    if (!log) return tl::unexpected(log.error());
    sheet_.log = std::move(*log);
    return std::move(sheet_);
  }

 private:
  std::optional<Error> read_header(const std::vector<CsvRow>& rows) {
    Error error;
    error.file = file_;
    error.line = 1;
    error.column = 1;
    if (rows.empty()) {
      error.message = fmt::format("the sheet is empty; its first line must name the columns {}", kColumns);
      return error;
    }
    for (const CsvCell& cell : rows.front().cells) {
      const std::string name = key_word(cell.text);
      error.line = cell.line;
      error.column = cell.column;
      if (!name.empty() && std::find(names_.begin(), names_.end(), name) != names_.end()) {
        error.message = fmt::format("the column {} stands twice; rename one", in_quotes(name));
        return error;
      }
      names_.push_back(name);
    }
    if (std::find(names_.begin(), names_.end(), "day") == names_.end()) {
      const bool semicolons = rows.front().cells.size() == 1 && rows.front().cells.front().text.find(';') != std::string::npos;
      error.line = rows.front().line;
      error.column = 1;
      error.message = fmt::format("there is no column \"day\"; a wide sheet has the columns {}{}", kColumns,
                                  semicolons ? ", separated by commas, not semicolons" : "");
      return error;
    }
    return std::nullopt;
  }

  void unread(const CsvCell& cell, std::string_view name, std::string reason) {
    sheet_.unread.push_back({cell.line, cell.column, std::string(name), std::string(trimmed(cell.text)), std::move(reason)});
  }

  // "2026-03-08" for day 7; a day with a fraction counts from noon too, to the minute. nullopt: not a day of a sheet.
  std::optional<std::string> date_of(const CsvCell& cell) const {
    const auto day = units::parse_number(cell.text);
    if (!day || std::abs(*day) > kMostDays || !loop_.started) return std::nullopt;
    const Instant when = plus_days(*loop_.started, *day);
    if (*day == std::floor(*day)) {
      // Day 0 is a noon; a clock change on the way moves it by an hour or so, never across midnight.
      return local_date_iso(when, loop_.zone());
    }
    return to_utc_text(std::chrono::round<std::chrono::minutes>(when));
  }

  void take_row(const CsvRow& row) {
    std::optional<std::string> date;
    for (std::size_t i = 0; i < row.cells.size() && i < names_.size(); ++i) {
      if (names_[i] != "day") continue;
      date = date_of(row.cells[i]);
      if (!date) unread(row.cells[i], "day", "not a day number; the row was left out");
    }
    if (!date) return;
    for (std::size_t i = 0; i < row.cells.size(); ++i) {
      const CsvCell& cell = row.cells[i];
      if (trimmed(cell.text).empty()) continue;
      const std::string name = i < names_.size() ? names_[i] : std::string{};
      if (name == "day") continue;
      if (name == "event") {
        csv_ += fmt::format("{},note,{},,\n", *date, csv_cell(trimmed(cell.text)));
        continue;
      }
      const auto column = std::find_if(kTests.begin(), kTests.end(), [&](const SheetColumn& c) { return c.name == name; });
      if (column == kTests.end()) {
        unread(cell, name, name.empty() ? "stands under no heading" : fmt::format("not a column of a wide sheet ({})", kColumns));
        continue;
      }
      take_reading(*column, cell, *date);
    }
  }

  void take_reading(const SheetColumn& column, const CsvCell& cell, const std::string& date) {
    LogRow row;
    row.value = as_log_writes(cell.text);
    row.unit = column.nitrogen ? nitrogen_unit_ : std::string(column.unit);
    row.what = column.name;
    if (const auto when = parse_instant(date, loop_.zone())) row.when = when->when;
    std::vector<Doubt> ignored;
    const auto reading = read_reading(loop_, column.test, row, ignored);
    if (!reading) {
      const bool word = cell.text.find_first_of("0123456789") == std::string::npos;
      unread(cell, column.name, word ? "a word, no number" : reading.error().message);
      return;
    }
    csv_ += fmt::format("{},{},{},{},\n", date, to_text(column.test), csv_cell(row.value), row.unit);
  }

  Loop loop_;
  std::string file_;
  std::string nitrogen_unit_;
  std::vector<std::string> names_;
  std::string csv_{"when,what,value,unit,detail\n"};
  WideSheet sheet_;
};

}  // namespace

tl::expected<WideSheet, Error> read_wide_sheet(const Loop& loop, bool as_n, std::string_view text, std::string_view file_name) {
  return SheetReader(loop, as_n, file_name).read(text);
}

}  // namespace helmwater::records
