// SPDX-License-Identifier: Apache-2.0
// Loops and logs from a few lines of text, for the tests of this folder.
#pragma once
#include <gtest/gtest.h>

#include <initializer_list>
#include <stdexcept>
#include <string>

#include "records/loop_folder.hpp"

namespace helmwater::records {

inline constexpr const char* kHead = "name = \"Test loop\"\nvolume_l = 100\n";
inline constexpr const char* kLogHead = "when,what,value,unit,detail\n";

inline Loop loop_from(const std::string& more = "") {
  auto loop = parse_loop_toml(kHead + more, "loop.toml");
  if (!loop) throw std::runtime_error(loop.error().to_text());
  return *loop;
}
inline LoopLog log_from(const Loop& loop, const std::string& rows, const std::string& head = kLogHead) {
  auto log = parse_log_csv(loop, head + rows, "log.csv");
  if (!log) throw std::runtime_error(log.error().to_text());
  return *log;
}
// The message of a refusal, or what shows that there was none.
inline std::string toml_refusal(const std::string& text) {
  const auto loop = parse_loop_toml(text, "loop.toml");
  return loop ? "(accepted)" : loop.error().to_text();
}
inline std::string csv_refusal(const Loop& loop, const std::string& text) {
  const auto log = parse_log_csv(loop, text, "log.csv");
  return log ? "(accepted)" : log.error().to_text();
}
inline std::string row_refusal(const std::string& row, const Loop& loop = loop_from()) {
  return csv_refusal(loop, kLogHead + row + "\n");
}
inline std::string codes(const LoopLog& log) {
  std::string out;
  for (const Doubt& doubt : log.doubts) out += (out.empty() ? "" : " ") + doubt.code;
  return out;
}

inline testing::AssertionResult says(const std::string& message, std::initializer_list<const char*> words) {
  for (const char* word : words)
    if (message.find(word) == std::string::npos)
      return testing::AssertionFailure() << "\"" << word << "\" is missing in: " << message;
  return testing::AssertionSuccess();
}

}  // namespace helmwater::records
