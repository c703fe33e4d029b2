// SPDX-License-Identifier: Apache-2.0
// The outlooks judged by loops of another structure than the model's (docs/decisions/007-second-simulator.md).
//   judge [--loops N] [--seed S] [--each]
// One as_of a loop, spread over days 5 to 20. Prints a table; it is a measurement and always ends with 0.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <map>
#include <string>
#include <vector>

#include "outlook_scores.hpp"

using namespace helmwater::tests;

namespace {

struct Sum {
  std::array<int, 2> n{}, in50{}, in90{};
  int near_90 = 0, below_90 = 0;
  double ln_ratio = 0;
  int ratios = 0;
  std::vector<double> widths;
};

struct Tally {
  std::array<Sum, kScored> of;
  int dates = 0, dates_in50 = 0, dates_in90 = 0;
  std::vector<double> errors, rule_errors;
  std::vector<double> effective, seconds;
  std::map<std::string, int> doubts;
};

void add(const OutlookScores& s, Tally& tally) {
  for (std::size_t q = 0; q < kScored; ++q) {
    Sum& sum = tally.of[q];
    const QuantityScore& score = s.of[q];
    for (std::size_t week = 0; week < 2; ++week) {
      sum.n[week] += score.n[week];
      sum.in50[week] += score.in50[week];
      sum.in90[week] += score.in90[week];
    }
    sum.below_90 += score.below_90;
    sum.near_90 += score.near_90;
    sum.widths.push_back(score.width_90);
    if (score.persistence) {
      sum.ln_ratio += std::log((score.loss + kLossFloor) / (*score.persistence + kLossFloor));
      ++sum.ratios;
    }
  }
  if (s.clear_date) {
    ++tally.dates;
    tally.dates_in50 += s.clear_date->in50;
    tally.dates_in90 += s.clear_date->in90;
    if (s.clear_date->error) {
      tally.errors.push_back(*s.clear_date->error);
      tally.rule_errors.push_back(*s.clear_date->rule_error);
    }
  }
  tally.effective.push_back(s.effective);
  tally.seconds.push_back(s.seconds);
  std::vector<std::string> codes = s.doubts;
  std::sort(codes.begin(), codes.end());
  codes.erase(std::unique(codes.begin(), codes.end()), codes.end());
  for (const std::string& code : codes) ++tally.doubts[code];
}

double median(std::vector<double> x) {
  if (x.empty()) return NAN;
  std::sort(x.begin(), x.end());
  return x[x.size() / 2];
}

double percent(int part, int whole) { return 100.0 * part / std::max(1, whole); }

void print(const char* title, const Tally& t) {
  std::printf("\n%s\n| | in 50 %% | in 90 %% | or within 0.05 of it | below it | above it | 90 %%, days 1-7 | 90 %%, days 8-14 | median width of 90 %% | "
              "loss over persistence | loops |\n|---|---|---|---|---|---|---|---|---|---|---|\n", title);
  for (std::size_t q = 0; q < kScored; ++q) {
    const Sum& s = t.of[q];
    std::printf("| %s | %.0f | %.0f | %.0f | %.0f | %.0f | %.0f | %.0f | %.2f | %.2f | %d |\n", kScoredNames[q],
                percent(s.in50[0] + s.in50[1], s.n[0] + s.n[1]), percent(s.in90[0] + s.in90[1], s.n[0] + s.n[1]),
                percent(s.near_90, s.n[0] + s.n[1]), percent(s.below_90, s.n[0] + s.n[1]),
                percent(s.n[0] + s.n[1] - s.in90[0] - s.in90[1] - s.below_90, s.n[0] + s.n[1]),
                percent(s.in90[0], s.n[0]), percent(s.in90[1], s.n[1]), median(s.widths),
                std::exp(s.ln_ratio / std::max(1, s.ratios)), s.ratios);
  }
  std::printf("nitrite clears: %d loops where it had not by as_of; date in the 50 %% range %.0f, in the 90 %% range %.0f; "
              "median error %.1f d, of the fixed rule %.1f d (%zu loops where it came)\n",
              t.dates, percent(t.dates_in50, t.dates), percent(t.dates_in90, t.dates), median(t.errors),
              median(t.rule_errors), t.errors.size());
  std::printf("effective members: median %.0f, lowest %.0f; seconds: median %.2f, longest %.2f\n", median(t.effective),
              *std::min_element(t.effective.begin(), t.effective.end()), median(t.seconds),
              *std::max_element(t.seconds.begin(), t.seconds.end()));
  std::printf("loops with a doubt:");
  for (const auto& [code, n] : t.doubts) std::printf(" %s %d", code.c_str(), n);
  std::printf("\n");
}

}  // namespace

int main(int argc, char** argv) {
  int loops = 200;
  std::uint64_t seed = 2026;
  bool each = false;
  for (int i = 1; i < argc; ++i) {
    if (std::strcmp(argv[i], "--each") == 0) each = true;
    if (i + 1 == argc) break;
    if (std::strcmp(argv[i], "--loops") == 0) loops = std::max(1, std::atoi(argv[i + 1]));
    if (std::strcmp(argv[i], "--seed") == 0) seed = static_cast<std::uint64_t>(std::atoll(argv[i + 1]));
  }
  Tally read, unread;
  for (int index = 0; index < loops; ++index) {
    // Steps of the golden ratio spread the moments evenly over the days and the start types.
    const double as_of = 5 + 15 * std::fmod(0.618034 * index, 1.0), end = std::floor(as_of) + 60;
    const SecondLoop made = simulate_second(seed, index, as_of, end);
    const OutlookScores with = score_outlook(made, true, end), without = score_outlook(made, false, end);
    add(with, read);
    add(without, unread);
    if (each) {
      std::printf("%d,%s,%.2f", index, made.start_type.c_str(), as_of);
      for (std::size_t q = 0; q < kScored; ++q) {
        const QuantityScore& s = with.of[q];
        std::printf(",%.2f,%.3f,%.3f,%.3f", percent(s.in90[0] + s.in90[1], s.n[0] + s.n[1]) / 100, s.loss,
                    s.persistence.value_or(NAN), without.of[q].loss);
      }
      std::printf(",%.1f,%.1f,%d%d%d\n", made.nitrite_clear_day.value_or(NAN),
                  with.clear_date ? with.clear_date->error.value_or(NAN) : NAN, made.forgot_a_dose, made.forgot_water,
                  made.forgot_feed);
      std::fflush(stdout);
    }
    std::fprintf(stderr, "\r%d of %d", index + 1, loops);
  }
  std::fprintf(stderr, "\n");
  std::printf("%d loops, seed %llu, true water over %.0f days after as_of; losses are pinball, geometric means over loops\n",
              loops, static_cast<unsigned long long>(seed), kScoredDays);
  print("Outlook from readings and deeds", read);
  print("Outlook from deeds alone", unread);
  return 0;
}
