// SPDX-License-Identifier: Apache-2.0
// The sampler on problems whose answer is known in closed form or by quadrature. Limits are multiples of the
// sampling error that the reported effective size allows.
#include "infer/sampler.hpp"

#include <gtest/gtest.h>

#include <chrono>
#include <cmath>
#include <mutex>
#include <numbers>
#include <thread>

#include "infer/distributions.hpp"
#include "infer/random.hpp"

namespace helmwater::infer {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

// Likelihood and soft data of: data = g(z) + normal noise.
struct Problem {
  int dimensions = 0;
  VectorXd data, sd;
  std::function<VectorXd(const VectorXd&)> g;

  LogLikelihood likelihood() const {
    return [this](const MatrixXd& z, int first, int count, double* out) {
      for (int i = 0; i < count; ++i) {
        const VectorXd predicted = g(z.col(first + i));
        out[i] = 0;
        for (Eigen::Index k = 0; k < data.size(); ++k)
          out[i] += normal_log_density(data[k], predicted[k], sd[k]);
      }
    };
  }
  SoftData soft() const {
    SoftData s;
    s.low = s.high = data;
    s.sd = sd;
    s.predict = [this](const MatrixXd& z, int first, int count, MatrixXd& predicted) {
      for (int i = first; i < first + count; ++i) predicted.col(i) = g(z.col(i));
    };
    return s;
  }
  WeightedDraws sample(std::uint64_t seed = 1) const {
    SamplerOptions options;
    options.seed = seed;
    return sample_posterior(dimensions, likelihood(), soft(), options);
  }
};

VectorXd mean_of(const WeightedDraws& draws) {
  return draws.z * Eigen::Map<const VectorXd>(draws.weight.data(), draws.z.cols());
}
MatrixXd covariance_of(const WeightedDraws& draws) {
  const MatrixXd centred = draws.z.colwise() - mean_of(draws);
  return centred * Eigen::Map<const VectorXd>(draws.weight.data(), draws.z.cols()).asDiagonal() *
         centred.transpose();
}
template <class Take>
double expectation(const WeightedDraws& draws, const Take& take) {
  double sum = 0;
  for (Eigen::Index i = 0; i < draws.z.cols(); ++i)
    sum += draws.weight[static_cast<std::size_t>(i)] * take(draws.z.col(i));
  return sum;
}

// ---- linear and Gaussian: mean, covariance and evidence in closed form (Kalman)

struct Linear : Problem {
  MatrixXd a;
  Linear(int d, int readings, double noise, std::uint64_t seed) {
    const Draws random(seed, 99);
    a.resize(readings, d);
    for (int i = 0; i < readings; ++i) {
      for (int j = 0; j < d; ++j)
        a(i, j) = random.normal(static_cast<std::uint32_t>(i), static_cast<std::uint32_t>(j)) / std::sqrt(d);
    }
    dimensions = d;
    sd = VectorXd::Constant(readings, noise);
    VectorXd truth(d);
    for (int j = 0; j < d; ++j) truth[j] = random.normal(1000, static_cast<std::uint32_t>(j));
    data = a * truth;
    for (int i = 0; i < readings; ++i) data[i] += noise * random.normal(1001, static_cast<std::uint32_t>(i));
    g = [this](const VectorXd& z) -> VectorXd { return a * z; };
  }
};

class LinearGaussian : public testing::TestWithParam<int> {};

TEST_P(LinearGaussian, mean_covariance_and_evidence_are_those_of_the_closed_form) {
  const int d = GetParam();
  const Linear problem(d, 2 * d, 0.4, 5);
  const MatrixXd noise = problem.sd.array().square().matrix().asDiagonal();
  const MatrixXd total = problem.a * problem.a.transpose() + noise;
  const MatrixXd gain = problem.a.transpose() * total.inverse();
  const VectorXd mean = gain * problem.data;
  const MatrixXd covariance = MatrixXd::Identity(d, d) - gain * problem.a;
  const double evidence = -0.5 * problem.data.dot(total.inverse() * problem.data) -
                          0.5 * std::log(total.determinant()) -
                          0.5 * static_cast<double>(problem.data.size()) * std::log(2 * std::numbers::pi);

  const WeightedDraws draws = problem.sample();
  EXPECT_GE(draws.effective, 1100);
  const double error = 4.5 / std::sqrt(draws.effective);
  const VectorXd found = mean_of(draws);
  const MatrixXd spread = covariance_of(draws);
  for (int i = 0; i < d; ++i) {
    EXPECT_NEAR(found[i], mean[i], error * std::sqrt(covariance(i, i))) << i;
    for (int j = 0; j <= i; ++j) {
      const double scale =
          std::sqrt(covariance(i, i) * covariance(j, j) + covariance(i, j) * covariance(i, j));
      EXPECT_NEAR(spread(i, j), covariance(i, j), error * scale) << i << " " << j;
    }
  }
  // The variance of a mean of n weights is (n / effective - 1) / n of its square, below 1 / effective.
  EXPECT_NEAR(draws.log_evidence, evidence, error);
}

INSTANTIATE_TEST_SUITE_P(dimensions, LinearGaussian, testing::Values(5, 20));

// ---- curved: z2 + b (z1^2 - 1) is read; given z1 the rest is Gaussian, so moments are integrals over z1
// alone

TEST(sampler, follows_a_curved_ridge) {
  constexpr double kBend = 1.0, kNoise = 0.2, kRead = 1.0;
  Problem problem;
  problem.dimensions = 4;  // two more that no reading speaks of
  problem.data = VectorXd::Constant(1, kRead);
  problem.sd = VectorXd::Constant(1, kNoise);
  problem.g = [](const VectorXd& z) -> VectorXd {
    return VectorXd::Constant(1, z[1] + kBend * (z[0] * z[0] - 1));
  };

  double mass = 0, z0_square = 0, z1_mean = 0, z1_square = 0;
  const double total = 1 + kNoise * kNoise, step = 1e-3;
  for (double z = -8; z <= 8; z += step) {
    const double left = kRead - kBend * (z * z - 1);
    const double w =
        std::exp(normal_log_density(z, 0, 1) + normal_log_density(left, 0, std::sqrt(total))) * step;
    const double mean = left / total, variance = kNoise * kNoise / total;
    mass += w;
    z0_square += w * z * z;
    z1_mean += w * mean;
    z1_square += w * (mean * mean + variance);
  }
  z0_square /= mass, z1_mean /= mass, z1_square /= mass;

  const WeightedDraws draws = problem.sample();
  EXPECT_GE(draws.effective, 1100);
  const double error = 4.5 / std::sqrt(draws.effective);
  EXPECT_NEAR(expectation(draws, [](const VectorXd& z) { return z[0]; }), 0, error * std::sqrt(z0_square));
  EXPECT_NEAR(expectation(draws, [](const VectorXd& z) { return z[0] * z[0]; }), z0_square,
              error * 1.5 * z0_square);
  EXPECT_NEAR(expectation(draws, [](const VectorXd& z) { return z[1]; }), z1_mean,
              error * std::sqrt(z1_square - z1_mean * z1_mean));
  EXPECT_NEAR(expectation(draws, [](const VectorXd& z) { return z[1] * z[1]; }), z1_square,
              error * 1.5 * z1_square);
  EXPECT_NEAR(expectation(draws, [](const VectorXd& z) { return z[2]; }), 0, error);
  EXPECT_NEAR(expectation(draws, [](const VectorXd& z) { return z[3] * z[3]; }), 1, error * std::sqrt(2.0));
  EXPECT_NEAR(draws.log_evidence, std::log(mass), error);
}

// ---- two peaks, alike by symmetry: half the weight belongs to each

// Share of the weight on the right, per seed; a miss is a good effective size on one peak alone.
int misses(const Problem& problem, int seeds) {
  int missed = 0;
  for (int seed = 1; seed <= seeds; ++seed) {
    const WeightedDraws draws = problem.sample(static_cast<std::uint64_t>(seed));
    const double right = expectation(draws, [](const VectorXd& z) { return z[0] > 0 ? 1.0 : 0.0; });
    if (right < 0.01 || right > 0.99) {
      missed += draws.effective >= 1000;
      std::printf("seed %d sits on one peak: right %.4f, effective %.0f\n", seed, right, draws.effective);
    } else if (draws.effective >= 1000) {
      EXPECT_NEAR(right, 0.5, 4.5 * 0.5 / std::sqrt(draws.effective)) << "seed " << seed;
    }
  }
  return missed;
}

TEST(sampler, finds_two_peaks_within_reach_of_the_prior) {
  Problem problem;  // z0^2 = 4 +- 0.4: peaks at -2 and 2
  problem.dimensions = 3;
  problem.data = VectorXd::Constant(1, 4.0);
  problem.sd = VectorXd::Constant(1, 0.4);
  problem.g = [](const VectorXd& z) -> VectorXd { return VectorXd::Constant(1, z[0] * z[0]); };
  EXPECT_EQ(misses(problem, 20), 0);
}

// Known weakness: a peak that no draw ever visits leaves no trace in the weights, so a good effective size
// does not prove that there is no other. Here the peaks lie six prior sds apart, each a tenth of a sd wide in
// three directions. What is held is only that most seeds find both (docs/model/sampler.md).
TEST(sampler, mostly_finds_two_narrow_peaks_far_apart) {
  Problem problem;
  problem.dimensions = 5;
  problem.data = VectorXd{{3.0, 0.5, -0.5}};
  problem.sd = VectorXd::Constant(3, 0.1);
  problem.g = [](const VectorXd& z) -> VectorXd { return VectorXd{{std::abs(z[0]), z[1], z[2]}}; };
  const int missed = misses(problem, 20);
  std::printf("missed a peak: %d of 20 seeds\n", missed);
  EXPECT_LT(missed, 10);
}

// ---- nothing read, seeds, threads

TEST(sampler, without_data_the_draws_are_the_priors) {
  SamplerOptions options;
  options.round = 4000;
  const WeightedDraws draws = sample_posterior(
      6, [](const MatrixXd&, int, int count, double* out) { std::fill(out, out + count, 0.0); }, {}, options);
  EXPECT_EQ(draws.z.cols(), 4000);
  EXPECT_NEAR(draws.effective, 4000, 1e-6);
  EXPECT_NEAR(draws.log_evidence, 0, 1e-12);
  const VectorXd mean = mean_of(draws);
  const MatrixXd covariance = covariance_of(draws);
  for (int i = 0; i < 6; ++i) {
    EXPECT_NEAR(mean[i], 0, 4.5 / std::sqrt(4000));
    for (int j = 0; j <= i; ++j)
      EXPECT_NEAR(covariance(i, j), i == j, 4.5 * std::sqrt((1 + (i == j)) / 4000.0));
  }
}

TEST(sampler, one_seed_gives_one_answer_however_the_threads_run) {
  const Linear problem(5, 10, 0.4, 5);
  const WeightedDraws once = problem.sample(3);
  SamplerOptions options;
  options.seed = 3;
  // One piece at a time, and pieces that dawdle differently each time: other orders of work.
  std::mutex one_at_a_time;
  const auto serial = [&](const MatrixXd& z, int first, int count, double* out) {
    const std::scoped_lock lock(one_at_a_time);
    problem.likelihood()(z, first, count, out);
  };
  std::atomic<int> calls{0};
  const auto dawdling = [&](const MatrixXd& z, int first, int count, double* out) {
    std::this_thread::sleep_for(std::chrono::milliseconds(calls++ * 7 % 5));
    problem.likelihood()(z, first, count, out);
  };
  for (const LogLikelihood& likelihood : {LogLikelihood(serial), LogLikelihood(dawdling)}) {
    const WeightedDraws again = sample_posterior(5, likelihood, problem.soft(), options);
    EXPECT_EQ(again.z, once.z);
    EXPECT_EQ(again.weight, once.weight);
    EXPECT_EQ(again.log_evidence, once.log_evidence);
  }
  EXPECT_NE(problem.sample(4).z, once.z);
}

// ---- effective size and thinning

TEST(effective_size, has_its_identities) {
  EXPECT_DOUBLE_EQ(effective_size({1, 1, 1, 1}), 4);
  EXPECT_DOUBLE_EQ(effective_size({5, 5, 5, 5}), 4);  // the sum does not matter
  EXPECT_DOUBLE_EQ(effective_size({0, 0, 3}), 1);
  EXPECT_DOUBLE_EQ(effective_size({1, 1, 0, 0}), 2);
  EXPECT_DOUBLE_EQ(effective_size({2, 1}), 9.0 / 5);  // (sum)^2 / sum of squares
  EXPECT_EQ(effective_size({}), 0);
  EXPECT_EQ(effective_size({0, 0}), 0);
}

WeightedDraws uneven(int n) {
  WeightedDraws draws;
  draws.z.resize(2, n);
  const Draws random(8, 8);
  double sum = 0;
  for (int i = 0; i < n; ++i) {
    draws.z(0, i) = random.normal(static_cast<std::uint32_t>(i), 0);
    draws.z(1, i) = i;
    draws.weight.push_back(std::exp(1.5 * random.normal(static_cast<std::uint32_t>(i), 1)));
    sum += draws.weight.back();
  }
  for (double& w : draws.weight) w /= sum;
  draws.effective = effective_size(draws.weight);
  draws.log_evidence = -12;
  return draws;
}

// Fearnhead & Clifford 2003: every weight's expectation is kept, so weighted means are unbiased.
TEST(thin, keeps_weighted_means_without_bias) {
  const WeightedDraws draws = uneven(3000);
  const auto x = [](const VectorXd& z) { return z[0] * z[0] + z[0]; };
  const double truth = expectation(draws, x);
  constexpr int kSeeds = 400;
  double sum = 0, squares = 0;
  for (int seed = 0; seed < kSeeds; ++seed) {
    const WeightedDraws some = thin(draws, 200, static_cast<std::uint64_t>(seed));
    ASSERT_LE(some.z.cols(), 200);
    ASSERT_GE(some.z.cols(), 199);
    ASSERT_EQ(some.weight.size(), static_cast<std::size_t>(some.z.cols()));
    double total = 0;
    for (double w : some.weight) total += w;
    ASSERT_NEAR(total, 1, 1e-12);
    ASSERT_NEAR(some.effective, effective_size(some.weight), 1e-9);
    ASSERT_EQ(some.log_evidence, draws.log_evidence);
    const double mean = expectation(some, x);
    sum += mean;
    squares += mean * mean;
  }
  const double mean = sum / kSeeds, variance = squares / kSeeds - mean * mean;
  EXPECT_GT(variance, 0);  // seeds differ
  EXPECT_NEAR(mean, truth, 4 * std::sqrt(variance / kSeeds));
}

TEST(thin, keeps_heavy_draws_with_their_weight_and_evens_out_the_rest) {
  const WeightedDraws draws = uneven(3000);
  const WeightedDraws some = thin(draws, 200, 1);
  const double lightest = *std::min_element(some.weight.begin(), some.weight.end());
  int heavy_before = 0, heavy_after = 0;
  for (double w : draws.weight) heavy_before += w > lightest * (1 + 1e-9);
  for (std::size_t i = 0; i < some.weight.size(); ++i) {
    if (some.weight[i] > lightest * (1 + 1e-9)) {
      ++heavy_after;
      EXPECT_NEAR(some.weight[i],
                  draws.weight[static_cast<std::size_t>(some.z(1, static_cast<Eigen::Index>(i)))], 1e-12);
    }
  }
  EXPECT_EQ(heavy_before, heavy_after);
  EXPECT_GT(heavy_after, 0);
}

TEST(thin, leaves_few_draws_alone) {
  const WeightedDraws draws = uneven(50);
  const WeightedDraws same = thin(draws, 50, 1);
  EXPECT_EQ(same.z, draws.z);
  EXPECT_EQ(same.weight, draws.weight);
}

TEST(thin, never_keeps_more_than_asked_when_few_draws_carry_all_the_weight) {
  WeightedDraws draws = uneven(100);
  std::fill(draws.weight.begin(), draws.weight.end(), 0.0);
  draws.weight[3] = 0.5, draws.weight[40] = 0.25, draws.weight[41] = 0.25;
  for (int members : {2, 3, 10}) {
    const WeightedDraws some = thin(draws, members, 1);
    EXPECT_LE(some.z.cols(), members);
    double total = 0;
    for (double w : some.weight) total += w;
    EXPECT_NEAR(total, 1, 1e-12);
  }
}

}  // namespace
}  // namespace helmwater::infer
