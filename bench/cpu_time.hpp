// SPDX-License-Identifier: Apache-2.0
// Processor time of the calling thread or of the process: what a row costs, whoever else is using the
// machine.
#pragma once
#include <time.h>

#include <algorithm>
#include <vector>

namespace helmwater::bench {

inline double seconds_of(clockid_t clock) {
  timespec t{};
  clock_gettime(clock, &t);
  return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec);
}
inline double thread_seconds() { return seconds_of(CLOCK_THREAD_CPUTIME_ID); }
inline double process_seconds() { return seconds_of(CLOCK_PROCESS_CPUTIME_ID); }
inline double wall_seconds() { return seconds_of(CLOCK_MONOTONIC); }

// The value that `share` of the list does not exceed.
inline double quantile(std::vector<double> values, double share) {
  std::sort(values.begin(), values.end());
  const auto last = static_cast<double>(values.size() - 1);
  return values[static_cast<std::size_t>(share * last + 0.5)];
}
inline double median(const std::vector<double>& values) { return quantile(values, 0.5); }

}  // namespace helmwater::bench
