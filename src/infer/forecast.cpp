// SPDX-License-Identifier: Apache-2.0
#include "infer/forecast.hpp"

#include <algorithm>
#include <limits>

#include "infer/parallel.hpp"
#include "loop/grid.hpp"

namespace helmwater::infer {
namespace {

constexpr double kNever = std::numeric_limits<double>::infinity();
constexpr double kSeriesEvery = 0.25;  // d

// State and track are plain runs of numbers, one per part.
template <class Struct, class Use>
void each_part(const Struct& block, const Use& use) {
  for (std::size_t part = 0; part < sizeof(Struct) / sizeof(Lanes); ++part) {
    use(static_cast<int>(part), reinterpret_cast<const Lanes*>(&block)[part]);
  }
}
template <class T, template <class> class Struct>
T& part_of(Struct<T>& all, int part) {
  return reinterpret_cast<T*>(&all)[part];
}

// Members of a later window take up the milestones of those who had as much ammonia and nitrite when it began.
TrackState<Lanes> tracks_of(const Carried& carried, const std::vector<Member>& members) {
  TrackState<Lanes> block{};
  for (std::size_t lane = 0; lane < kBlockLanes; ++lane) {
    const loop::State<double>& y = members[std::min(lane, members.size() - 1)].start;
    const double water = y.tan + y.no2;
    auto found = std::lower_bound(carried.tracks.begin(), carried.tracks.end(), water,
                                  [](const CarriedTrack& t, double w) { return t.water < w; });
    if (found == carried.tracks.end()) --found;
    for (int part = 0; part < kTrackParts; ++part) {
      reinterpret_cast<Lanes*>(&block)[part].v[lane] = reinterpret_cast<const float*>(&found->track)[part];
    }
  }
  return block;
}

double day_of(float day) { return day > kNotYet / 2 ? kNever : static_cast<double>(day); }

}  // namespace

const char* to_text(Stage stage) {
  switch (stage) {
    case Stage::empty: return "empty";
    case Stage::waiting: return "waiting";
    case Stage::ammonia_falling: return "ammonia_falling";
    case Stage::nitrite_rising: return "nitrite_rising";
    case Stage::nitrite_falling: return "nitrite_falling";
    case Stage::ready: return "ready";
    case Stage::running: return "running";
    case Stage::stalled: return "stalled";
    case Stage::cannot_tell: return "cannot_tell";
  }
  return "cannot_tell";
}

std::vector<SeriesQuantiles> series_quantiles(const Forecast& f) {
  std::vector<SeriesQuantiles> all(f.series_days.size());
  parallel_for(static_cast<int>(all.size()), [&](int i) {
    const auto t = static_cast<std::size_t>(i);
    thread_local QuantilesByDigits quantiles_of;  // keeps its room
    for (std::size_t k = 0; k < Forecast::kQuantities; ++k) {
      all[t][k] = quantiles_of(f.series[k].data() + t * f.stride, f.weight.data(), f.members);
    }
  });
  return all;
}

Forecast forecast(const records::LoopLog& log, const Posterior& posterior, double days, bool with_plan, const Imposed& imposed) {
  Forecast out;
  out.as_of_day = std::max(0.0, records::days_between(posterior.start, posterior.as_of));
  out.end_day = out.as_of_day + days;
  const double start_day = posterior.window_day();
  for (int k = 0; k * kSeriesEvery <= out.end_day + 1e-9; ++k) {
    if (start_day == 0 || k * kSeriesEvery > start_day + 1e-9) out.series_days.push_back(k * kSeriesEvery);
  }
  const auto place = std::lower_bound(out.series_days.begin(), out.series_days.end(), out.as_of_day - 1e-5);
  if (place == out.series_days.end() || *place > out.as_of_day + 1e-5) {
    out.series_days.insert(place, out.as_of_day);
  } else {
    *place = out.as_of_day;
  }
  const std::size_t now_index = static_cast<std::size_t>(
      std::find(out.series_days.begin(), out.series_days.end(), out.as_of_day) - out.series_days.begin());
  const std::size_t times = out.series_days.size(), members = posterior.draws.weight.size();
  out.members = members;
  const int blocks = (static_cast<int>(members) + kBlockLanes - 1) / kBlockLanes;
  out.stride = static_cast<std::size_t>(blocks) * kBlockLanes;
  for (auto& quantity : out.series) quantity.assign(times * out.stride, 0.0f);
  out.now.resize(members);
  out.dates.resize(members);
  out.stages.resize(members);
  out.worst.resize(members);
  out.water.resize(members);
  out.ln_h.resize(members);
  out.tracks.resize(members);
  out.weight = posterior.draws.weight;

  const loop::Timeline timeline =
      timeline_from_log(log, posterior.start, posterior.as_of, out.end_day, with_plan, imposed,
                        window_start(posterior.start, posterior.carried.get()));
  const loop::Grid grid = loop::make_grid(timeline, {}, out.series_days, out.end_day, posterior.steps(), start_day);
  std::vector<loop::Environment> environments;
  for (double day : out.series_days) environments.push_back(timeline.environment(day));

  const bool fish = records::has_fish(log, posterior.as_of);
  const double load = records::effective_plan(log).ready_load.value() *
                      records::to_standard_factor(records::Test::ammonia, records::Basis::nh3);
  std::vector<loop::Grid> quiet(times);
  if (!fish) {
    parallel_for(static_cast<int>(times), [&](int i) {
      const auto s = static_cast<std::size_t>(i);
      // A day later the rest is judged against hundredths of a mg/L.
      loop::GridSteps steps = posterior.steps();
      steps.longest = 1.0 / 16;
      quiet[s] = loop::make_quiet_grid(timeline, out.series_days[s], 1.0, steps);
    });
  }
  BlockForecast task;
  task.timeline = &timeline;
  task.grid = &grid;
  task.series_days = &out.series_days;
  task.environments = &environments;
  task.quiet = &quiet;
  task.as_of_day = out.as_of_day;
  task.end_day = out.end_day;
  task.load_tan = fish ? 0 : load;
  task.fish = fish;
  task.stride = out.stride;
  const MemberBlockFunctions& run = member_block_functions();
  parallel_for(blocks, [&](int block) {
    const std::size_t first = static_cast<std::size_t>(block) * kBlockLanes;
    const std::size_t lanes = std::min<std::size_t>(kBlockLanes, members - first);
    std::vector<Member> some;
    for (std::size_t lane = 0; lane < lanes; ++lane) {
      some.push_back(posterior.priors->member(posterior.draws.z.col(static_cast<Eigen::Index>(first + lane)).data()));
    }
    BlockForecast mine = task;
    for (int k = 0; k < Forecast::kQuantities; ++k) mine.series[k] = out.series[static_cast<std::size_t>(k)].data() + first;
    BlockTrack track{};
    TrackState<Lanes> before{};
    if (posterior.carried != nullptr) {
      before = tracks_of(*posterior.carried, some);
      mine.before = &before;
    }
    run.forecast(mine, block_of(some.data(), static_cast<int>(lanes)), track);
    for (std::size_t l = 0; l < lanes; ++l) {
      const std::size_t m = first + l;
      out.now[m] = {out.at(Forecast::kAmmonia, now_index, m),    out.at(Forecast::kNitrite, now_index, m),
                    out.at(Forecast::kNitrate, now_index, m),    out.at(Forecast::kPh, now_index, m),
                    out.at(Forecast::kAlkalinity, now_index, m), track.free_ammonia.v[l],
                    track.ammonia_capacity.v[l],                 track.nitrite_capacity.v[l]};
      out.dates[m] = {day_of(track.ammonia_clear.v[l]), day_of(track.nitrite_peak.v[l]), day_of(track.nitrite_clear.v[l]),
                      day_of(track.ready.v[l]),         day_of(track.alkalinity_out.v[l]), track.nitrite_peak_height.v[l]};
      out.stages[m] = {static_cast<Stage>(static_cast<int>(track.stage.v[l])), track.stage_since.v[l]};
      out.worst[m] = {track.worst_free_ammonia_24h.v[l], track.worst_free_ammonia_72h.v[l], track.worst_nitrite_24h.v[l],
                      track.worst_nitrite_72h.v[l]};
      out.ln_h[m] = track.ln_h.v[l];
      each_part(track.water, [&](int part, const Lanes& all) { part_of(out.water[m], part) = all.v[l]; });
      each_part(track.so_far, [&](int part, const Lanes& all) { part_of(out.tracks[m], part) = all.v[l]; });
    }
  });
  return out;
}

}  // namespace helmwater::infer
