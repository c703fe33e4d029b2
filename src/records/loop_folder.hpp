// SPDX-License-Identifier: Apache-2.0
// Reading and writing a loop folder: loop.toml and log.csv.
#pragma once
#include <filesystem>
#include <string>
#include <string_view>
#include <tl/expected.hpp>

#include "records/entry.hpp"

namespace helmwater::records {

// What is wrong, where, what is allowed, what to do next. `bad_input`: exit code 2; `unavailable`: 1.
struct Error {
  enum class Kind { bad_input, unavailable } kind = Kind::bad_input;
  std::string file;
  int line = 0;    // 0: not about a line
  int column = 0;  // 1-based, 0: not about a column
  std::string message;
  std::string to_text() const;  // "log.csv:12:18: …"
};

tl::expected<Loop, Error> parse_loop_toml(std::string_view text, std::string_view file_name);
tl::expected<LoopLog, Error> parse_log_csv(const Loop& loop, std::string_view text, std::string_view file_name);
tl::expected<LoopLog, Error> read_loop_folder(const std::filesystem::path& folder);

std::string to_loop_toml(const Loop& loop);
std::string to_log_csv(const LoopLog& log);  // rows in file order, texts as read
// Writes both files, each complete or not at all (temporary file, then rename).
tl::expected<void, Error> write_loop_folder(const LoopLog& log, const std::filesystem::path& folder);

}  // namespace helmwater::records
