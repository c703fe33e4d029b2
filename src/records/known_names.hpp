// SPDX-License-Identifier: Apache-2.0
// Names of fish and crops a log may use without a doubt. Anything else is read too, with generic values.
#pragma once
#include <string>
#include <string_view>

namespace helmwater::records {

// The name without case, brackets and a plural s is one of the listed ones.
bool is_known_species(std::string_view name);
bool is_known_crop(std::string_view name);

}  // namespace helmwater::records
