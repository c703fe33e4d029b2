// SPDX-License-Identifier: Apache-2.0
// The words of loop.toml for the choices a loop has.
#pragma once
#include <optional>
#include <string_view>
#include <vector>

#include "records/loop.hpp"

namespace helmwater::records {

std::string_view to_text(Start);         // "bottled culture"
std::string_view to_text(Bed);
std::string_view to_text(Air);
std::string_view to_text(Disinfectant);
std::string_view to_text(Redose);        // "to_target"

}  // namespace helmwater::records
