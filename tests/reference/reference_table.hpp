// SPDX-License-Identifier: Apache-2.0
// Reads a table of reference values (tests/reference/NAME.csv). Every row says its source; a failing check
// prints it:
//   for (const Row& row : reference_table("x")) { SCOPED_TRACE(row.origin()); … }
#pragma once
#include <charconv>
#include <fstream>
#include <map>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

namespace helmwater::reference {

class Row {
 public:
  Row(std::string table, int line, std::map<std::string, std::string, std::less<>> cells)
      : table_(std::move(table)), line_(line), cells_(std::move(cells)) {}
  const std::string& text(std::string_view column) const {
    const auto found = cells_.find(column);
    if (found == cells_.end()) throw std::runtime_error(table_ + ".csv has no column " + std::string(column));
    return found->second;
  }
  bool has(std::string_view column) const { return !text(column).empty(); }
  double number(std::string_view column) const {
    const std::string& cell = text(column);
    double value = 0;
    const auto [end, status] = std::from_chars(cell.data(), cell.data() + cell.size(), value);
    if (status != std::errc{} || end != cell.data() + cell.size())
      throw std::runtime_error(origin() + ": \"" + cell + "\" in column " + std::string(column) +
                               " is not a number");
    return value;
  }
  std::string origin() const {
    return table_ + ".csv line " + std::to_string(line_) + ", source: " + text("source") + " [" +
           text("evidence") + "]";
  }

 private:
  std::string table_;
  int line_;
  std::map<std::string, std::string, std::less<>> cells_;
};

inline std::vector<std::string> split_csv(const std::string& line) {
  std::vector<std::string> cells(1);
  bool quoted = false;
  for (std::size_t i = 0; i < line.size(); ++i) {
    const char c = line[i];
    if (c == '"') {
      if (quoted && i + 1 < line.size() && line[i + 1] == '"') {
        cells.back() += '"';
        ++i;
      } else {
        quoted = !quoted;
      }
    } else if (c == ',' && !quoted) {
      cells.emplace_back();
    } else {
      cells.back() += c;
    }
  }
  return cells;
}

// Throws if the file is missing, empty, ragged, or a row has no source: a check without rows would check
// nothing.
inline std::vector<Row> reference_table(const std::string& name) {
  const std::string path = std::string(HELMWATER_TEST_DATA) + "/reference/" + name + ".csv";
  std::ifstream file(path);
  std::string line;
  if (!std::getline(file, line)) throw std::runtime_error("cannot read " + path);
  const std::vector<std::string> header = split_csv(line);
  std::vector<Row> rows;
  for (int number = 2; std::getline(file, line); ++number) {
    const std::vector<std::string> cells = split_csv(line);
    if (cells.size() != header.size())
      throw std::runtime_error(path + " line " + std::to_string(number) + " is ragged");
    std::map<std::string, std::string, std::less<>> named;
    for (std::size_t i = 0; i < header.size(); ++i) named.emplace(header[i], cells[i]);
    rows.emplace_back(name, number, std::move(named));
    if (!rows.back().has("source") || !rows.back().has("evidence"))
      throw std::runtime_error(path + " line " + std::to_string(number) + " has no source or evidence");
  }
  if (rows.empty()) throw std::runtime_error(path + " has no rows");
  return rows;
}

}  // namespace helmwater::reference
