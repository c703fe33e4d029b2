// SPDX-License-Identifier: Apache-2.0
// Which crops stand in the loop when, read off a log (docs/model/plant_uptake.md).
#pragma once
#include <vector>

#include "loop/timeline.hpp"
#include "records/entry.hpp"

namespace helmwater::infer {

// While the light is off plants take nothing. Days count from `start`.
std::vector<loop::Planting> plantings_from_log(const records::LoopLog& log, records::Instant start);

bool is_fruiting_crop(const std::string& crop);

// When a device was off, days from `start`; on until said otherwise.
struct Off {
  double from = 0, to = 0;
};
std::vector<Off> times_off(const records::LoopLog& log, records::Switch::Device device,
                           records::Instant start);

}  // namespace helmwater::infer
