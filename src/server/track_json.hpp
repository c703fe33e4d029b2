// SPDX-License-Identifier: Apache-2.0
// The track record as JSON (docs/reference/track.md).
#pragma once
#include <nlohmann/json_fwd.hpp>

#include "steer/track_record.hpp"

namespace helmwater::server {

nlohmann::ordered_json to_json(const steer::TrackRecord& record);

}  // namespace helmwater::server
