// SPDX-License-Identifier: Apache-2.0
// Causes of a loop that does not move as JSON (docs/reference/http.md).
#pragma once
#include <nlohmann/json_fwd.hpp>

#include "steer/why_stuck.hpp"

namespace helmwater::server {

nlohmann::ordered_json to_json(const steer::WhyStuck& why);

}  // namespace helmwater::server
