// SPDX-License-Identifier: Apache-2.0
// The same log gives the same outlook whatever instruction set the processor brings. The set is chosen once per
// process, so each outlook is made in a child process; nothing in this program's own process may choose one.
#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <cstring>
#include <string>
#include <vector>

#include "infer/member_block.hpp"
#include "infer/outlook.hpp"
#include "simulated_loop.hpp"

namespace helmwater::infer {
namespace {

using Band = std::array<double, 5>;  // p05, p25, p50, p75, p95

struct Answer {
  std::string engine;
  std::vector<Band> bands;  // [time * kQuantities + quantity]
};

constexpr const char* kSets[] = {"baseline", "avx2", "avx512"};

Answer made_here(int index) {
  const records::LoopLog log = tests::simulate_loop(53, index, 20).log;
  OutlookOptions options;
  options.days = 30;
  const Outlook outlook = outlook_of(log, options);
  Answer answer;
  answer.engine = outlook.engine;
  for (const Outlook::Moment& moment : outlook.series) {
    for (const Quantiles& q : moment.of) answer.bands.push_back({q.p05, q.p25, q.p50, q.p75, q.p95});
  }
  return answer;
}

// The outlook of simulated loop `index`, by a child held to `set`.
Answer made_with(const char* set, int index) {
  int ends[2];
  if (pipe(ends) != 0) throw std::runtime_error("no pipe");
  const pid_t child = fork();
  if (child == 0) {
    close(ends[0]);
    setenv("HELMWATER_INSTRUCTIONS", set, 1);
    const Answer answer = made_here(index);
    std::string bytes = answer.engine + '\n';
    bytes.append(reinterpret_cast<const char*>(answer.bands.data()), answer.bands.size() * sizeof(Band));
    for (std::size_t sent = 0; sent < bytes.size();) {
      const ssize_t n = write(ends[1], bytes.data() + sent, bytes.size() - sent);
      if (n <= 0) _exit(1);
      sent += static_cast<std::size_t>(n);
    }
    _exit(0);
  }
  close(ends[1]);
  std::string bytes;
  std::array<char, 1 << 16> some;
  for (ssize_t n; (n = read(ends[0], some.data(), some.size())) > 0;) bytes.append(some.data(), static_cast<std::size_t>(n));
  close(ends[0]);
  int status = 0;
  if (child < 0 || waitpid(child, &status, 0) != child || status != 0) throw std::runtime_error("the child failed");
  Answer answer;
  const std::size_t line = bytes.find('\n');
  answer.engine = bytes.substr(0, line);
  answer.bands.resize((bytes.size() - line - 1) / sizeof(Band));
  std::memcpy(answer.bands.data(), bytes.data() + line + 1, answer.bands.size() * sizeof(Band));
  return answer;
}

// Two outlooks are the same if every quantile agrees within this share of the band from p05 to p95, or within the floor
// where there is no band (water nobody has touched yet). Both are requirements of ours.
constexpr double kShareOfBand = 0.005, kFloor = 1e-4;  // floor: mg/L, pH

struct Difference {
  std::size_t outside = 0, of = 0;
  double worst = 0;  // share of the band
};

Difference difference(const std::vector<Band>& a, const std::vector<Band>& b) {
  Difference d;
  for (std::size_t i = 0; i < std::min(a.size(), b.size()); ++i) {
    const double width = a[i][4] - a[i][0];
    for (std::size_t k = 0; k < a[i].size(); ++k) {
      const double apart = std::abs(a[i][k] - b[i][k]);
      ++d.of;
      if (!(apart <= std::max(kShareOfBand * width, kFloor))) ++d.outside;
      if (apart > kFloor) d.worst = std::max(d.worst, apart / width);
    }
  }
  return d;
}

class InstructionSets : public testing::TestWithParam<std::tuple<int, int>> {};

TEST_P(InstructionSets, give_the_outlook_of_the_plainest) {
  const auto [set, index] = GetParam();
  if (static_cast<std::size_t>(set) >= member_block_sets().size()) GTEST_SKIP() << "this processor has no " << kSets[set];
  const Answer plain = made_with(kSets[0], index), other = made_with(kSets[set], index);
  EXPECT_NE(plain.engine, other.engine) << "both ran on the same set";
  ASSERT_EQ(plain.bands.size(), other.bands.size());
  ASSERT_GT(plain.bands.size(), 5u * 4 * 45);  // 5 quantities every 6 h of some 50 days
  const Difference d = difference(plain.bands, other.bands);
  std::printf("loop %d, %s: worst quantile apart by %.4f %% of its band\n", index, other.engine.c_str(), 100 * d.worst);
  EXPECT_EQ(d.outside, 0u) << "of " << d.of << "; worst " << 100 * d.worst << " % of its band";
}

INSTANTIATE_TEST_SUITE_P(Each, InstructionSets, testing::Combine(testing::Values(1, 2), testing::Range(0, 5)),
                         [](const auto& tested) {
                           return std::string(kSets[std::get<0>(tested.param)]) + "_loop" +
                                  std::to_string(std::get<1>(tested.param));
                         });

TEST(InstructionSetsDifference, finds_one_planted_quantile) {
  const std::vector<Band> a(40, {1, 2, 3, 4, 5});
  std::vector<Band> b = a;
  EXPECT_EQ(difference(a, b).outside, 0u);
  b[17][2] += 0.019;  // the band is 4 wide: 0.475 %
  EXPECT_EQ(difference(a, b).outside, 0u);
  b[17][2] += 0.002;  // 0.525 %
  EXPECT_EQ(difference(a, b).outside, 1u);
  b[17][2] = NAN;
  EXPECT_EQ(difference(a, b).outside, 1u);
}

}  // namespace
}  // namespace helmwater::infer
