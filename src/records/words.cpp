// SPDX-License-Identifier: Apache-2.0
#include "records/words.hpp"

#include <algorithm>
#include <numeric>

namespace helmwater::records {
namespace {

bool is_blank(char c) { return c == ' ' || c == '\t' || c == '\r' || c == '\n' || c == '\v' || c == '\f'; }

char lower(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

// Fewest single-letter insertions, deletions and replacements that turn one word into the other (Levenshtein).
std::size_t edit_distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> row(b.size() + 1);
  std::iota(row.begin(), row.end(), std::size_t{0});
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t replaced = diagonal + (a[i - 1] == b[j - 1] ? 0 : 1);
      diagonal = row[j];
      row[j] = std::min({row[j] + 1, row[j - 1] + 1, replaced});
    }
  }
  return row[b.size()];
}

}  // namespace

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && is_blank(text.front())) text.remove_prefix(1);
  while (!text.empty() && is_blank(text.back())) text.remove_suffix(1);
  return text;
}

std::string lower_case(std::string_view text) {
  std::string out(text);
  std::transform(out.begin(), out.end(), out.begin(), lower);
  return out;
}

std::string key_word(std::string_view text) {
  std::string out;
  for (char c : trimmed(text)) {
    if (!is_blank(c)) {
      out += lower(c);
    } else if (!out.empty() && out.back() != ' ') {
      out += ' ';
    }
  }
  return out;
}

std::string in_quotes(std::string_view text) {
  constexpr std::size_t kLongest = 60;
  std::string out = "\"";
  std::size_t end = std::min(text.size(), kLongest);
  while (end < text.size() && end > 0 && (static_cast<unsigned char>(text[end]) & 0xC0U) == 0x80U) --end;
  for (char c : text.substr(0, end)) out += static_cast<unsigned char>(c) < 0x20 || c == 0x7f ? '?' : c;
  if (end < text.size()) out += "...";
  return out + "\"";
}

std::string listed(const std::vector<std::string>& words) {
  std::string out;
  for (const std::string& word : words) {
    if (!out.empty()) out += ", ";
    out += word;
  }
  return out;
}

std::string closest_word(std::string_view written, const std::vector<std::string>& allowed) {
  constexpr std::size_t kLongestWorthComparing = 80;
  if (written.size() > kLongestWorthComparing) return {};
  const std::string word = key_word(written);
  std::string best;
  std::size_t best_distance = word.size() / 3 + 1;
  for (const std::string& candidate : allowed) {
    const std::size_t distance = edit_distance(word, lower_case(candidate));
    if (distance >= best_distance) continue;
    best_distance = distance;
    best = candidate;
  }
  return best;
}

std::string did_you_mean(std::string_view written, const std::vector<std::string>& allowed) {
  const std::string word = closest_word(written, allowed);
  return word.empty() ? std::string{} : "; did you mean " + in_quotes(word) + "?";
}

}  // namespace helmwater::records
