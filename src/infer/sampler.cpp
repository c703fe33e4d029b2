// SPDX-License-Identifier: Apache-2.0
#include "infer/sampler.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "infer/parallel.hpp"
#include "infer/random.hpp"

namespace helmwater::infer {
namespace {

constexpr double kLnSqrt2Pi = 0.91893853320467274;
constexpr int kChunk = 256;  // draws per piece of parallel work; a multiple of the pack's lanes

// Shares of a fitted proposal: the prior, the fitted Gaussian, and the same kWide times as wide.
constexpr double kPriorShare = 0.10, kFittedShare = 0.70, kWideShare = 0.20;
constexpr double kWide = 1.5;

struct Proposal {
  int draws = 0;
  bool prior_only = true;
  Eigen::VectorXd mean;
  Eigen::MatrixXd root;  // lower Cholesky factor of the covariance
  double log_root_determinant = 0;
};

double log_sum_exp(double a, double b) {
  const double top = std::max(a, b);
  return top + std::log(std::exp(a - top) + std::exp(b - top));
}

double prior_log_density(const Eigen::VectorXd& z) {
  return -0.5 * z.squaredNorm() - kLnSqrt2Pi * static_cast<double>(z.size());
}

double log_density(const Proposal& p, const Eigen::VectorXd& z, double prior) {
  if (p.prior_only) return prior;
  const double distance = p.root.triangularView<Eigen::Lower>().solve(z - p.mean).squaredNorm();
  const double d = static_cast<double>(z.size());
  const double base = -kLnSqrt2Pi * d - p.log_root_determinant;
  const double fitted = base - 0.5 * distance;
  const double wide = base - d * std::log(kWide) - 0.5 * distance / (kWide * kWide);
  return log_sum_exp(log_sum_exp(std::log(kPriorShare) + prior, std::log(kFittedShare) + fitted),
                     std::log(kWideShare) + wide);
}

Eigen::VectorXd draw(const Proposal& p, const Draws& random, std::uint32_t index, int dimensions) {
  Eigen::VectorXd z(dimensions);
  for (int d = 0; d < dimensions; ++d) z[d] = random.normal(index, static_cast<std::uint32_t>(d));
  if (p.prior_only) return z;
  const double u = (index + 0.5) / p.draws;  // the shares are met exactly
  if (u < kPriorShare) return z;
  const double scale = u < kPriorShare + kFittedShare ? 1.0 : kWide;
  const Eigen::VectorXd spread = p.root.triangularView<Eigen::Lower>() * z;
  return p.mean + scale * spread;
}

// ln weights at temperature beta, normalised so that the largest is 0.
std::vector<double> tempered(const std::vector<double>& log_ratio, const std::vector<double>& log_like, double beta) {
  std::vector<double> w(log_ratio.size());
  double top = -INFINITY;
  for (std::size_t i = 0; i < w.size(); ++i) {
    w[i] = log_ratio[i] + beta * log_like[i];
    top = std::max(top, w[i]);
  }
  for (double& x : w) x = std::exp(x - top);
  return w;
}

Proposal fit(const Eigen::MatrixXd& z, const std::vector<double>& weight, double effective, int draws) {
  const double total = std::accumulate(weight.begin(), weight.end(), 0.0);
  const int dimensions = static_cast<int>(z.rows());
  Proposal p;
  p.draws = draws;
  p.prior_only = false;
  p.mean = Eigen::VectorXd::Zero(dimensions);
  for (int i = 0; i < z.cols(); ++i) p.mean += weight[static_cast<std::size_t>(i)] / total * z.col(i);
  Eigen::MatrixXd covariance = Eigen::MatrixXd::Zero(dimensions, dimensions);
  for (int i = 0; i < z.cols(); ++i) {
    const double w = weight[static_cast<std::size_t>(i)] / total;
    if (w < 1e-12) continue;
    const Eigen::VectorXd c = z.col(i) - p.mean;
    covariance.selfadjointView<Eigen::Lower>().rankUpdate(c, w);
  }
  covariance = Eigen::MatrixXd(covariance.selfadjointView<Eigen::Lower>());
  // Few effective draws say little about many dimensions: shrink towards the prior's unit covariance.
  const double shrink = dimensions / (dimensions + 2 * effective);
  covariance = (1 - shrink) * covariance + shrink * Eigen::MatrixXd::Identity(dimensions, dimensions);
  const Eigen::LLT<Eigen::MatrixXd> cholesky(covariance);
  p.root = cholesky.matrixL();
  p.log_root_determinant = p.root.diagonal().array().log().sum();
  return p;
}

}  // namespace

double effective_size(const std::vector<double>& weight) {
  double sum = 0, squares = 0;
  for (double w : weight) {
    sum += w;
    squares += w * w;
  }
  return squares > 0 ? sum * sum / squares : 0;
}

WeightedDraws sample_posterior(int dimensions, const LogLikelihood& log_likelihood, const SamplerOptions& options) {
  WeightedDraws result;
  std::vector<Proposal> proposals;
  Proposal next;
  next.draws = options.first_round;
  Eigen::MatrixXd z(dimensions, 0);
  std::vector<double> log_prior, log_like, log_mixture;  // log_mixture: ln sum of draws_r * density_r
  std::vector<double> weight;

  for (int round = 0; round < options.most_rounds; ++round) {
    const int before = static_cast<int>(z.cols()), after = before + next.draws;
    z.conservativeResize(Eigen::NoChange, after);
    for (auto* v : {&log_prior, &log_like, &log_mixture}) v->resize(static_cast<std::size_t>(after));
    proposals.push_back(next);
    const Draws random(options.seed, static_cast<std::uint32_t>(round));
    parallel_for((next.draws + kChunk - 1) / kChunk, [&](int chunk) {
      const int first = before + chunk * kChunk, last = std::min(first + kChunk, after);
      for (int i = first; i < last; ++i) {
        const std::size_t s = static_cast<std::size_t>(i);
        z.col(i) = draw(next, random, static_cast<std::uint32_t>(i - before), dimensions);
        log_prior[s] = prior_log_density(z.col(i));
        double mixture = -INFINITY;
        for (const Proposal& p : proposals) {
          mixture = log_sum_exp(mixture, std::log(p.draws) + log_density(p, z.col(i), log_prior[s]));
        }
        log_mixture[s] = mixture;
      }
      log_likelihood(z, first, last - first, &log_like[static_cast<std::size_t>(first)]);
    });
    parallel_for((before + kChunk - 1) / kChunk, [&](int chunk) {
      const int last = std::min(chunk * kChunk + kChunk, before);
      for (int i = chunk * kChunk; i < last; ++i) {
        const std::size_t s = static_cast<std::size_t>(i);
        log_mixture[s] = log_sum_exp(log_mixture[s], std::log(next.draws) + log_density(next, z.col(i), log_prior[s]));
      }
    });
    result.rounds = round + 1;

    std::vector<double> log_ratio(log_prior.size());
    for (std::size_t i = 0; i < log_ratio.size(); ++i) log_ratio[i] = log_prior[i] - log_mixture[i];
    weight = tempered(log_ratio, log_like, 1);
    double effective = effective_size(weight);
    if (effective >= options.effective_wanted) break;

    // The hottest temperature at which the draws still carry a fit.
    const double needed = std::min(4.0 * dimensions, 0.1 * after);
    std::vector<double> fitting = weight;
    if (effective < needed) {
      double low = 0, high = 1;
      for (int i = 0; i < 30; ++i) {
        const double beta = (low + high) / 2;
        (effective_size(tempered(log_ratio, log_like, beta)) < needed ? high : low) = beta;
      }
      fitting = tempered(log_ratio, log_like, low);
      effective = effective_size(fitting);
    }
    next = fit(z, fitting, effective, options.round);
  }

  result.z = std::move(z);
  result.effective = effective_size(weight);
  double top = -INFINITY;
  for (std::size_t i = 0; i < weight.size(); ++i) {
    top = std::max(top, log_prior[i] - log_mixture[i] + log_like[i]);
  }
  const double total = std::accumulate(weight.begin(), weight.end(), 0.0);
  result.log_evidence = top + std::log(total);  // log_mixture already carries the number of draws
  for (double& w : weight) w /= total;
  result.weight = std::move(weight);
  return result;
}

WeightedDraws thin(const WeightedDraws& draws, int members, std::uint64_t seed) {
  const int n = static_cast<int>(draws.z.cols());
  if (n <= members) return draws;
  // Threshold c with sum of min(w / c, 1) = members.
  std::vector<double> sorted = draws.weight;
  std::sort(sorted.begin(), sorted.end(), std::greater<>());
  double rest = 1;
  int kept = 0;
  while (kept < members && sorted[static_cast<std::size_t>(kept)] * (members - kept) >= rest) {
    rest -= sorted[static_cast<std::size_t>(kept)];
    ++kept;
  }
  const double c = kept < members ? rest / (members - kept) : 0;
  WeightedDraws out;
  std::vector<int> chosen;
  const double offset = Draws(seed, 0x7415).uniform(0, 0);
  double passed = 0, next = offset;
  for (int i = 0; i < n; ++i) {
    const double w = draws.weight[static_cast<std::size_t>(i)];
    if (w >= c) {
      chosen.push_back(i);
      out.weight.push_back(w);
      continue;
    }
    passed += w / c;
    if (passed > next) {
      chosen.push_back(i);
      out.weight.push_back(c);
      next += 1;
    }
  }
  out.z.resize(draws.z.rows(), static_cast<Eigen::Index>(chosen.size()));
  for (std::size_t k = 0; k < chosen.size(); ++k) out.z.col(static_cast<Eigen::Index>(k)) = draws.z.col(chosen[k]);
  const double total = std::accumulate(out.weight.begin(), out.weight.end(), 0.0);
  for (double& w : out.weight) w /= total;
  out.effective = effective_size(out.weight);
  out.log_evidence = draws.log_evidence;
  out.rounds = draws.rounds;
  return out;
}

}  // namespace helmwater::infer
