// SPDX-License-Identifier: Apache-2.0
// What earlier start-ups of the same keeper are worth, on keepers whose truth is known: each has a few loops whose
// unknowns share a part of their variance, another part than the product assumes. Every loop in turn is the new one and
// the others are its history (docs/calibration.md).
//   keepers [--keepers 20] [--loops 4] [--share 0.3] [--seed 1] [--first 0] [--days 5,10,20]
// Prints a line per outlook with `--lines`, else a table of median and mean error of the date (d), median width of the 90 %
// range (d) and the share of truths inside it. Not a test: it ends with 0 whatever it finds.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <map>
#include <string>
#include <vector>

#include "infer/forecast.hpp"
#include "infer/history.hpp"
#include "infer/random.hpp"
#include "simulated_loop.hpp"

using namespace helmwater;

namespace {

constexpr int kDays = 50;       // each loop is logged so long
constexpr int kMembers = 1000;
constexpr double kWorth = 500;  // effective size asked of the outlooks
constexpr double kAhead = 100;  // the outlook's days; what has not happened by then counts as happening then

struct Score {
  double error = 0, width = 0, rank = 0;
};
struct Cell {
  std::vector<double> error, width;
  int in90 = 0;
  void add(const Score& s) {
    error.push_back(s.error);
    width.push_back(s.width);
    in90 += s.rank > 0.05 && s.rank < 0.95;
  }
};

double mean(const std::vector<double>& values) {
  double sum = 0;
  for (const double v : values) sum += v;
  return sum / static_cast<double>(values.size());
}

double median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  return values[values.size() / 2];
}

// `u`: splits ties, as of dates that do not come.
Score score(const infer::Forecast& f, double infer::Forecast::Dates::* date, double truth, double u) {
  Score s;
  std::vector<double> values;
  double below = 0, equal = 0;
  for (std::size_t m = 0; m < f.weight.size(); ++m) {
    const double day = f.dates[m].*date;
    values.push_back(std::min(day, f.end_day));
    if (day < truth) below += f.weight[m];
    if (day == truth) equal += f.weight[m];
  }
  const infer::Quantiles q = infer::quantiles(values, f.weight);
  s.error = std::abs(q.p50 - std::min(truth, f.end_day));
  s.width = q.p95 - q.p05;
  s.rank = below + u * equal;
  return s;
}

std::vector<tests::SimulatedLoop> loops_of_keeper(std::uint64_t seed, int keeper, int loops, double share) {
  std::vector<tests::SimulatedLoop> made;
  // Seeded media or a bottle, a keeper stays with one way; few unseeded loops are finished in such a time.
  const int type = 1 + keeper % 2;
  for (int i = 0; i < loops; ++i) {
    const int index = 4 * (keeper * 16 + i) + type;
    const tests::SimulatedLoop plain = tests::simulate_loop(seed, index, 1);
    const auto name_kits = [](records::LoopLog& log) {
      for (std::size_t k = 0; k < log.loop.kits.size(); ++k) log.loop.kits[k].id = "kit " + std::to_string(k);
    };
    records::LoopLog first = plain.log;
    name_kits(first);
    const infer::Evidence evidence = infer::evidence_from_log(first, *first.loop.started);
    const infer::Priors priors(first, evidence, *first.loop.started);
    std::map<std::string, double> held;
    for (std::size_t d = 0; d < priors.names().size(); ++d) {
      const std::string& name = priors.names()[d];
      if (infer::shared_name(first.loop, evidence.slots, name).empty()) continue;
      const double common = infer::Draws(seed, 0x6ee9e000u + static_cast<std::uint32_t>(keeper)).normal(0, static_cast<std::uint32_t>(d));
      held[name] = std::sqrt(share) * common + std::sqrt(1 - share) * plain.truth[d];
    }
    made.push_back(tests::simulate_loop(seed, index, kDays, held));
    made.back().log.loop.name = "loop " + std::to_string(i);
    name_kits(made.back().log);
    // Buffered from as_of on, so that dates hang on the bacteria and not on when the alkalinity gives out.
    records::Plan plan = records::effective_plan(made.back().log);
    plan.buffer_below = units::AlkalinityCaCO3{50};
    plan.buffer_to = units::AlkalinityCaCO3{100};
    made.back().log.loop.plan = plan;
  }
  return made;
}

}  // namespace

