// SPDX-License-Identifier: Apache-2.0
#include "records/csv.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "records/words.hpp"

namespace helmwater::records {
namespace {

bool is_continuation(char c) { return (static_cast<unsigned char>(c) & 0xC0U) == 0x80U; }

// Length of the well-formed UTF-8 sequence at the front (Unicode 15, table 3-7); 0 if there is none.
std::size_t utf8_length(std::string_view text) {
  const auto byte = [&](std::size_t i) { return i < text.size() ? static_cast<unsigned char>(text[i]) : 0U; };
  const auto tail = [&](std::size_t i) { return (byte(i) & 0xC0U) == 0x80U; };
  const unsigned b0 = byte(0);
  if (b0 < 0x80) return 1;
  if (b0 >= 0xC2 && b0 <= 0xDF) return tail(1) ? 2 : 0;
  if (b0 >= 0xE0 && b0 <= 0xEF) {
    if (!tail(1) || !tail(2)) return 0;
    if (b0 == 0xE0 && byte(1) < 0xA0) return 0;
    if (b0 == 0xED && byte(1) > 0x9F) return 0;  // surrogates
    return 3;
  }
  if (b0 >= 0xF0 && b0 <= 0xF4) {
    if (!tail(1) || !tail(2) || !tail(3)) return 0;
    if (b0 == 0xF0 && byte(1) < 0x90) return 0;
    if (b0 == 0xF4 && byte(1) > 0x8F) return 0;
    return 4;
  }
  return 0;
}

class CsvReader {
 public:
  CsvReader(std::string_view text, std::string_view file_name) : text_(text), file_(file_name) {}

  tl::expected<std::vector<CsvRow>, Error> read() {
    if (text_.substr(0, 3) == "\xEF\xBB\xBF") text_.remove_prefix(3);
    if (auto problem = check_bytes()) return tl::unexpected(std::move(*problem));
    std::vector<CsvRow> rows;
    while (at_ < text_.size()) {
      CsvRow row;
      row.line = line_;
      if (auto problem = read_row(row)) return tl::unexpected(std::move(*problem));
      const bool blank =
          std::all_of(row.cells.begin(), row.cells.end(), [](const CsvCell& c) { return trimmed(c.text).empty(); });
      if (!blank) rows.push_back(std::move(row));
    }
    return rows;
  }

 private:
  Error problem(int line, int column, std::string message) const {
    Error error;
    error.file = file_;
    error.line = line;
    error.column = column;
    error.message = std::move(message);
    return error;
  }

  std::optional<Error> check_bytes() const {
    int line = 1;
    int column = 1;
    std::size_t line_start = 0;
    for (std::size_t i = 0; i < text_.size();) {
      if (text_[i] == '\n') {
        ++line;
        column = 1;
        line_start = ++i;
        continue;
      }
      if (text_[i] == '\0')
        return problem(line, column, "a NUL byte; this is not a plain text file, save it again as CSV in UTF-8");
      const std::size_t length = utf8_length(text_.substr(i, 4));
      if (length == 0)
        return problem(line, column,
                       fmt::format("byte 0x{:02X} is not valid UTF-8; save the file again as CSV in UTF-8",
                                   static_cast<unsigned char>(text_[i])));
      i += length;
      ++column;
      if (i - line_start > kLongestLine)
        return problem(line, 1, "this line is longer than 64 KiB; allowed: 65536 bytes; look for a missing line break or quote");
    }
    return std::nullopt;
  }

  char peek() const { return at_ < text_.size() ? text_[at_] : '\0'; }
  void advance() {
    const char c = text_[at_++];
    if (c == '\n' || (c == '\r' && peek() != '\n')) {
      ++line_;
      column_ = 1;
    } else if (!is_continuation(c)) {
      ++column_;
    }
  }
  bool at_row_end() const { return at_ >= text_.size() || peek() == '\n' || peek() == '\r'; }
  void skip_row_end() {
    if (peek() == '\r') advance();
    if (peek() == '\n' && at_ < text_.size()) advance();
  }

  std::optional<Error> read_row(CsvRow& row) {
    for (;;) {
      CsvCell cell;
      cell.line = line_;
      cell.column = column_;
      if (at_ < text_.size() && peek() == '"') {
        if (auto bad = read_quoted(cell)) return bad;
      } else {
        while (!at_row_end() && peek() != ',') {
          cell.text += peek();
          advance();
        }
      }
      row.cells.push_back(std::move(cell));
      if (at_row_end()) {
        skip_row_end();
        return std::nullopt;
      }
      advance();  // the comma
    }
  }

  std::optional<Error> read_quoted(CsvCell& cell) {
    advance();
    for (;;) {
      if (at_ >= text_.size())
        return problem(cell.line, cell.column, "a quote is opened here and never closed; close it with \"");
      const char c = peek();
      advance();
      if (c != '"') {
        cell.text += c;
        continue;
      }
      if (at_ < text_.size() && peek() == '"') {
        cell.text += '"';
        advance();
        continue;
      }
      while (!at_row_end() && (peek() == ' ' || peek() == '\t')) advance();
      if (at_row_end() || peek() == ',') return std::nullopt;
      return problem(line_, column_,
                     fmt::format("after a closing quote only a comma or the line's end may follow, seen {}; a quote inside "
                                 "a quoted cell is written twice",
                                 in_quotes(text_.substr(at_, std::max<std::size_t>(utf8_length(text_.substr(at_, 4)), 1)))));
    }
  }

  std::string_view text_;
  std::string file_;
  std::size_t at_ = 0;
  int line_ = 1;
  int column_ = 1;
};

}  // namespace

tl::expected<std::vector<CsvRow>, Error> parse_csv(std::string_view text, std::string_view file_name) {
  return CsvReader(text, file_name).read();
}

std::string csv_cell(std::string_view text) {
  const bool blank_at_end = !text.empty() && (text.front() == ' ' || text.back() == ' ' || text.front() == '\t' ||
                                              text.back() == '\t');
  if (!blank_at_end && text.find_first_of(",\"\r\n") == std::string_view::npos) return std::string(text);
  std::string out = "\"";
  for (char c : text) {
    if (c == '"') out += '"';
    out += c;
  }
  return out + "\"";
}

}  // namespace helmwater::records
