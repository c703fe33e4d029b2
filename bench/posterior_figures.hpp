// SPDX-License-Identifier: Apache-2.0
// What an outlook costs as the product makes it, on invented loops (tests/infer/simulated_loop.hpp).
#pragma once

namespace helmwater::bench {

inline constexpr int kForecastMembers = 4096;
inline constexpr int kReadDays = 40, kForecastDays = 60;
inline constexpr double kEffectiveWanted = 1000;

// From nothing: the posterior of 40 days of readings, then 60 days ahead of 4096 members, on all cores.
struct ColdUpdates {
  int loops = 0;
  double readings_median = 0, unknowns_median = 0;
  double wall_median = 0, wall_p99 = 0, wall_worst = 0;  // s, posterior and forecast
  double posterior_median = 0, forecast_median = 0;      // s, wall
  double cpu_median = 0, cpu_p99 = 0;                    // s, all threads
  double effective_median = 0, effective_least = 0;      // of the draws kept
  double enough = 0;                                     // share of loops with kEffectiveWanted or more
  double rounds_median = 0, rounds_most = 0;
};
ColdUpdates cold_updates(int loops);

// Peak memory (VmHWM) of a process that makes one such update and nothing else, kB; negative if it could not
// be had. `program` is this program's own path, which is started anew with kOneUpdate.
inline constexpr const char* kOneUpdate = "--one-update";
long peak_memory_kb(const char* program);
// What main() does under kOneUpdate: makes the update and prints its own VmHWM.
int print_one_update();

}  // namespace helmwater::bench
