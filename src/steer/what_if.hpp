// SPDX-License-Identifier: Apache-2.0
// Questions about the future: the same loop, another next step; and a loop that has not begun.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "infer/outlook.hpp"
#include "records/entry.hpp"
#include "units/quantity.hpp"

namespace helmwater::steer {

// What is done after as_of. Days count from as_of; a deed on day 0 comes one minute after it.
struct WhatIf {
  std::optional<units::AmmoniaNH3> dose_ammonia;   // added, as ammonium chloride
  double dose_in_days = 0;
  std::optional<units::AlkalinityCaCO3> buffer;    // added, as potassium bicarbonate
  double buffer_in_days = 0;
  std::optional<units::Celsius> temperature;       // from as_of on
  double wait_days = 0;                            // the plan gives neither ammonia nor buffer before
  bool plan = true;                                // after the deeds above; planned feed goes on meanwhile
};

// What has to be weighed, for the loop's stated volume. nullopt: not asked for.
struct Amounts {
  std::optional<units::Grams> ammonium_chloride;
  std::optional<units::Grams> potassium_bicarbonate;
};

struct WhatIfAnswer {
  infer::Outlook outlook;
  Amounts amounts;
  std::vector<std::string> cautions;
};

// `posterior` is the loop's own at options.as_of; only the forecast is computed. Ranges are the caller's to check.
WhatIfAnswer what_if(const records::LoopLog& log, const infer::Posterior& posterior, const WhatIf& wish,
                     const infer::OutlookOptions& options);

// A loop that has not begun.
struct Beginning {
  units::Litres volume{0};
  records::Start start = records::Start::unseeded;
  units::Celsius temperature{22};
  std::optional<units::SquareMetres> seed_area;      // with Start::seeded_media
  std::optional<units::AlkalinityCaCO3> alkalinity;  // of the source water
  records::Instant day_0;
};

// Its log: without fish the plan's first dose is given on day 0, with fish nothing.
records::LoopLog log_of(const Beginning& beginning);
// What is to be expected before anything was read.
infer::Outlook expect(const Beginning& beginning, const infer::OutlookOptions& options);

}  // namespace helmwater::steer
