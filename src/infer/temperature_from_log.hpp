// SPDX-License-Identifier: Apache-2.0
// The water's temperature over time: what was read, and what is assumed before, between and after the
// readings (docs/model/temperature.md).
#pragma once
#include <vector>

#include "loop/timeline.hpp"
#include "records/entry.hpp"

namespace helmwater::infer {

inline constexpr double kHeldDays = 7;   // a temperature reading speaks this long after the last one
inline constexpr double kMoment = 1e-4;  // d

// Values of a test of the loop's surroundings in (start, as_of], days from `start`; intervals by their
// middle.
std::vector<loop::TimedValue> values_read(const records::LoopLog& log, records::Test test,
                                          records::Instant start, records::Instant as_of);

// Linear between readings; the typical temperature before the first and, from kHeldDays after the last, again
// the typical temperature or, where readings span three quarters of a year, the year's wave fitted to them.
// Points until `end_day`.
std::vector<loop::TimedValue> temperature_from_log(const records::LoopLog& log, records::Instant start,
                                                   records::Instant as_of, double end_day);

// As an owner knew it at that moment: the last reading of the kHeldDays before, else the typical temperature;
// degC.
double temperature_known_at(const records::LoopLog& log, records::Instant when);

// mean + a cos(2 pi day/365.25) + b sin(the same), least squares; degC. A weak pull (a and b: sd 10 degC for
// readings good to 1.5) keeps it tame where readings leave part of the year open.
struct YearWave {
  double mean = 0, a = 0, b = 0;
  double at(double day) const;
};
YearWave fit_year_wave(const std::vector<loop::TimedValue>& readings);

}  // namespace helmwater::infer
