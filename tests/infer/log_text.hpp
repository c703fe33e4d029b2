// SPDX-License-Identifier: Apache-2.0
// Loops and logs from a few lines of text, for the tests of this folder.
#pragma once
#include <stdexcept>
#include <string>

#include "infer/observation.hpp"
#include "infer/timeline_from_log.hpp"
#include "records/loop_folder.hpp"

namespace helmwater::tests {

// `more` goes into loop.toml after name, volume (1000 L unless given) and start; `rows` are lines of log.csv.
inline records::LoopLog log_from(const std::string& rows, const std::string& more = "",
                                 double litres = 1000) {
  const std::string toml = "name = \"Test loop\"\nvolume_l = " + std::to_string(litres) +
                           "\nstarted = 2026-03-01T08:00:00Z\n" + more;
  const auto loop = records::parse_loop_toml(toml, "loop.toml");
  if (!loop) throw std::runtime_error(loop.error().to_text());
  auto log = records::parse_log_csv(*loop, "when,what,value,unit,detail,kit\n" + rows, "log.csv");
  if (!log) throw std::runtime_error(log.error().to_text());
  return *log;
}

inline records::Instant start_instant(const records::LoopLog& log) { return *log.loop.started; }

inline infer::Evidence evidence_of(const records::LoopLog& log) {
  return infer::evidence_from_log(log, start_instant(log));
}

// The clock without the plan, all readings known.
inline loop::Timeline clock_of(const records::LoopLog& log, double end_day = 30) {
  return infer::timeline_from_log(log, start_instant(log), records::plus_days(start_instant(log), end_day),
                                  end_day, false);
}

}  // namespace helmwater::tests
