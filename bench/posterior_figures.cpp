// SPDX-License-Identifier: Apache-2.0
#include "posterior_figures.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <fstream>
#include <string>
#include <vector>

#include "cpu_time.hpp"
#include "infer/forecast.hpp"
#include "infer/posterior.hpp"
#include "simulated_loop.hpp"

namespace helmwater::bench {
namespace {

infer::PosteriorOptions options_for(const records::LoopLog& log) {
  infer::PosteriorOptions options;
  options.as_of = records::plus_days(*log.loop.started, kReadDays + 0.5);
  options.members = kForecastMembers;
  return options;
}

}  // namespace

ColdUpdates cold_updates(int loops) {
  std::vector<double> wall, posterior_wall, forecast_wall, cpu, effective, rounds, readings, unknowns;
  for (int i = 0; i < loops; ++i) {
    const records::LoopLog log = tests::simulate_loop(1, i, kReadDays).log;
    const double wall_began = wall_seconds(), cpu_began = process_seconds();
    const infer::Posterior posterior = infer::posterior_of(log, options_for(log));
    const double between = wall_seconds();
    const infer::Forecast ahead = infer::forecast(log, posterior, kForecastDays, true);
    const double ended = wall_seconds();
    cpu.push_back(process_seconds() - cpu_began);
    wall.push_back(ended - wall_began);
    posterior_wall.push_back(between - wall_began);
    forecast_wall.push_back(ended - between);
    effective.push_back(posterior.draws.effective);
    rounds.push_back(posterior.draws.rounds);
    readings.push_back(posterior.readings_used);
    unknowns.push_back(posterior.priors->dimensions());
  }
  ColdUpdates out;
  out.loops = loops;
  out.readings_median = median(readings);
  out.unknowns_median = median(unknowns);
  out.wall_median = median(wall);
  out.wall_p99 = quantile(wall, 0.99);
  out.wall_worst = quantile(wall, 1);
  out.posterior_median = median(posterior_wall);
  out.forecast_median = median(forecast_wall);
  out.cpu_median = median(cpu);
  out.cpu_p99 = quantile(cpu, 0.99);
  out.effective_median = median(effective);
  out.effective_least = quantile(effective, 0);
  out.enough = static_cast<double>(std::count_if(effective.begin(), effective.end(),
                                                 [](double e) { return e >= kEffectiveWanted; })) /
               loops;
  out.rounds_median = median(rounds);
  out.rounds_most = quantile(rounds, 1);
  return out;
}

int print_one_update() {
  const records::LoopLog log = tests::simulate_loop(1, 0, kReadDays).log;
  const infer::Posterior posterior = infer::posterior_of(log, options_for(log));
  const infer::Forecast ahead = infer::forecast(log, posterior, kForecastDays, true);
  std::ifstream status("/proc/self/status");
  for (std::string line; std::getline(status, line);) {
    if (line.rfind("VmHWM:", 0) == 0 && ahead.members > 0) {
      std::printf("%s\n", line.substr(6).c_str());
      return 0;
    }
  }
  return 1;
}

long peak_memory_kb(const char* program) {
  FILE* child = popen(fmt::format("'{}' {}", program, kOneUpdate).c_str(), "r");
  if (child == nullptr) return -1;
  long kb = -1;
  if (std::fscanf(child, "%ld", &kb) != 1) kb = -1;
  return pclose(child) == 0 ? kb : -1;
}

}  // namespace helmwater::bench
