// SPDX-License-Identifier: Apache-2.0
#include "infer/windows.hpp"

#include <fmt/format.h>
#include <sys/stat.h>

#include <algorithm>
#include <cmath>

#include "infer/doubts.hpp"
#include "infer/forecast.hpp"
#include "records/fingerprint.hpp"

namespace helmwater::infer {
namespace {

std::shared_ptr<const Carried> close_window(const records::LoopLog& log, const PosteriorOptions& options, records::Instant start,
                                            double day, std::shared_ptr<const Carried> before) {
  PosteriorOptions here = options;
  here.as_of = records::plus_days(start, day);
  here.earlier = nullptr;
  here.altered = nullptr;
  const records::LoopLog known = log_until(log, here.as_of);
  const Posterior posterior = posterior_in_window(known, here, std::move(before));
  const Forecast f = forecast(known, posterior, 0, false);
  CarryInput input;
  input.day = day;
  input.names = posterior.priors->names();
  input.z.resize(posterior.draws.z.rows(), posterior.draws.z.cols());
  for (Eigen::Index i = 0; i < input.z.cols(); ++i) {
    const std::vector<double> unknowns = posterior.priors->unknowns(posterior.draws.z.col(i).data());
    input.z.col(i) = Eigen::Map<const Eigen::VectorXd>(unknowns.data(), input.z.rows());
  }
  input.weight = posterior.draws.weight;
  input.effective = posterior.draws.effective;
  input.water = f.water;
  input.tracks = f.tracks;
  input.seed = options.seed;
  Carried carried = carry(input);
  carried.series_days = f.series_days;
  carried.series = series_quantiles(f);
  const std::vector<int> lines = misread_lines(known, posterior);
  for (std::size_t i = 0; i < known.entries.size(); ++i) {
    const records::Entry& e = known.entries[i];
    if (!std::holds_alternative<records::Reading>(e.body) || std::find(lines.begin(), lines.end(), e.line) == lines.end()) continue;
    carried.misread_entries.push_back(static_cast<std::uint32_t>(i));
  }
  return std::make_shared<const Carried>(std::move(carried));
}

}  // namespace

void add_program(records::Fingerprint& sum) {
  sum.add(member_block_functions().instructions);
  struct stat file {};
  if (::stat("/proc/self/exe", &file) != 0) return;
  sum.add(static_cast<double>(file.st_size));
  sum.add(static_cast<double>(file.st_mtim.tv_sec) + 1e-9 * static_cast<double>(file.st_mtim.tv_nsec));
}

records::LoopLog log_until(const records::LoopLog& log, records::Instant end) {
  records::LoopLog some;
  some.loop = log.loop;
  for (const records::Entry& e : log.entries) {
    if (e.when <= end) some.entries.push_back(e);
  }
  return some;
}

records::Instant start_for(const records::LoopLog& log, records::Instant as_of) {
  // Asked about a moment before the first entry of a loop whose start nobody wrote: it starts then.
  return log.loop.started ? *log.loop.started : std::min(start_of(log, as_of), as_of);
}

std::shared_ptr<const Carried> carried_to(const records::LoopLog& log, const PosteriorOptions& options) {
  const records::Instant start = start_for(log, options.as_of);
  const double days = records::days_between(start, options.as_of);
  const int closed = static_cast<int>(std::floor(days / kWindowDays)) - 1;
  if (closed < 1) return nullptr;
  Checkpoints mine;
  Checkpoints& checkpoints = options.checkpoints == nullptr ? mine : *options.checkpoints;

  records::Fingerprint sum;
  add_program(sum);
  sum.add(static_cast<double>(options.seed));
  sum.add(static_cast<double>(options.members));
  sum.add(options.effective_wanted);
  sum.add(log.loop);
  sum.add(static_cast<double>(start.time_since_epoch().count()));
  if (options.learned != nullptr) sum.add(options.learned->key);
  std::shared_ptr<const Carried> carried;
  std::size_t entry = 0;
  for (int window = 1; window <= closed; ++window) {
    const double day = window * kWindowDays;
    const records::Instant end = records::plus_days(start, day);
    for (; entry < log.entries.size() && log.entries[entry].when <= end; ++entry) sum.add(log.entries[entry]);
    const std::string key = sum.hex();
    std::shared_ptr<const Carried> next = checkpoints.find(key + fmt::format("{:04}", window));
    if (next == nullptr) {
      next = close_window(log, options, start, day, carried);
      checkpoints.keep(key + fmt::format("{:04}", window), next);
    }
    // The course of all windows hangs on the last.
    auto linked = std::make_shared<Carried>(*next);
    linked->before = carried;
    linked->key = key;
    for (const std::uint32_t i : linked->misread_entries) {
      if (i < log.entries.size()) linked->misread_lines.push_back(log.entries[i].line);
    }
    carried = std::move(linked);
  }
  return carried;
}

Posterior posterior_of(const records::LoopLog& log, const PosteriorOptions& options) {
  return posterior_in_window(log, options, carried_to(log, options));
}

}  // namespace helmwater::infer
