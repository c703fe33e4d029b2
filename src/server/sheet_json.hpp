// SPDX-License-Identifier: Apache-2.0
// A loop and its log as the page draws them: readings in one set of units whatever the kits count in.
#pragma once
#include <nlohmann/json_fwd.hpp>
#include <string>

#include "records/entry.hpp"

namespace helmwater::server {

// Ammonia mg/L as NH3, nitrite and nitrate mg/L as ion, alkalinity mg/L as CaCO3, phosphate mg/L as P, the others in
// the unit they are read in.
nlohmann::ordered_json sheet_json(const std::string& id, const records::LoopLog& log);
// One line of the list of loops.
nlohmann::ordered_json line_json(const std::string& id, const records::LoopLog& log);

}  // namespace helmwater::server
