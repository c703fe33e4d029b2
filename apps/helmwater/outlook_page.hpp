// SPDX-License-Identifier: Apache-2.0
// The outlook as a page of plain text for people.
#pragma once
#include <string>

#include "infer/outlook.hpp"
#include "page_style.hpp"

namespace helmwater::app {

std::string outlook_page(const infer::Outlook& outlook, const records::LoopLog& log, const PageStyle& style);

}  // namespace helmwater::app
