// SPDX-License-Identifier: Apache-2.0
// The members of a posterior followed from the start through everything logged and planned to the end of the outlook.
#pragma once
#include <array>
#include <vector>

#include "infer/forecast_track.hpp"
#include "infer/posterior.hpp"
#include "infer/quantiles.hpp"
#include "infer/timeline_from_log.hpp"
#include "records/entry.hpp"

namespace helmwater::infer {

const char* to_text(Stage);

// Of every member, by member. Concentrations as the outlook states them: ammonia mg/L as NH3, nitrite and nitrate mg/L as
// ion, alkalinity mg/L CaCO3, free ammonia mg N/L, capacities mg N/L/d at 20 degC with nothing limiting. Days count
// from the start; what has not happened by the end is +infinity.
struct Forecast {
  double as_of_day = 0;
  double end_day = 0;
  std::vector<double> series_days;  // every 6 h of the window that holds as_of, and as_of
  enum Quantity { kAmmonia, kNitrite, kNitrate, kPh, kAlkalinity, kQuantities };
  std::size_t members = 0;
  std::size_t stride = 0;                                // members rounded up to whole blocks
  std::array<std::vector<float>, kQuantities> series;    // [quantity][time * stride + member]
  float at(Quantity quantity, std::size_t time, std::size_t member) const {
    return series[quantity][time * stride + member];
  }

  struct Now {
    float ammonia, nitrite, nitrate, ph, alkalinity, free_ammonia, ammonia_capacity, nitrite_capacity;
  };
  std::vector<Now> now;
  struct Dates {
    double ammonia_first_clear, nitrite_peak, nitrite_first_clear, ready_for_fish, alkalinity_runs_out;
    float nitrite_peak_height;
  };
  std::vector<Dates> dates;
  struct StageNow {
    Stage stage = Stage::cannot_tell;
    double since = 0;  // day
  };
  std::vector<StageNow> stages;
  struct Worst {  // largest values after as_of
    float free_ammonia_24h, free_ammonia_72h, nitrite_24h, nitrite_72h;
  };
  std::vector<Worst> worst;
  std::vector<double> weight;  // sums to 1
  std::vector<loop::State<double>> water;  // at as_of, after its deeds
  std::vector<float> ln_h;
  std::vector<TrackSoFar> tracks;          // by end_day
};

// Quantiles of the series, per moment.
std::vector<SeriesQuantiles> series_quantiles(const Forecast& f);

// `days` after as_of; `with_plan`: the plan acts after the log's end.
Forecast forecast(const records::LoopLog& log, const Posterior& posterior, double days, bool with_plan,
                  const Imposed& imposed = {});

}  // namespace helmwater::infer
