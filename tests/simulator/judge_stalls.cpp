// SPDX-License-Identifier: Apache-2.0
// `why` judged by loops of the second simulator that do not move for a known reason (docs/decisions/007-second-simulator.md).
//   judge_stalls [--loops N] [--seed S] [--only I] [--each]
// Causes in turn; --only: loop I alone, with --each its log. A loop counts if its cause has made a difference by as_of. It is a measurement and always ends with 0.
#include <algorithm>
#include <array>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <string>
#include <vector>

#include "stall_scores.hpp"

using namespace helmwater::tests;

int main(int argc, char** argv) {
  int loops = 110;
  std::uint64_t seed = 2026;
  int only = -1;
  bool each = false;
  for (int i = 1; i < argc; ++i) {
    if (std::strcmp(argv[i], "--each") == 0) {
      each = true;
    } else if (std::strcmp(argv[i], "--only") == 0 && i + 1 < argc) {
      only = std::atoi(argv[++i]);
    } else if (std::strcmp(argv[i], "--loops") == 0 && i + 1 < argc) {
      loops = std::atoi(argv[++i]);
    } else if (std::strcmp(argv[i], "--seed") == 0 && i + 1 < argc) {
      seed = std::strtoull(argv[++i], nullptr, 10);
    } else {
      std::fprintf(stderr, "usage: judge_stalls [--loops N] [--seed S] [--only I] [--each]\n");
      return 2;
    }
  }
  struct Row {
    int n = 0, first = 0, named_right = 0, cannot_tell = 0, wrong = 0, passed_over = 0;
    std::array<int, kStalls> ranked{};
  };
  std::array<Row, kStalls> rows;
  std::vector<double> seconds;
  for (int i = 0; i < loops; ++i) {
    if (only >= 0 && i != only) continue;
    const Stall stall = static_cast<Stall>(i % kStalls);
    Row& row = rows[static_cast<std::size_t>(stall)];
    const StalledLoop made = next_that_stalls(seed, i, stall);
    row.passed_over += made.passed_over;
    const auto begun = std::chrono::steady_clock::now();
    const StallScore score = score_why(made.loop);
    seconds.push_back(std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count());
    const std::string truth = kStallNames[static_cast<std::size_t>(stall)];
    ++row.n;
    row.first += score.first == truth;
    row.named_right += score.told && score.first == truth;
    row.cannot_tell += !score.told;
    row.wrong += score.told && score.first != truth;
    const auto place = std::find(kStallNames.begin(), kStallNames.end(), score.first);
    if (place != kStallNames.end()) ++row.ranked[static_cast<std::size_t>(place - kStallNames.begin())];
    if (each) {
      if (only >= 0) std::printf("%s%s", made.loop.loop_toml.c_str(), made.loop.log_csv.c_str());
      std::printf("%d,%s,%s,day %.0f,%s,", i, truth.c_str(), made.loop.start_type.c_str(), made.loop.truth.back().day,
                  !score.told ? "cannot_tell" : score.first == truth ? "right" : "WRONG");
      for (const auto& [cause, p] : score.ranked) {
        if (p > 0.03) std::printf(" %s %.2f", cause.c_str(), p);
      }
      std::printf(" | %s | %.1f s, %.0f draws\n", score.test.c_str(), seconds.back(), score.effective);
      std::fflush(stdout);
    }
  }
  std::printf("%d loops, seed %llu\n\n| cause | loops | ranked first | named rightly | cannot tell | named wrongly | loops passed over |\n"
              "|---|---|---|---|---|---|---|\n", loops, static_cast<unsigned long long>(seed));
  Row all;
  const auto print = [](const char* name, const Row& r) {
    std::printf("| %s | %d | %d | %d | %d | %d | %d |\n", name, r.n, r.first, r.named_right, r.cannot_tell, r.wrong, r.passed_over);
  };
  for (int k = 0; k < kStalls; ++k) {
    const Row& r = rows[static_cast<std::size_t>(k)];
    print(kStallNames[static_cast<std::size_t>(k)], r);
    all.n += r.n;
    all.first += r.first;
    all.named_right += r.named_right;
    all.cannot_tell += r.cannot_tell;
    all.wrong += r.wrong;
    all.passed_over += r.passed_over;
  }
  print("all", all);
  std::printf("\nTruth in rows, ranked first in columns\n| |");
  for (const char* name : kStallNames) std::printf(" %s |", name);
  std::printf("\n|---|");
  for (int k = 0; k < kStalls; ++k) std::printf("---|");
  for (int k = 0; k < kStalls; ++k) {
    std::printf("\n| %s |", kStallNames[static_cast<std::size_t>(k)]);
    for (int n : rows[static_cast<std::size_t>(k)].ranked) std::printf(n == 0 ? " |" : " %d |", n);
  }
  std::sort(seconds.begin(), seconds.end());
  if (!seconds.empty()) std::printf("\n\nseconds: median %.1f, longest %.1f\n", seconds[seconds.size() / 2], seconds.back());
  return 0;
}
