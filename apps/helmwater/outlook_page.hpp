// SPDX-License-Identifier: Apache-2.0
// The outlook as a page of plain text for people.
#pragma once
#include <string>

#include "infer/outlook.hpp"

namespace helmwater::app {

struct PageStyle {
  int columns = 80;
  bool colour = false;
  bool utf8 = true;
};
PageStyle page_style_from_environment();

std::string outlook_page(const infer::Outlook& outlook, const records::LoopLog& log, const PageStyle& style);

}  // namespace helmwater::app
