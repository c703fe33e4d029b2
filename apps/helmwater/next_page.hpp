// SPDX-License-Identifier: Apache-2.0
// What to test next, with the gains behind it, as a page of plain text.
#pragma once
#include <string>

#include "infer/outlook.hpp"
#include "page_style.hpp"

namespace helmwater::app {

// outlook.next_test is there.
std::string next_page(const infer::Outlook& outlook, const PageStyle& style);

}  // namespace helmwater::app
