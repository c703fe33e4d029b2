// SPDX-License-Identifier: Apache-2.0
// A loop's log as the model's clock: deeds become events; temperatures, feeds, plants, switches and the water level
// become inputs. Readings of the water itself are not used here.
#pragma once
#include <optional>

#include "loop/timeline.hpp"
#include "records/entry.hpp"

namespace helmwater::infer {

// Which parts of the model this log calls for.
struct LoopUses {
  bool effect_doses = false;   // a dose logged by its effect
  bool new_water = false;      // water change or top-up
  bool organic = false;        // food without fish, or feed
  bool urea = false;
  bool fish_feed = false;
  bool unknown_feed = false;   // fish but no feed ever logged
};
LoopUses uses_of(const records::LoopLog& log);

// Day 0: `started`, else the first entry, else `otherwise`.
records::Instant start_of(const records::LoopLog& log, records::Instant otherwise);
// When the plan takes over: the log's last entry of any kind, or as_of if later.
records::Instant plan_start(const records::LoopLog& log, records::Instant as_of);

// What a question about the future assumes beside the log; no evidence, and nothing before as_of changes.
struct Imposed {
  std::optional<units::Celsius> temperature;         // of the water from as_of on
  std::optional<records::Instant> plan_from;         // absent: plan_start
  std::optional<records::Instant> plan_doses_from;   // the plan's doses and buffer wait until then; absent: plan_from
};

// Temperature readings later than as_of are not used; all deeds are. With `with_plan`, looks and the planned
// feed begin at plan_start. Unlogged additions are those shown after `unlogged_since`. Days are counted from `start`; `end_day` bounds the looks.
loop::Timeline timeline_from_log(const records::LoopLog& log, records::Instant start, records::Instant as_of,
                                 double end_day, bool with_plan, const Imposed& imposed = {},
                                 records::Instant unlogged_since = records::Instant::min());

}  // namespace helmwater::infer
