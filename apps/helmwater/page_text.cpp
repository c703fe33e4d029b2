// SPDX-License-Identifier: Apache-2.0
#include "page_text.hpp"

#include <algorithm>
#include <array>
#include <utility>

namespace helmwater::app {
namespace {

// One character of a UTF-8 text. Broken bytes come one by one, as U+FFFD.
struct Character {
  char32_t code = 0;
  std::size_t bytes = 1;
};
Character first_character(std::string_view text) {
  const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(text[i]); };
  const unsigned char lead = byte(0);
  const std::size_t bytes = lead < 0x80 ? 1 : lead >= 0xF0 ? 4 : lead >= 0xE0 ? 3 : lead >= 0xC0 ? 2 : 0;
  if (bytes == 1) return {lead, 1};
  if (bytes == 0 || bytes > text.size()) return {0xFFFD, 1};
  char32_t code = lead & (0xFFu >> (bytes + 1));
  for (std::size_t i = 1; i < bytes; ++i) {
    if ((byte(i) & 0xC0) != 0x80) return {0xFFFD, 1};
    code = (code << 6) | (byte(i) & 0x3Fu);
  }
  return {code, bytes};
}

// Combining marks take no column, East Asian wide characters and pictures two (the large blocks; Unicode's
// annex 11).
int width_of(char32_t c) {
  if ((c >= 0x300 && c <= 0x36F) || (c >= 0x200B && c <= 0x200F) || (c >= 0xFE00 && c <= 0xFE0F)) return 0;
  if ((c >= 0x1100 && c <= 0x115F) || (c >= 0x2E80 && c <= 0xA4CF) || (c >= 0xAC00 && c <= 0xD7A3) ||
      (c >= 0xF900 && c <= 0xFAFF) || (c >= 0xFE30 && c <= 0xFE6F) || (c >= 0xFF00 && c <= 0xFF60) ||
      (c >= 0xFFE0 && c <= 0xFFE6) || (c >= 0x1F300 && c <= 0x1FAFF) || (c >= 0x20000 && c <= 0x3FFFD))
    return 2;
  return 1;
}

// Length of a colour code at the front of the text, 0: there is none.
std::size_t colour_code(std::string_view text) {
  if (text.size() < 2 || text[0] != '\x1b' || text[1] != '[') return 0;
  const std::size_t end = text.find('m');
  return end == std::string_view::npos ? 0 : end + 1;
}

// No two marks that mean different things on one page share a character.
constexpr auto kAscii = std::to_array<std::pair<char32_t, const char*>>({
    {U'░', ":"},  {U'▒', "%"},  {U'─', "-"}, {U'▔', "-"}, {U'▁', "_"},   {U'│', "|"}, {U'┃', "I"},
    {U'╹', "I"},  {U'╻', "I"},  {U'┇', "?"}, {U'↑', "^"}, {U'↓', "v"},   {U'→', ">"}, {U'▼', "D"},
    {U'▽', "d"},  {U'◆', "W"},  {U'◇', "w"}, {U'▶', "F"}, {U'◀', "H"},   {U'├', "|"}, {U'┤', "|"},
    {U'═', "="},  {U'╪', "#"},  {U'╱', "/"}, {U'┬', "+"}, {U'┼', "+"},   {U'┴', "+"}, {U'┌', "+"},
    {U'┐', "+"},  {U'└', "+"},  {U'┘', "+"}, {U'·', "."}, {U'˙', "'"},   {U'–', "-"}, {U'\u00A0', "\u00A0"},
    {U'₂', "2"},  {U'₃', "3"},  {U'₄', "4"}, {U'⁻', "-"}, {U'°', "deg"}, {U'×', "x"}, {U'’', "'"},
    {U'“', "\""}, {U'”', "\""}, {U'µ', "u"},
});

void replace_all(std::string& text, std::string_view from, std::string_view to) {
  for (std::size_t at = 0; (at = text.find(from, at)) != std::string::npos; at += to.size())
    text.replace(at, from.size(), to);
}

}  // namespace

int shown_width(std::string_view text) {
  int width = 0;
  while (!text.empty()) {
    if (const std::size_t code = colour_code(text)) {
      text.remove_prefix(code);
      continue;
    }
    const Character c = first_character(text);
    width += width_of(c.code);
    text.remove_prefix(c.bytes);
  }
  return width;
}

std::string without_controls(std::string_view text) {
  std::string out;
  while (!text.empty()) {
    const Character c = first_character(text);
    const bool control = c.code < 0x20 || (c.code >= 0x7F && c.code < 0xA0) ||
                         (c.code >= 0x202A && c.code <= 0x202E) || (c.code >= 0x2066 && c.code <= 0x2069);
    if (c.code == U'\t' || c.code == U'\n') {
      out += ' ';
    } else if (c.code == 0xFFFD) {
      out += '?';
    } else if (!control) {
      out += text.substr(0, c.bytes);
    }
    text.remove_prefix(c.bytes);
  }
  return out;
}

