// SPDX-License-Identifier: Apache-2.0
// Does it help to follow the next-test line? On loops of the second simulator the owner stops testing at as_of but for one
// visit within the next week: the one the line names, or another. A week later the dates are asked again.
//   follow_next_test [--loops N] [--seed S]
// A measurement; always ends with 0 (docs/model/next_test.md holds the figures).
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <limits>
#include <string>
#include <vector>

#include "dice.hpp"
#include "infer/next_decisions.hpp"
#include "infer/outlook.hpp"
#include "infer/test_answers.hpp"
#include "second_loop.hpp"

using namespace helmwater;

namespace {

constexpr double kWeek = 7;
constexpr std::array<const char*, 5> kWays{"no test", "the line's tests, at its time", "as many other tests, at its time",
                                           "the line's tests, another day", "random tests, random day"};

struct Visit {
  std::vector<records::Test> tests;
  double days = 0;  // after as_of
};

double met_in(const tests::Truth& w, records::Test test) {
  switch (test) {
    case records::Test::ammonia: return w.ammonia;
    case records::Test::nitrite: return w.nitrite;
    case records::Test::nitrate: return w.nitrate + w.nitrite / 0.4;  // a middling kit's efficiency
    default: return w.ph;
  }
}

// The log with what the vials of the visit showed: a cell of the owner's chart, drawn with the noise of readings.md and no bias.
records::LoopLog visited(const records::LoopLog& log, const infer::Posterior& posterior, const tests::SecondLoop& made, const Visit& visit,
                         const std::array<double, 5>& chance_of) {
  records::LoopLog with = log;
  const double day = records::days_between(posterior.start, made.as_of) + visit.days;
  const auto place = static_cast<std::size_t>(std::lround(4 * day));
  for (const records::Test test : visit.tests) {
    const records::Instant when = records::plus_days(posterior.start, static_cast<double>(place) / 4);
    const infer::TestAnswers answers = infer::answers_of_test(log, posterior, test, when);
    const Eigen::MatrixXd p = infer::chances(answers, {met_in(made.truth[place], test)}, {0.0});
    // One number per test, the same for all ways, so that ways differ by what they test and not by luck.
    double left = chance_of[test == records::Test::ammonia ? 0 : test == records::Test::nitrite ? 1 : test == records::Test::nitrate ? 2 : 3];
    std::size_t cell = 0;
    while (cell + 1 < answers.cells.size() && left > p(0, static_cast<Eigen::Index>(cell))) left -= p(0, static_cast<Eigen::Index>(cell++));
    const infer::Observation& seen = answers.cells[cell];
    records::Entry e;
    e.line = 100000 + static_cast<int>(test);
    e.when = when;
    records::Reading r;
    r.test = test;
    for (std::size_t k = 0; k < log.loop.kits.size(); ++k) {
      if (log.loop.kits[k].test == test) r.kit = static_cast<int>(k), r.basis = log.loop.kits[k].basis;
    }
    r.seen.low = seen.low * seen.to_kit;
    r.seen.high = seen.high * seen.to_kit;
    e.body = r;
    with.entries.insert(std::upper_bound(with.entries.begin(), with.entries.end(), e.when,
                                         [](records::Instant t, const records::Entry& x) { return t < x.when; }), e);
  }
  return with;
}

}  // namespace

