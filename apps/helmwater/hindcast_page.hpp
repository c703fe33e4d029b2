// SPDX-License-Identifier: Apache-2.0
// The look back as a page of plain text for people.
#pragma once
#include <string>

#include "infer/hindcast.hpp"
#include "page_style.hpp"

namespace helmwater::app {

std::string hindcast_page(const infer::Hindcast& hindcast, const PageStyle& style);

}  // namespace helmwater::app
