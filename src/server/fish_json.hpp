// SPDX-License-Identifier: Apache-2.0
// The fish plan as JSON (docs/reference/http.md).
#pragma once
#include <nlohmann/json_fwd.hpp>

#include "steer/fish_plan.hpp"

namespace helmwater::server {

nlohmann::ordered_json to_json(const steer::FishPlan& plan);

}  // namespace helmwater::server
