// SPDX-License-Identifier: Apache-2.0
// Made-up loops for the fish plan: a ripe one, a young one, one with fish in too early. Nothing in them was measured.
#pragma once
#include <string>

#include "infer/outlook.hpp"
#include "records/entry.hpp"

namespace helmwater::steer_test {

// Log rows without the header; `toml` is added to a loop of 500 L at 27 degC begun on 1 January 2026.
records::LoopLog loop_of(const std::string& toml, const std::string& rows);
infer::Posterior posterior_of(const records::LoopLog& log, const std::string& as_of = "");

// Fifty days of doses of 2 mg/L (as NH3) every second day, gone each time.
const records::LoopLog& ripe();
// Three days old: one dose, still there.
records::LoopLog young();
// Twenty tilapia in a new filter, 2 mg/L of ammonia on the sixth day.
records::LoopLog fish_too_early();

}  // namespace helmwater::steer_test
