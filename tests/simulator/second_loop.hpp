// SPDX-License-Identifier: Apache-2.0
// Invented loops of another structure than the product's model, kept by invented owners: what the outlooks are judged by
// (docs/decisions/007-second-simulator.md). The product must not be fitted to it.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "records/entry.hpp"
#include "stalls.hpp"

namespace helmwater::tests {

// The water where the owner takes his samples, mg N/L.
struct Truth {
  double day = 0;
  double ammonia = 0, nitrite = 0, nitrate = 0, ph = 7;
};

struct SecondLoop {
  records::LoopLog log;          // as the owner wrote it, to the end; deeds after as_of were planned before the start
  std::string loop_toml, log_csv;
  std::vector<Truth> truth;      // every 6 h, after the deeds of that moment
  std::optional<double> nitrite_clear_day;  // all water's mean below 0.25 mg/L as ion after above 0.5
  records::Instant as_of;
  std::string start_type;
  double true_litres = 0;
  bool forgot_a_dose = false, forgot_water = false, forgot_feed = false;  // done but not logged
  double nitrogen_balance_error = 0;        // share of all that went in
};

// Loop `index` of `seed`, kept for `days`. What the owner does until as_of_day follows from what he reads, after it from a
// plan made without looking; readings go on, and change nothing.
// `fineness` multiplies the integrator's steps.
SecondLoop simulate_second(std::uint64_t seed, int index, double as_of_day, double days, int fineness = 1);

// A loop that does not move for a known reason, until its as_of; `twin`: the same without the reason.
SecondLoop simulate_stalled(std::uint64_t seed, int index, Stall stall, bool twin = false);

}  // namespace helmwater::tests
