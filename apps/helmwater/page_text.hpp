// SPDX-License-Identifier: Apache-2.0
// A page of plain text: wrapped paragraphs, headed sections, a framed caution. No line is wider than the
// page, none ends in blanks. Text is given in UTF-8; a page in ASCII writes every character it knows in ASCII
// and others as "?".
#pragma once
#include <string>
#include <string_view>
#include <vector>

#include "page_style.hpp"

namespace helmwater::app {

// Columns a terminal gives to a text; colour codes take none.
int shown_width(std::string_view text);
// What others wrote, without control characters, so that it cannot steer the terminal.
std::string without_controls(std::string_view text);
std::string in_ascii(std::string_view text);
// Formulas and degrees as they are set in print: NH3, CaCO3, degC.
std::string with_formulas(std::string text);

class PageText {
 public:
  explicit PageText(const PageStyle& style);

  // As it is; blanks at the end are cut.
  void line(std::string_view text = "");
  // `first` before the first line, `rest` before the others. A no-break space holds two words together; a
  // word wider than the page is broken.
  void paragraph(std::string_view text, std::string_view first = "", std::string_view rest = "",
                 std::string_view code = "");
  // Items that are not broken, with gaps.
  void items(const std::vector<std::string>& items, std::string_view indent);
  void rule();
  void section(std::string_view title);
  // Sentences inside a frame with a head.
  void frame(std::string_view head, const std::vector<std::string>& sentences, int indent);

  const PageStyle& style() const { return style_; }
  const std::string& text() const { return text_; }
  // `code` of the terminal ("1", "38;5;69") around the text, if the page has colour.
  std::string painted(std::string_view text, std::string_view code) const;

 private:
  std::vector<std::string> wrapped(std::string_view text, int first_room, int room) const;
  std::string set(std::string_view text) const;

  PageStyle style_;
  std::string text_;
};

inline constexpr std::string_view kBold = "1";
// Fish or people, within the hour. 3.9:1 on black, 5.4:1 on white.
inline constexpr std::string_view kDanger = "1;38;5;160";

}  // namespace helmwater::app
