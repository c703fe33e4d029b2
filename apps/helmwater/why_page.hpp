// SPDX-License-Identifier: Apache-2.0
// Causes of a loop that does not move as a page of plain text.
#pragma once
#include <string>

#include "page_style.hpp"
#include "steer/why_stuck.hpp"

namespace helmwater::app {

std::string why_page(const steer::WhyStuck& why, const std::string& zone, const PageStyle& style);

}  // namespace helmwater::app
