// SPDX-License-Identifier: Apache-2.0
#include "csv_rows.hpp"

#include <fstream>
#include <sstream>
#include <stdexcept>

namespace helmwater::handbook_test {
namespace {

std::vector<std::string> cells_of(const std::string& line) {
  std::vector<std::string> cells;
  std::stringstream in(line);
  for (std::string cell; std::getline(in, cell, ',');) cells.push_back(cell);
  return cells;
}

}  // namespace

std::string source_text(const std::string& path) {
  std::ifstream in(std::string(HELMWATER_SOURCE "/") + path);
  if (!in) throw std::runtime_error("cannot read " + path);
  std::stringstream text;
  text << in.rdbuf();
  return text.str();
}

std::vector<Row> csv_rows(const std::string& name) {
  std::stringstream in(source_text("tests/handbook/" + name));
  std::vector<std::string> header;
  std::vector<Row> rows;
  for (std::string line; std::getline(in, line);) {
    if (line.empty() || line.front() == '#') continue;
    std::vector<std::string> cells = cells_of(line);
    if (header.empty()) {
      header = cells;
      continue;
    }
    cells.resize(header.size());
    Row row;
    for (std::size_t i = 0; i < header.size(); ++i) row[header[i]] = cells[i];
    rows.push_back(row);
  }
  if (rows.empty()) throw std::runtime_error(name + " has no rows");
  return rows;
}

}  // namespace helmwater::handbook_test
