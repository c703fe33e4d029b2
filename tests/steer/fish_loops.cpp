// SPDX-License-Identifier: Apache-2.0
#include "fish_loops.hpp"

#include <fmt/format.h>

#include <stdexcept>

#include "records/loop_folder.hpp"

namespace helmwater::steer_test {
namespace {

// "2026-01-<day + 1>T<hour>:00Z", for days of January and February.
std::string at(int day, int hour) {
  return day < 31 ? fmt::format("2026-01-{:02}T{:02}:00Z", day + 1, hour) : fmt::format("2026-02-{:02}T{:02}:00Z", day - 30, hour);
}

}  // namespace

records::LoopLog loop_of(const std::string& toml, const std::string& rows) {
  const std::string text = "name = \"Made up\"\nvolume_l = { value = 500, sd = 5 }\ntime_zone = \"UTC\"\nstarted = 2026-01-01T08:00:00\n"
                           "typical_temperature_c = 27\nair = \"strong\"\n" + toml +
                           "\n[[kit]]\ntest = \"ammonia\"\nbasis = \"N\"\nsteps = [0, 0.25, 0.5, 1, 2, 4, 8]\n"
                           "\n[[kit]]\ntest = \"nitrite\"\nbasis = \"NO2\"\nsteps = [0, 0.1, 0.25, 0.5, 1, 2, 5]\n";
  const auto loop = records::parse_loop_toml(text, "loop.toml");
  if (!loop) throw std::runtime_error(loop.error().to_text());
  const auto log = records::parse_log_csv(*loop, "when,what,value,unit,detail\n" + rows, "log.csv");
  if (!log) throw std::runtime_error(log.error().to_text());
  return *log;
}

infer::Posterior posterior_of(const records::LoopLog& log, const std::string& as_of) {
  infer::OutlookOptions options;
  options.members = 1000;
  if (!as_of.empty()) options.as_of = records::parse_instant(as_of, "UTC")->when;
  return infer::posterior_for(log, options);
}

const records::LoopLog& ripe() {
  static const records::LoopLog log = [] {
    std::string rows;
    for (int day = 0; day < 50; ++day) {
      if (day >= 20 && day % 2 == 1) rows += at(day, 7) + ",ammonia,0,mg/L,\n" + at(day, 7) + ",nitrite,0,mg/L,\n";
      if (day % 5 == 4) rows += at(day, 7) + ",alkalinity,150,mg/L as CaCO3,\n" + at(day, 7) + ",ph,7.8,,\n";
      if (day % 2 == 0) rows += at(day, 8) + ",dose,3.14,g,ammonium chloride\n";
      if (day % 7 == 3) rows += at(day, 9) + ",dose,20,g,potassium bicarbonate\n";
    }
    return loop_of("start = \"seeded media\"\nseed_area_m2 = 20\n[source_water]\nalkalinity_mg_l_caco3 = 180\nph = 7.8\ndisinfectant = \"none\"\n", rows);
  }();
  return log;
}

records::LoopLog young() {
  return loop_of("[source_water]\nalkalinity_mg_l_caco3 = 180\nph = 7.8\ndisinfectant = \"none\"\n",
                 at(0, 9) + ",dose,3.14,g,ammonium chloride\n" + at(1, 9) + ",ammonia,2,mg/L,\n" + at(1, 9) + ",nitrite,0,mg/L,\n" + at(3, 9) +
                     ",ammonia,2,mg/L,\n" + at(3, 9) + ",nitrite,0,mg/L,\n");
}

records::LoopLog fish_too_early() {
  std::string rows = at(0, 9) + ",fish in,20,,\"Nile tilapia, 50 g, stocked\"\n";
  const char* ammonia[] = {"0", "0.25", "0.5", "1", "1", "2"};
  for (int day = 0; day < 6; ++day) {
    rows += at(day, 10) + ",ammonia," + ammonia[day] + ",mg/L,\n" + at(day, 10) + ",nitrite," + (day < 4 ? "0" : "0.1") + ",mg/L,\n";
    rows += at(day, 12) + ",feed,10,g,\n";
  }
  return loop_of("start = \"fish\"\n[source_water]\nalkalinity_mg_l_caco3 = 180\nph = 7.8\ndisinfectant = \"chloramine\"\ndisinfectant_mg_l_cl2 = 2\n", rows);
}

}  // namespace helmwater::steer_test
