// SPDX-License-Identifier: Apache-2.0
// What the machine-readable answers have in common: quantiles in order, instants in UTC, nothing beside the
// JSON.
#pragma once
#include <gtest/gtest.h>

#include <chrono>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "run_program.hpp"

namespace helmwater::cli_test {

using Json = nlohmann::json;

// Exit code 0 and one JSON object and a line end on standard output; else the test fails and the answer is
// null.
Json answer_of(const Said& run);

using Seconds = std::chrono::sys_seconds;
// "2026-03-12T08:00:00Z" and nothing else.
std::optional<Seconds> instant(const Json& text);

// p05, p25, p50, p75, p95 are numbers and do not fall.
testing::AssertionResult has_quantiles(const Json& of);
// The same for instants; null means never, so after a null only nulls.
testing::AssertionResult has_instant_quantiles(const Json& of);

testing::AssertionResult has_keys(const Json& object, const std::vector<std::string_view>& keys);

}  // namespace helmwater::cli_test
