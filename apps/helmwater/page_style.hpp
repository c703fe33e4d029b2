// SPDX-License-Identifier: Apache-2.0
// How a page of plain text may look where it is shown.
#pragma once

namespace helmwater::app {

struct PageStyle {
  int columns = 80;
  bool colour = false;
  bool utf8 = true;  // else ASCII alone
};

// Of standard output: COLUMNS, else the terminal's width, held to 60..120; colour on a terminal unless
// NO_COLOR is set; UTF-8 as LC_ALL, LC_CTYPE or LANG say, the first that is set, and UTF-8 if none is.
PageStyle page_style_from_environment();

}  // namespace helmwater::app
