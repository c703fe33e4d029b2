// SPDX-License-Identifier: Apache-2.0
#include "handbook/sources.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

namespace helmwater::handbook {
namespace {

constexpr std::array<std::string_view, 4> kWithoutText{"from_memory", "own_judgement", "common_practice",
                                                       "structure_trials"};

bool is_key_character(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_';
}

}  // namespace

bool is_without_text(std::string_view key) {
  return std::find(kWithoutText.begin(), kWithoutText.end(), key) != kWithoutText.end();
}

tl::expected<SourceKeys, Handbook::Error> source_keys(std::string_view bib, std::string_view file) {
  SourceKeys keys;
  int line = 0;
  for (std::size_t begin = 0; begin < bib.size();) {
    const std::size_t end = std::min(bib.find('\n', begin), bib.size());
    const std::string_view row = bib.substr(begin, end - begin);
    begin = end + 1;
    ++line;
    if (row.empty() || row.front() != '@') continue;
    const auto wrong = [&](std::string message) {
      return tl::unexpected(Handbook::Error{std::string(file), line, 1, std::move(message)});
    };
    const std::size_t open = row.find('{');
    const std::size_t comma = row.find(',');
    if (open == std::string_view::npos || comma == std::string_view::npos || comma <= open + 1) {
      return wrong("an entry begins with @kind{key, on one line");
    }
    const std::string_view key = row.substr(open + 1, comma - open - 1);
    if (!std::all_of(key.begin(), key.end(), is_key_character)) {
      return wrong(fmt::format("key \"{}\": letters, digits and underscores only", key));
    }
    if (row.find("title = {") == std::string_view::npos) {
      return wrong(fmt::format("source \"{}\" has no title = {{…}} on its line", key));
    }
    if (!keys.emplace(key).second) return wrong(fmt::format("source \"{}\" is listed twice", key));
  }
  return keys;
}

}  // namespace helmwater::handbook
