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

Forecast forecast(const records::LoopLog& log, const Posterior& posterior, double days, bool with_plan, const Imposed& imposed) {
  Forecast out;
  out.as_of_day = std::max(0.0, records::days_between(posterior.start, posterior.as_of));
  out.end_day = out.as_of_day + days;
  for (int k = 0; k * kSeriesEvery <= out.end_day + 1e-9; ++k) out.series_days.push_back(k * kSeriesEvery);
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
  out.weight = posterior.draws.weight;

  const loop::Timeline timeline =
      timeline_from_log(log, posterior.start, posterior.as_of, out.end_day, with_plan, imposed);
  const loop::Grid grid = loop::make_grid(timeline, {}, out.series_days, out.end_day);
  std::vector<loop::Environment> environments;
  for (double day : out.series_days) environments.push_back(timeline.environment(day));

  const bool fish = records::has_fish(log, posterior.as_of);
  const double load = records::effective_plan(log).ready_load.value() *
                      records::to_standard_factor(records::Test::ammonia, records::Basis::nh3);
  std::vector<loop::Grid> quiet(times);
  if (!fish) {
    parallel_for(static_cast<int>(times), [&](int i) {
      const auto s = static_cast<std::size_t>(i);
      quiet[s] = loop::make_quiet_grid(timeline, out.series_days[s], 1.0);
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
    }
  });
  return out;
}

}  // namespace helmwater::infer
