// SPDX-License-Identifier: Apache-2.0
// Does a stated 90 % range hold the truth in 90 % of loops? Loops are drawn from the product's own prior
// (simulated_loop.hpp), so this tests the inference, not the model.
//   calibrate [--truths N] [--seed S] [--days 5,10,…]
// Prints a table and ends with 1 if a cell fails an exact binomial test at 0.1 % or (from 100 truths on) more than one rank
// histogram in forty lies above its 99 % point or the pooled
// coverage leaves 88..92 % or 47..53 %.
#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <map>
#include <string>
#include <vector>

#include "infer/forecast.hpp"
#include "infer/random.hpp"
#include "infer/unlogged.hpp"
#include "simulated_loop.hpp"

using namespace helmwater;

namespace {

// Randomised rank of the truth among weighted members: uniform in (0, 1) if the posterior is right.
double rank_of(const std::vector<double>& values, const std::vector<double>& weight, double truth, double u) {
  double below = 0, equal = 0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (values[i] < truth) below += weight[i];
    if (values[i] == truth) equal += weight[i];
  }
  return below + u * equal;
}

// Two-sided exact binomial probability of a result at least as unlikely as `hits`.
double binomial_p(int hits, int n, double p) {
  const auto log_pmf = [&](int k) {
    return std::lgamma(n + 1) - std::lgamma(k + 1) - std::lgamma(n - k + 1) + k * std::log(p) + (n - k) * std::log(1 - p);
  };
  const double seen = log_pmf(hits);
  double sum = 0;
  for (int k = 0; k <= n; ++k) {
    if (log_pmf(k) <= seen + 1e-9) sum += std::exp(log_pmf(k));
  }
  return std::min(sum, 1.0);
}

struct Cell {
  int n = 0, in50 = 0, in90 = 0;
  std::array<int, 10> bins{};
  void add(double rank) {
    ++n;
    in50 += rank > 0.25 && rank < 0.75;
    in90 += rank > 0.05 && rank < 0.95;
    ++bins[static_cast<std::size_t>(std::clamp(static_cast<int>(10 * rank), 0, 9))];
  }
  // Of ten equal bins; 9 degrees of freedom.
  double chi_square() const {
    double sum = 0;
    for (int count : bins) sum += (count - n / 10.0) * (count - n / 10.0) / (n / 10.0);
    return sum;
  }
};

}  // namespace

