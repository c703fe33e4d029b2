// SPDX-License-Identifier: Apache-2.0
// Facts of a log and a loop's description that speak for or against a cause, by the names data/handbook/causes.toml uses.
#pragma once
#include <set>
#include <string>

#include "records/entry.hpp"

namespace helmwater::steer {

// Those that hold by as_of.
std::set<std::string> clues_of(const records::LoopLog& log, records::Instant start, records::Instant as_of);
// All that clues_of may find.
const std::set<std::string>& clue_names();

}  // namespace helmwater::steer
