// SPDX-License-Identifier: Apache-2.0
// A block of members through the model. Compiled once per instruction set from member_block_run.hpp; the best the
// processor has is chosen when the program starts.
#pragma once
#include <string>
#include <vector>

#include "infer/forecast_track.hpp"
#include "loop/grid.hpp"
#include "loop/pack.hpp"
#include "loop/parameters.hpp"
#include "loop/state.hpp"
#include "loop/timeline.hpp"

namespace helmwater::infer {

// Members of a block. An instruction set takes as many of them at once as suits it.
inline constexpr int kBlockLanes = 32;

// One number of each member.
struct alignas(64) Lanes {
  float v[kBlockLanes];
};

struct MemberBlock {
  loop::Parameters<Lanes> parameters;
  loop::State<Lanes> start;
  Lanes ln_h;
};

// The water at one reading.
struct BlockWater {
  loop::State<Lanes> y;
  Lanes ln_h;
};

// Happened at these days; kNotYet: not by the end.
inline constexpr float kNotYet = 1e30f;

enum class Stage { empty, waiting, ammonia_falling, nitrite_rising, nitrite_falling, ready, running, stalled, cannot_tell };
inline constexpr int kStages = 9;

// What a block's members did. Concentrations as the outlook states them (see forecast.hpp).
struct BlockTrack {
  Lanes ammonia_clear, nitrite_clear, nitrite_peak, nitrite_peak_height, alkalinity_out, ready;  // days, mg/L
  Lanes stage, stage_since;                                                                     // Stage as a number, day
  Lanes free_ammonia, ammonia_capacity, nitrite_capacity;                                        // at as_of
  Lanes worst_free_ammonia_24h, worst_free_ammonia_72h, worst_nitrite_24h, worst_nitrite_72h;
  loop::State<Lanes> water;  // at as_of, after its deeds
  Lanes ln_h;
  TrackState<Lanes> so_far;  // by the end
};

struct BlockForecast {
  const loop::Timeline* timeline = nullptr;
  const loop::Grid* grid = nullptr;                          // with series_days
  const std::vector<double>* series_days = nullptr;
  const std::vector<loop::Environment>* environments = nullptr;  // at series_days
  const std::vector<loop::Grid>* quiet = nullptr;            // the day after each series day with nothing done
  const TrackState<Lanes>* before = nullptr;                 // how far the members had come by the grid's start; null: nowhere
  double as_of_day = 0;
  double end_day = 0;
  double load_tan = 0;   // of the readiness test, mg N/L; 0: fish are in, not tested
  bool fish = false;
  // Ammonia, nitrite, nitrate, pH, alkalinity: [time * stride + lane].
  float* series[5] = {};
  std::size_t stride = 0;
};

struct MemberBlockFunctions {
  const char* instructions;  // "AVX-512", "AVX2", "SSE2", …
  void (*water_at_readings)(const loop::Timeline&, const loop::Grid&, const MemberBlock&, BlockWater* out);
  void (*forecast)(const BlockForecast&, const MemberBlock&, BlockTrack& out);
};

// What this processor can run, the plainest first.
std::vector<const MemberBlockFunctions*> member_block_sets();
// The best for this processor.
const MemberBlockFunctions& member_block_functions();

}  // namespace helmwater::infer