int main(int argc, char** argv) {
  int truths = 200;
  std::uint64_t seed = 1;
  std::vector<int> days{5, 10, 15, 20, 40};
  for (int i = 1; i + 1 < argc; i += 2) {
    if (std::strcmp(argv[i], "--truths") == 0) truths = std::atoi(argv[i + 1]);
    if (std::strcmp(argv[i], "--seed") == 0) seed = static_cast<std::uint64_t>(std::atoll(argv[i + 1]));
    if (std::strcmp(argv[i], "--days") == 0) {
      days.clear();
      for (const char* p = argv[i + 1]; p != nullptr; p = std::strchr(p, ',') ? std::strchr(p, ',') + 1 : nullptr) {
        days.push_back(std::atoi(p));
      }
    }
  }
  std::map<std::string, std::map<int, Cell>> cells;
  std::vector<double> seconds, effective;
  int thin_runs = 0, suspicions = 0, believed = 0;
  infer::Checkpoints closed_windows;  // of long logs: the days of one loop share them
  for (int t = 0; t < truths; ++t) {
    const tests::SimulatedLoop made = tests::simulate_loop(seed, t, days.back());
    for (int day : days) {
      const records::Instant as_of = records::plus_days(*made.log.loop.started, day + 0.5);
      const records::LoopLog log = tests::cut(made.log, as_of);
      infer::PosteriorOptions options;
      options.as_of = as_of;
      options.seed = seed * 1000003 + static_cast<std::uint64_t>(t);
      options.checkpoints = &closed_windows;
      const auto begin = std::chrono::steady_clock::now();
      const infer::Posterior posterior = infer::posterior_of(log, options);
      const infer::Forecast f = infer::forecast(log, posterior, 60, true);
      seconds.push_back(std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count());
      effective.push_back(posterior.draws.effective);
      thin_runs += posterior.draws.effective < 1000;
      const std::vector<infer::Suspected> suspected = infer::suspected_by(log, posterior);
      suspicions += !suspected.empty();
      believed += std::any_of(suspected.begin(), suspected.end(), [](const infer::Suspected& s) { return s.probability >= 0.5; });
      const infer::Forecast truth = infer::forecast(tests::unread(log), tests::truth_as_posterior(made, log, as_of), 60, true);

      const infer::Draws random(seed, 0xca11b0u + static_cast<std::uint32_t>(t));
      std::uint32_t draw = static_cast<std::uint32_t>(day) * 100;
      std::vector<double> values(f.weight.size());
      const auto score = [&](const char* name, auto value_of) {
        for (std::size_t m = 0; m < values.size(); ++m) values[m] = value_of(f, m);
        cells[name][day].add(rank_of(values, f.weight, value_of(truth, 0), random.uniform(0, draw++)));
      };
      using F = infer::Forecast;
      score("ammonia now", [](const F& x, std::size_t m) { return double{x.now[m].ammonia}; });
      score("nitrite now", [](const F& x, std::size_t m) { return double{x.now[m].nitrite}; });
      score("nitrate now", [](const F& x, std::size_t m) { return double{x.now[m].nitrate}; });
      score("pH now", [](const F& x, std::size_t m) { return double{x.now[m].ph}; });
      score("alkalinity now", [](const F& x, std::size_t m) { return double{x.now[m].alkalinity}; });
      score("ammonia capacity", [](const F& x, std::size_t m) { return double{x.now[m].ammonia_capacity}; });
      score("nitrite capacity", [](const F& x, std::size_t m) { return double{x.now[m].nitrite_capacity}; });
      // The course of a long log begins with its window, that of the truth with the loop.
      const auto later = [&](const F& x) {
        return static_cast<std::size_t>(std::lower_bound(x.series_days.begin(), x.series_days.end(), day + 5.5 - 1e-6) -
                                        x.series_days.begin());
      };
      const std::size_t later_here = later(f), later_in_truth = later(truth);
      const auto in_5_days = [&](F::Quantity quantity) {
        return [&, quantity](const F& x, std::size_t m) { return double{x.at(quantity, &x == &f ? later_here : later_in_truth, m)}; };
      };
      score("ammonia in 5 d", in_5_days(F::kAmmonia));
      score("nitrite in 5 d", in_5_days(F::kNitrite));
      score("nitrite peak day", [](const F& x, std::size_t m) { return x.dates[m].nitrite_peak; });
      score("nitrite clear day", [](const F& x, std::size_t m) { return x.dates[m].nitrite_first_clear; });
      score("ready day", [](const F& x, std::size_t m) { return x.dates[m].ready_for_fish; });
    }
    std::fprintf(stderr, "\r%d of %d", t + 1, truths);
  }
  std::fprintf(stderr, "\n");

  bool good = true;
  int histograms = 0, uneven = 0;
  Cell pooled;
  std::printf("share of truths inside the 50 %% / 90 %% range, %d truths, seed %llu\n%-20s", truths,
              static_cast<unsigned long long>(seed), "");
  for (int day : days) std::printf("  day %-5d", day);
  std::printf("\n");
  for (const auto& [name, by_day] : cells) {
    std::printf("%-20s", name.c_str());
    for (const auto& [day, c] : by_day) {
      const bool fails = binomial_p(c.in50, c.n, 0.5) < 0.001 || binomial_p(c.in90, c.n, 0.9) < 0.001;
      good = good && !fails;
      std::printf("  %3.0f/%-3.0f%s ", 100.0 * c.in50 / c.n, 100.0 * c.in90 / c.n, fails ? "!" : " ");
      ++histograms;
      uneven += c.chi_square() > 21.67;
      pooled.n += c.n;
      pooled.in50 += c.in50;
      pooled.in90 += c.in90;
    }
    std::printf("\n");
  }
  const double p50 = 100.0 * pooled.in50 / pooled.n, p90 = 100.0 * pooled.in90 / pooled.n;
  std::printf("pooled               %.1f / %.1f\n", p50, p90);
  if (truths >= 100) good = good && p50 >= 47 && p50 <= 53 && p90 >= 88 && p90 <= 92;
  std::sort(seconds.begin(), seconds.end());
  std::sort(effective.begin(), effective.end());
  std::printf("effective size: median %.0f, lowest %.0f; below 1000 in %d of %zu runs\n", effective[effective.size() / 2],
              effective.front(), thin_runs, effective.size());
  std::printf("deeds nobody logged, though there were none: weighed in %d, thought likely in %d of %zu runs\n", suspicions, believed,
              effective.size());
  // 21.67: the 99 % point of chi-square with 9 degrees of freedom (any table). One in forty may lie above.
  const int most = std::max(1, histograms / 40);
  std::printf("rank histograms (ten bins) above the 99 %% point: %d of %d, %d allowed\n", uneven, histograms, most);
  if (truths >= 100) good = good && uneven <= most;
  std::printf("posterior and 60-day forecast: median %.2f s, longest %.2f s\n", seconds[seconds.size() / 2], seconds.back());
  std::printf(good ? "calibrated\n" : "NOT calibrated\n");
  return good ? 0 : 1;
}
