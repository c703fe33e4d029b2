// SPDX-License-Identifier: Apache-2.0
// Words as people write them into a log or a loop file: trimming, letter case, and the nearest allowed word.
#pragma once
#include <string>
#include <string_view>
#include <vector>

namespace helmwater::records {

std::string_view trimmed(std::string_view text);
// ASCII letters only; a log's key words are ASCII.
std::string lower_case(std::string_view text);
// Trimmed, lower case, runs of blanks as one: "Water  Change " becomes "water change".
std::string key_word(std::string_view text);

// What was seen, short and free of control characters, in double quotes.
std::string in_quotes(std::string_view text);
// "a, b, c"
std::string listed(const std::vector<std::string>& words);
// The allowed word a mistyped one most likely means; empty if none is near (more than a third of its letters differ).
std::string closest_word(std::string_view written, const std::vector<std::string>& allowed);
// "; did you mean \"x\"?" or nothing.
std::string did_you_mean(std::string_view written, const std::vector<std::string>& allowed);

}  // namespace helmwater::records
