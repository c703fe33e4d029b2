// SPDX-License-Identifier: Apache-2.0
// What an outlook costs once a loop is known: after one more visit, with a log of years, for a coach with many loops.
#pragma once

namespace helmwater::bench {

// Invented loops, last asked at day 38.5, asked again at 40.5 after one more visit; all cores.
struct KnownLoops {
  int loops = 0;
  double at_once_median = 0, at_once_worst = 0;          // s, wall: weights alone (infer/update.hpp)
  int at_once_answered = 0;                              // the others call for new unknowns
  double warm_median = 0, warm_p99 = 0;                  // s, wall: posterior from the earlier one
  double warm_forecast_median = 0, warm_forecast_p99 = 0;  // s, wall: and 60 days ahead of 4096 members
  double effective_median = 0, enough = 0;               // of the warm posteriors; share with 1000 or more
  double seconds_each = 0;                               // wall of all warm updates with forecast / loops
};
KnownLoops known_loops(int loops);

// One invented loop read every second day for three years against its first 60 days: the open window alone, the others in
// the checkpoints, from the last visit's posterior; wall, medians of a few repetitions.
struct LongLog {
  double short_update = 0, long_update = 0;  // s, posterior and 60 days ahead
  double long_first = 0;                     // s, with nothing kept
};
LongLog long_log(int repetitions);

}  // namespace helmwater::bench