std::string in_ascii(std::string_view text) {
  std::string out;
  while (!text.empty()) {
    const Character c = first_character(text);
    if (c.code < 0x80) {
      out += static_cast<char>(c.code);
    } else {
      const auto found =
          std::find_if(kAscii.begin(), kAscii.end(), [&](const auto& pair) { return pair.first == c.code; });
      if (found != kAscii.end()) {
        out += found->second;
      } else if (width_of(c.code) > 0) {
        out += width_of(c.code) == 2 ? "??" : "?";
      }
    }
    text.remove_prefix(c.bytes);
  }
  return out;
}

std::string with_formulas(std::string text) {
  for (const auto& [from, to] : {std::pair{"NH3", "NH₃"},
                                 {"NH4", "NH₄"},
                                 {"CaCO3", "CaCO₃"},
                                 {"NO2", "NO₂"},
                                 {"NO3", "NO₃"},
                                 {"degC", "°C"}}) {
    replace_all(text, from, to);
  }
  return text;
}

PageText::PageText(const PageStyle& style) : style_(style) { style_.columns = std::max(style_.columns, 40); }

std::string PageText::set(std::string_view text) const {
  return style_.utf8 ? std::string(text) : in_ascii(text);
}

std::string PageText::painted(std::string_view text, std::string_view code) const {
  if (!style_.colour || code.empty() || text.empty()) return std::string(text);
  return "\x1b[" + std::string(code) + "m" + std::string(text) + "\x1b[0m";
}

void PageText::line(std::string_view text) {
  std::string out = set(text);
  replace_all(out, "\u00A0", " ");
  while (!out.empty() && out.back() == ' ') out.pop_back();
  text_ += out + "\n";
}

std::vector<std::string> PageText::wrapped(std::string_view given, int first_room, int room) const {
  const std::string text = set(given);
  std::vector<std::string> lines;
  std::string current;
  const auto left = [&] { return (lines.empty() ? first_room : room) - shown_width(current); };
  const auto next_line = [&] {
    lines.push_back(current);
    current.clear();
  };
  std::size_t at = 0;
  while (at < text.size()) {
    const std::size_t end = std::min(text.find(' ', at), text.size());
    std::string_view word = std::string_view(text).substr(at, end - at);
    at = end + 1;
    if (word.empty()) continue;
    if (!current.empty() && 1 + shown_width(word) > left()) next_line();
    if (!current.empty()) current += ' ';
    while (shown_width(word) > left()) {  // a word wider than a line
      std::size_t bytes = 0;
      int width = 0;
      while (bytes < word.size()) {
        const Character c = first_character(word.substr(bytes));
        if (width + width_of(c.code) > left()) break;
        width += width_of(c.code);
        bytes += c.bytes;
      }
      if (bytes == 0) break;
      current += word.substr(0, bytes);
      word.remove_prefix(bytes);
      next_line();
    }
    current += word;
  }
  if (!current.empty() || lines.empty()) lines.push_back(current);
  return lines;
}

void PageText::paragraph(std::string_view text, std::string_view first, std::string_view rest,
                         std::string_view code) {
  const auto lines = wrapped(text, style_.columns - shown_width(first), style_.columns - shown_width(rest));
  for (std::size_t i = 0; i < lines.size(); ++i)
    line(std::string(i == 0 ? first : rest) + painted(lines[i], code));
}

void PageText::items(const std::vector<std::string>& items, std::string_view indent) {
  std::string current;
  for (const std::string& item : items) {
    if (!current.empty() && shown_width(current) + 3 + shown_width(item) > style_.columns) {
      line(current);
      current.clear();
    }
    current += (current.empty() ? std::string(indent) : "   ") + item;
  }
  if (!current.empty()) line(current);
}

void PageText::rule() {
  std::string r;
  for (int i = 0; i < style_.columns; ++i) r += "─";
  line(r);
}

void PageText::section(std::string_view title) {
  line();
  line(painted(set(title), kBold));
  rule();
}

void PageText::frame(std::string_view head, const std::vector<std::string>& sentences, int indent) {
  const std::string before(static_cast<std::size_t>(indent), ' ');
  const int room = style_.columns - indent - 4;
  std::string top = "┌─ " + std::string(head) + " ", bottom = "└";
  while (shown_width(top) < room + 3) top += "─";
  while (shown_width(bottom) < room + 3) bottom += "─";
  line(before + top + "┐");
  for (const std::string& sentence : sentences) {
    const auto lines = wrapped(sentence, room, room - 2);
    for (std::size_t i = 0; i < lines.size(); ++i) {
      const std::string inner = (i == 0 ? "" : "  ") + lines[i];
      line(before + "│ " + inner +
           std::string(static_cast<std::size_t>(std::max(0, room - shown_width(inner))), ' ') + " │");
    }
  }
  line(before + bottom + "┘");
}

}  // namespace helmwater::app
