// SPDX-License-Identifier: Apache-2.0
// The plan in force, and whether fish are in the water.
#include <algorithm>
#include <chrono>

#include "records/entry.hpp"

namespace helmwater::records {
namespace {

struct MeanFeed {
  double g_per_day = 0;
  double protein_percent = 32;
};

// Mean over the log's last 7 days; a log shorter than that counts its own days. nullopt: no feed was ever logged.
std::optional<MeanFeed> recent_feed(const LoopLog& log) {
  if (log.entries.empty()) return std::nullopt;
  constexpr double kDays = 7;
  const Instant last = log.entries.back().when;
  Instant first = log.entries.front().when;
  if (log.loop.started) first = std::min(first, *log.loop.started);
  bool ever = false;
  double grams = 0;
  double protein_grams = 0;
  for (const Entry& entry : log.entries) {
    const auto* feed = std::get_if<Feed>(&entry.body);
    if (feed == nullptr) continue;
    ever = true;
    if (days_between(entry.when, last) >= kDays) continue;
    grams += feed->amount.value();
    protein_grams += feed->amount.value() * feed->protein_percent;
  }
  if (!ever) return std::nullopt;
  MeanFeed mean;
  // One day more than lies between first and last: both days had their feed.
  mean.g_per_day = grams / std::clamp(days_between(first, last) + 1, 1.0, kDays);
  if (grams > 0) mean.protein_percent = protein_grams / grams;
  return mean;
}

}  // namespace

units::Litres volume_at(const LoopLog& log, Instant at) {
  units::Litres volume = log.loop.volume;
  for (const Entry& e : log.entries) {
    const auto* change = std::get_if<VolumeChange>(&e.body);
    if (change != nullptr && e.when <= at) volume = change->litres;
  }
  return volume;
}

bool has_fish(const LoopLog& log, Instant at) {
  if (log.loop.start == Start::fish) return true;
  double fish = 0;
  for (const Entry& entry : log.entries) {
    if (entry.when > at) break;
    if (const auto* move = std::get_if<FishMove>(&entry.body)) fish += move->in ? move->count : -move->count;
  }
  return fish > 0;
}

Plan effective_plan(const LoopLog& log) {
  if (log.loop.plan && log.loop.plan->written.empty()) return *log.loop.plan;
  const Instant end = log.entries.empty() ? log.loop.started.value_or(Instant{}) : log.entries.back().when;
  Plan plan;
  if (has_fish(log, end)) {
    if (const auto mean = recent_feed(log)) {
      plan.feed_g_per_day = mean->g_per_day;
      plan.protein_percent = mean->protein_percent;
    }
  } else {
    plan.redose = Redose::to_target;
  }
  if (!log.loop.plan) return plan;

  const Plan& own = *log.loop.plan;
  for (const std::string& key : own.written) {
    if (key == "redose") plan.redose = own.redose;
    if (key == "redose_to_mg_l") plan.redose_to = own.redose_to;
    if (key == "redose_below_mg_l") plan.redose_below = own.redose_below;
    if (key == "redose_while_nitrite_below_mg_l") plan.redose_while_nitrite_below = own.redose_while_nitrite_below;
    if (key == "buffer_below_mg_l_caco3") plan.buffer_below = own.buffer_below;
    if (key == "buffer_to_mg_l_caco3") plan.buffer_to = own.buffer_to;
    if (key == "feed_g_per_day") plan.feed_g_per_day = own.feed_g_per_day;
    if (key == "protein_percent") plan.protein_percent = own.protein_percent;
    if (key == "ready_load_mg_l") plan.ready_load = own.ready_load;
  }
  plan.written = own.written;
  return plan;
}

}  // namespace helmwater::records
