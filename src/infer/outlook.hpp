// SPDX-License-Identifier: Apache-2.0
// What can be said of one loop at one moment: the water now, its course, dates with ranges, what to do next.
// Units as in Forecast: ammonia mg/L as NH3, nitrite and nitrate mg/L as ion, alkalinity mg/L CaCO3.
#pragma once
#include <array>
#include <optional>
#include <string>
#include <vector>

#include "infer/forecast.hpp"
#include "infer/history.hpp"
#include "infer/next_test.hpp"
#include "infer/posterior.hpp"
#include "infer/quantiles.hpp"
#include "records/entry.hpp"

namespace helmwater::infer {

// When something happens; nullopt: not by the outlook's end.
struct Milestone {
  std::optional<records::Instant> p05, p25, p50, p75, p95;
  double probability_within_days = 0;  // share of members in which it happens by the outlook's end
  bool reached = false;                // in at least half of them by as_of
};

struct RiskOf {
  double limit = 0;
  double within_24_h = 0, within_72_h = 0;  // probability that the limit is passed
};

struct Advice {
  std::string code;      // wait, test_…, dose_ammonia, buffer, stop_…
  std::string urgency;   // now, today, this_week, note
  std::string text;
  std::vector<std::string> because;
  std::vector<std::string> caution;
};

struct Outlook {
  std::string loop;
  std::string zone;
  records::Instant as_of, started, end;
  int readings_used = 0;
  int members = 0;
  double effective_members = 0;
  std::uint64_t seed = 1;
  std::string engine;
  records::Plan plan;
  bool with_plan = true;
  bool fish = false;

  Conflict conflict;  // of the readings with all that was believed before them

  Quantiles ammonia, nitrite, nitrate, ph, alkalinity, free_ammonia, ammonia_capacity, nitrite_capacity;  // now
  Stage stage = Stage::cannot_tell;
  records::Instant stage_since;
  double stage_probability = 0;

  Milestone ammonia_first_clear, nitrite_peak, nitrite_first_clear, ready_for_fish, alkalinity_runs_out;
  Quantiles nitrite_peak_height;

  std::string risk_species;  // whose limits hold; empty: not said
  RiskOf risk_free_ammonia, risk_nitrite;  // mg N/L, mg/L as ion; with fish only

  struct Moment {
    records::Instant when;
    SeriesQuantiles of;  // by Forecast::Quantity
  };
  std::vector<Moment> series;  // every 6 h from the start
  std::optional<NextTest> next_test;   // nullopt: not asked for
  std::vector<Advice> advice;
  std::vector<records::Doubt> doubts;  // of the log and of the inference
  History history;                     // of the keeper's earlier start-ups
  std::vector<LearnedUnknown> learnt;  // from them and in use here
};

struct OutlookOptions {
  std::optional<records::Instant> as_of;  // absent: the latest entry
  double days = 60;
  int members = 4000;
  std::uint64_t seed = 1;
  bool with_plan = true;
  bool next_test = true;                           // false: not weighed, for questions where nobody asks it
  Checkpoints* checkpoints = nullptr;              // see PosteriorOptions
  std::shared_ptr<const Posterior> earlier;        // see PosteriorOptions
  std::shared_ptr<const History> history;          // as of the same moment; null: none was named
};

// as_of absent and nothing to take it from (no entry, no start): nullopt.
std::optional<records::Instant> resolve_as_of(const records::LoopLog& log, const std::optional<records::Instant>& as_of);

// The posterior an outlook with these options rests on; as_of must resolve.
Posterior posterior_for(const records::LoopLog& log, const OutlookOptions& options);
// Only the forecast is computed. `log` may hold deeds later than the posterior's as_of that its own log had not, as long
// as they call for no further unknown (amounts, not effects). as_of and members are the posterior's.
Outlook outlook_from(const records::LoopLog& log, const Posterior& posterior, const OutlookOptions& options,
                     const Imposed& imposed = {});
Outlook outlook_of(const records::LoopLog& log, const OutlookOptions& options);

}  // namespace helmwater::infer
