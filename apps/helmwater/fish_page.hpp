// SPDX-License-Identifier: Apache-2.0
// The fish plan as a page of plain text for people.
#pragma once
#include <string>

#include "page_style.hpp"
#include "steer/fish_plan.hpp"

namespace helmwater::app {

std::string fish_page(const steer::FishPlan& plan, const PageStyle& style);

}  // namespace helmwater::app
