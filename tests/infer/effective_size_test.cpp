// SPDX-License-Identifier: Apache-2.0
// Is the effective size an outlook reports true? If n independent draws made a posterior mean, it would
// wander from seed to seed with variance (posterior variance) / n. Twelve seeds on simulated loops say how
// much it does wander.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "infer/forecast.hpp"
#include "simulated_loop.hpp"

namespace helmwater::infer {
namespace {

class EffectiveSize : public testing::TestWithParam<int> {};

TEST_P(EffectiveSize, is_what_the_spread_between_seeds_says) {
  const int index = GetParam();
  constexpr int kSeeds = 12;
  const records::LoopLog log = tests::simulate_loop(21, index, 20).log;
  std::vector<std::vector<double>> means;  // [quantity][seed]
  std::vector<double> variances;           // mean over the seeds
  double reported = 0;
  for (int seed = 1; seed <= kSeeds; ++seed) {
    PosteriorOptions options;
    options.as_of = records::plus_days(*log.loop.started, 20.5);
    options.seed = static_cast<std::uint64_t>(seed);
    const Posterior p = posterior_of(log, options);
    const Forecast f = forecast(log, p, 5, true);
    reported += p.draws.effective / kSeeds;
    const auto members = static_cast<Eigen::Index>(f.members);
    const std::size_t quantities = static_cast<std::size_t>(p.draws.z.rows()) + 6;
    means.resize(quantities);
    variances.resize(quantities, 0.0);
    const Eigen::Map<const Eigen::VectorXd> weight(f.weight.data(), members);
    const auto take = [&](std::size_t k, const Eigen::VectorXd& values) {
      const double mean = values.dot(weight);
      means[k].push_back(mean);
      variances[k] += (values.array() - mean).square().matrix().dot(weight) / kSeeds;
    };
    std::size_t k = 0;
    for (Eigen::Index d = 0; d < p.draws.z.rows(); ++d) take(k++, p.draws.z.row(d).transpose());
    const auto now = [&](auto value_of) {
      Eigen::VectorXd values(members);
      for (Eigen::Index m = 0; m < members; ++m) values[m] = value_of(f.now[static_cast<std::size_t>(m)]);
      take(k++, values);
    };
    now([](const Forecast::Now& n) { return double{n.ammonia}; });
    now([](const Forecast::Now& n) { return double{n.nitrite}; });
    now([](const Forecast::Now& n) { return double{n.nitrate}; });
    now([](const Forecast::Now& n) { return double{n.ph}; });
    now([](const Forecast::Now& n) { return std::log(double{n.ammonia_capacity}); });
    now([](const Forecast::Now& n) { return std::log(double{n.nitrite_capacity}); });
  }
  std::vector<double> repeated;  // effective size by repetition, per quantity
  for (std::size_t k = 0; k < means.size(); ++k) {
    double mean = 0, square = 0;
    for (double m : means[k]) mean += m / kSeeds;
    for (double m : means[k]) square += (m - mean) * (m - mean) / (kSeeds - 1);
    repeated.push_back(variances[k] / square);
  }
  std::sort(repeated.begin(), repeated.end());
  const double median = repeated[repeated.size() / 2];
  std::printf(
      "loop %d: reported %.0f; by repetition: lowest %.0f, median %.0f, highest %.0f over %zu quantities\n",
      index, reported, repeated.front(), median, repeated.back(), repeated.size());
  // Twelve seeds give each variance to 43 %; the median over some 35 quantities is good to a factor well
  // below two.
  EXPECT_GT(median, reported / 2);
  EXPECT_LT(median, reported * 2);
}

INSTANTIATE_TEST_SUITE_P(loops, EffectiveSize, testing::Values(0, 1));

}  // namespace
}  // namespace helmwater::infer