int main(int argc, char** argv) {
  int loops = 40;
  std::uint64_t seed = 4711;
  for (int i = 1; i + 1 < argc; ++i) {
    if (std::strcmp(argv[i], "--loops") == 0) loops = std::max(1, std::atoi(argv[i + 1]));
    if (std::strcmp(argv[i], "--seed") == 0) seed = static_cast<std::uint64_t>(std::atoll(argv[i + 1]));
  }
  std::array<std::vector<double>, kWays.size()> errors, widths, asked;
  for (int index = 0; index < loops; ++index) {
    const double as_of_day = 5 + 20 * std::fmod(0.618034 * index, 1.0);
    const tests::SecondLoop made = tests::simulate_second(seed, index, as_of_day, std::floor(as_of_day) + 60);
    if (made.start_type == "fish" || !made.nitrite_clear_day || *made.nitrite_clear_day < as_of_day) continue;
    records::LoopLog log = made.log;
    std::erase_if(log.entries, [&](const records::Entry& e) {
      return std::holds_alternative<records::Reading>(e.body) && e.when > made.as_of;
    });
    infer::OutlookOptions options;
    options.as_of = made.as_of;
    options.members = 2000;
    const infer::Posterior posterior = infer::posterior_for(log, options);
    const infer::NextTest next = infer::outlook_from(log, posterior, options).next_test.value();
    if (records::has_fish(log, made.as_of)) continue;

    tests::Dice dice(seed, index, 99);
    std::array<double, 5> luck{};
    for (double& u : luck) u = dice.uniform();
    const std::vector<records::Test> all{records::Test::ammonia, records::Test::nitrite, records::Test::nitrate, records::Test::ph};
    std::vector<records::Test> tests;
    for (const records::Test t : next.advised) {
      if (t != records::Test::alkalinity) tests.push_back(t);  // the second simulator tells no alkalinity
    }
    const auto others = [&](std::size_t count) {
      std::vector<records::Test> bag = all, some;
      while (some.size() < count) {
        const auto k = std::min(bag.size() - 1, static_cast<std::size_t>(dice.uniform() * static_cast<double>(bag.size())));
        some.push_back(bag[k]);
        bag.erase(bag.begin() + static_cast<std::ptrdiff_t>(k));
      }
      return some;
    };
    const double in = next.advised_in_hours / 24;
    const std::size_t count = std::max<std::size_t>(tests.size(), 1);
    const std::array<Visit, kWays.size()> visits{Visit{{}, 0}, Visit{tests, in}, Visit{others(count), in}, Visit{tests, dice.between(0.25, kWeek)},
                                                 Visit{others(count), dice.between(0.25, kWeek)}};
    for (std::size_t way = 0; way < visits.size(); ++way) {
      const records::LoopLog with = visited(log, posterior, made, visits[way], luck);
      infer::OutlookOptions later = options;
      later.as_of = records::plus_days(made.as_of, kWeek + 0.5);
      later.next_test = false;
      const infer::Outlook out = infer::outlook_of(with, later);
      const infer::Milestone& m = out.nitrite_first_clear;
      const auto day = [&](const std::optional<records::Instant>& t) { return records::days_between(out.started, t.value_or(out.end)); };
      errors[way].push_back(std::abs(day(m.p50) - *made.nitrite_clear_day));
      widths[way].push_back(day(m.p95) - day(m.p05));
      asked[way].push_back(visits[way].days);
    }
    std::fprintf(stderr, "\r%d of %d", index + 1, loops);
  }
  std::fprintf(stderr, "\n");
  std::printf("%zu loops; nitrite's first clear as told a week later\n| one visit | mean error, d | median | mean width of 90 %%, d | better / worse than no test | "
              "mean day of the visit |\n|---|---|---|---|---|---|\n", errors[0].size());
  for (std::size_t way = 0; way < kWays.size(); ++way) {
    const auto mean = [](const std::vector<double>& x) {
      double sum = 0;
      for (const double v : x) sum += v;
      return sum / static_cast<double>(std::max<std::size_t>(x.size(), 1));
    };
    std::vector<double> sorted = errors[way];
    std::sort(sorted.begin(), sorted.end());
    int better = 0, worse = 0;
    for (std::size_t i = 0; i < errors[way].size(); ++i) {
      better += errors[way][i] < errors[0][i] - 0.25;
      worse += errors[way][i] > errors[0][i] + 0.25;
    }
    std::printf("| %s | %.2f | %.2f | %.1f | %d / %d | %.1f |\n", kWays[way], mean(errors[way]), sorted.empty() ? NAN : sorted[sorted.size() / 2],
                mean(widths[way]), better, worse, mean(asked[way]));
  }
  return 0;
}