int main(int argc, char** argv) {
  int keepers = 20, first = 0, loops = 4;
  double share = 0.3;
  std::uint64_t seed = 1;
  bool lines = false;
  std::vector<int> days{5, 10, 20};
  for (int i = 1; i < argc; ++i) {
    const auto is = [&](const char* name) { return std::strcmp(argv[i], name) == 0 && i + 1 < argc; };
    if (std::strcmp(argv[i], "--lines") == 0) lines = true;
    else if (is("--keepers")) keepers = std::atoi(argv[++i]);
    else if (is("--first")) first = std::atoi(argv[++i]);
    else if (is("--loops")) loops = std::atoi(argv[++i]);
    else if (is("--share")) share = std::atof(argv[++i]);
    else if (is("--seed")) seed = static_cast<std::uint64_t>(std::atoll(argv[++i]));
    else if (is("--days")) {
      days.clear();
      for (const char* p = argv[++i]; p != nullptr; p = std::strchr(p, ',') ? std::strchr(p, ',') + 1 : nullptr) days.push_back(std::atoi(p));
    } else {
      std::fprintf(stderr, "keepers: \"%s\" is not known; see the first lines of tests/infer/keepers.cpp\n", argv[i]);
      return 2;
    }
  }
  using Dates = infer::Forecast::Dates;
  const std::pair<const char*, double Dates::*> dates[]{{"nitrite clear", &Dates::nitrite_first_clear}, {"fish can go in", &Dates::ready_for_fish}};
  std::map<std::string, std::map<int, std::pair<Cell, Cell>>> cells;  // without, with history
  int finished = 0, taught = 0;
  for (int keeper = first; keeper < first + keepers; ++keeper) {
    const std::vector<tests::SimulatedLoop> made = loops_of_keeper(seed, keeper, loops, share);
    std::vector<std::optional<infer::FinishedStartUp>> found;
    for (const tests::SimulatedLoop& one : made) {
      infer::HistoryOptions options;
      options.members = kMembers;
      found.push_back(infer::finished_by(one.log, one.log.entries.back().when, options));
      finished += found.back().has_value();
    }
    for (std::size_t i = 0; i < made.size(); ++i) {
      std::vector<infer::LoopSummary> others;
      for (std::size_t j = 0; j < made.size(); ++j) {
        if (j != i && found[j]) others.push_back(found[j]->summary);
      }
      if (others.size() < infer::kFewestLoops) continue;
      ++taught;
      auto learned = std::make_shared<infer::Learned>(infer::pool(others, infer::shares_of_handbook()));
      learned->key = std::to_string(keeper * 64 + static_cast<int>(i));
      for (int day : days) {
        const records::Instant as_of = records::plus_days(*made[i].log.loop.started, day + 0.5);
        const records::LoopLog log = tests::cut(made[i].log, as_of);
        const infer::Forecast truth = infer::forecast(tests::unread(log), tests::truth_as_posterior(made[i], log, as_of), kAhead, true);
        const infer::Draws random(seed, 0x6ee9f000u + static_cast<std::uint32_t>(keeper * 64) + static_cast<std::uint32_t>(i));
        infer::PosteriorOptions options;
        options.as_of = as_of;
        options.members = kMembers;
        options.effective_wanted = kWorth;
        const infer::Forecast without = infer::forecast(log, infer::posterior_of(log, options), kAhead, true);
        options.learned = learned;
        const infer::Forecast with = infer::forecast(log, infer::posterior_of(log, options), kAhead, true);
        for (const auto& [name, date] : dates) {
          const double u = random.uniform(static_cast<std::uint32_t>(day), name[0] == 'n' ? 0u : 1u);
          const Score a = score(without, date, truth.dates[0].*date, u), b = score(with, date, truth.dates[0].*date, u);
          auto& cell = cells[name][day];
          cell.first.add(a);
          cell.second.add(b);
          if (lines) std::printf("%g,%d,%zu,%s,%d,%.2f,%.2f,%.3f,%.2f,%.2f,%.3f\n", share, keeper, i, name, day, a.error, a.width, a.rank, b.error, b.width, b.rank);
        }
      }
    }
    std::fprintf(stderr, "\r%d of %d keepers", keeper - first + 1, keepers);
  }
  std::fprintf(stderr, "\n");
  if (lines) return 0;
  std::printf("%d keepers of %d loops, share in common %g, seed %llu: %d start-ups finished, %d loops with a history\n", keepers, loops, share,
              static_cast<unsigned long long>(seed), finished, taught);
  std::printf("%-16s %4s %4s   %-31s   %s\n", "", "day", "n", "without: error (mean) width 90 %", "with history: the same");
  for (const auto& [name, by_day] : cells) {
    for (const auto& [day, pair] : by_day) {
      const double n = static_cast<double>(pair.first.error.size());
      std::printf("%-16s %4d %4.0f", name.c_str(), day, n);
      for (const Cell* cell : {&pair.first, &pair.second}) {
        std::printf("   %9.1f %6.1f %6.1f %5.0f %%", median(cell->error), mean(cell->error), median(cell->width), 100 * cell->in90 / n);
      }
      std::printf("\n");
    }
  }
  return 0;
}
