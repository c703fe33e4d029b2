// SPDX-License-Identifier: Apache-2.0
// Outlook and hindcast as JSON (docs/reference/outlook_json.md).
#pragma once
#include <nlohmann/json_fwd.hpp>

#include "infer/hindcast.hpp"
#include "infer/outlook.hpp"

namespace helmwater::server {

nlohmann::ordered_json to_json(const infer::Outlook& outlook);
nlohmann::ordered_json to_json(const infer::NextTest& next, records::Instant as_of);
nlohmann::ordered_json to_json(const infer::Hindcast& hindcast);

}  // namespace helmwater::server
