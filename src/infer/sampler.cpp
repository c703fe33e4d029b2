// SPDX-License-Identifier: Apache-2.0
#include "infer/sampler.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "infer/parallel.hpp"
#include "infer/random.hpp"

namespace helmwater::infer {
namespace {

constexpr double kLnSqrt2Pi = 0.91893853320467274;
constexpr int kChunk = 256;  // draws per piece of parallel work; a multiple of the pack's lanes

// Shares of a fitted proposal: the prior, and the fitted Gaussian with its kTailed best known directions so many times as
// wide. The posterior is far from normal in those; tails in all directions at once would lose most draws.
constexpr double kPriorShare = 0.05;
struct Widened {
  double share, scale;
};
constexpr std::array<Widened, 3> kWidened{{{0.50, 1.0}, {0.24, 1.6}, {0.08, 2.5}}};
// And so many draws wider in every direction, for what the others do not reach.
constexpr Widened kAllWider{0.13, 1.5};
constexpr int kTailed = 5;

// A round that raises ln of the evidence by less has found nothing new.
constexpr double kEvidenceSettled = 0.05;

struct Proposal {
  int draws = 0;
  bool prior_only = true;
  Eigen::VectorXd mean;
  Eigen::MatrixXd directions;      // columns, from the smallest variance up, times the root of their variance
  Eigen::MatrixXd to_directions;   // the inverse
  Eigen::MatrixXd axes;            // columns, the directions' unit vectors
  double log_root_determinant = 0;
  int tailed = 0;
};

double log_sum_exp(double a, double b) {
  const double top = std::max(a, b);
  return top + std::log1p(std::exp(std::min(a, b) - top));
}

// to = ln(exp(to) + exp(more)), element by element.
template <class Array>
void add_logs(Array&& to, const Eigen::ArrayXd& more) {
  for (Eigen::Index i = 0; i < more.size(); ++i) to[i] = log_sum_exp(to[i], more[i]);
}

// ln density of the prior, of each column.
Eigen::ArrayXd prior_log_density(const Eigen::MatrixXd& z) {
  return -0.5 * z.colwise().squaredNorm().transpose().array() - kLnSqrt2Pi * static_cast<double>(z.rows());
}

// ln density of the proposal, of each column.
Eigen::ArrayXd log_density(const Proposal& p, const Eigen::MatrixXd& z, const Eigen::ArrayXd& prior) {
  if (p.prior_only) return prior;
  const Eigen::MatrixXd y = p.to_directions * (z.colwise() - p.mean);
  const Eigen::ArrayXd tailed = y.topRows(p.tailed).colwise().squaredNorm().transpose().array();
  const Eigen::ArrayXd rest = y.bottomRows(y.rows() - p.tailed).colwise().squaredNorm().transpose().array();
  const double base = -kLnSqrt2Pi * static_cast<double>(z.rows()) - p.log_root_determinant;
  Eigen::ArrayXd sum = Eigen::ArrayXd::Zero(tailed.size());
  for (const Widened& w : kWidened) {
    const double front = w.share / std::pow(w.scale, p.tailed);
    sum += front * (-0.5 / (w.scale * w.scale) * tailed).exp();
  }
  const Eigen::ArrayXd fitted = base - 0.5 * rest + (sum + 1e-300).log();
  const double all_front = std::log(kAllWider.share) - static_cast<double>(z.rows()) * std::log(kAllWider.scale);
  Eigen::ArrayXd result = std::log(kPriorShare) + prior;
  add_logs(result, fitted);
  add_logs(result, base + all_front - 0.5 / (kAllWider.scale * kAllWider.scale) * (tailed + rest));
  return result;
}

Eigen::VectorXd draw(const Proposal& p, const Draws& random, std::uint32_t index, int dimensions) {
  Eigen::VectorXd z(dimensions);
  for (int d = 0; d < dimensions; ++d) z[d] = random.normal(index, static_cast<std::uint32_t>(d));
  if (p.prior_only) return z;
  const double u = (index + 0.5) / p.draws;  // the shares are met exactly
  if (u < kPriorShare) return z;
  if (u > 1 - kAllWider.share) return p.mean + p.directions * (p.axes.transpose() * (kAllWider.scale * z)).eval();
  double passed = kPriorShare, scale = kWidened.back().scale;
  for (const Widened& w : kWidened) {
    passed += w.share;
    if (u < passed) {
      scale = w.scale;
      break;
    }
  }
  // Turned onto the axes first: a unit vector's sign, and its place among others of nearly its variance, hang on last digits,
  // and so would every draw.
  z = (p.axes.transpose() * z).eval();
  z.head(p.tailed) *= scale;
  return p.mean + p.directions * z;
}

std::vector<double> flattened(std::vector<double> weight, double power) {
  for (double& w : weight) w = std::pow(w, power);
  return weight;
}

Proposal fit(const Eigen::MatrixXd& z, const std::vector<double>& weight, double effective, int draws) {
  const int dimensions = static_cast<int>(z.rows());
  Eigen::VectorXd w = Eigen::Map<const Eigen::VectorXd>(weight.data(), z.cols());
  w /= w.sum();
  Proposal p;
  p.draws = draws;
  p.prior_only = false;
  p.mean = z * w;
  Eigen::MatrixXd covariance = Eigen::MatrixXd::Zero(dimensions, dimensions);
  for (Eigen::Index i = 0; i < z.cols(); ++i) {
    if (w[i] < 1e-12) continue;
    const Eigen::VectorXd c = z.col(i) - p.mean;
    covariance.selfadjointView<Eigen::Lower>().rankUpdate(c, w[i]);
  }
  covariance = Eigen::MatrixXd(covariance.selfadjointView<Eigen::Lower>());
  // The unknowns are standard normal before the data. Few effective draws say little about many dimensions: directions
  // whose variance differs from one by no more than the noise of a sample covariance (Marchenko & Pastur 1967) keep the
  // prior's.
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eigen(covariance);
  const double noise = std::min(std::sqrt(dimensions / effective), 0.9);
  const double lowest = (1 - noise) * (1 - noise), highest = (1 + noise) * (1 + noise);
  Eigen::VectorXd variance = eigen.eigenvalues();
  for (double& v : variance) {
    if (v > lowest && v < highest) v = 1;
    v = v * (1 + noise / 4);  // a little wide is safer than a little narrow
  }
  const Eigen::VectorXd root = variance.cwiseSqrt();
  p.axes = eigen.eigenvectors();
  p.directions = p.axes * root.asDiagonal();
  p.to_directions = root.cwiseInverse().asDiagonal() * eigen.eigenvectors().transpose();
  p.log_root_determinant = root.array().log().sum();
  while (p.tailed < std::min(kTailed, dimensions) && variance[p.tailed] < 0.5) ++p.tailed;
  return p;
}

// An ensemble that has seen the data `passes` times, each time with `passes` times the noise variance.
Eigen::MatrixXd smooth(int dimensions, const SoftData& soft, const SamplerOptions& options) {
  // Many readings are taken in smaller sips: with four the first proposals of a 40-day log lay far off (a quarter more draws).
  const int members = options.smoother_members;
  const int passes = soft.sd.size() > 30 ? 2 * options.smoother_passes : options.smoother_passes;
  const Eigen::Index data = soft.sd.size();
  const Draws random(options.seed, 0x5300u);
  Eigen::MatrixXd z(dimensions, members);
  for (int i = 0; i < members; ++i) {
    for (int d = 0; d < dimensions; ++d) z(d, i) = random.normal(static_cast<std::uint32_t>(i), static_cast<std::uint32_t>(d));
  }
  // An interval's width counts as noise of a uniform.
  Eigen::VectorXd variance(data);
  for (Eigen::Index k = 0; k < data; ++k) {
    const double width = soft.high[k] - soft.low[k];
    variance[k] = soft.sd[k] * soft.sd[k] + (std::isfinite(width) ? width * width / 12 : 0);
  }
  Eigen::MatrixXd predicted(data, members);
  for (int pass = 0; pass < passes; ++pass) {
    parallel_for((members + kChunk - 1) / kChunk, [&](int chunk) {
      const int first = chunk * kChunk;
      soft.predict(z, first, std::min(kChunk, members - first), predicted);
    });
    const Eigen::VectorXd mean_z = z.rowwise().mean(), mean_d = predicted.rowwise().mean();
    const Eigen::MatrixXd dz = z.colwise() - mean_z, dd = predicted.colwise() - mean_d;
    Eigen::MatrixXd total = dd * dd.transpose() / (members - 1);
    total.diagonal() += passes * variance;
    const Eigen::MatrixXd cross = dz * dd.transpose() / (members - 1);
    const Draws noise(options.seed, 0x5301u + static_cast<std::uint32_t>(pass));
    Eigen::MatrixXd innovation(data, members);
    for (int i = 0; i < members; ++i) {
      for (Eigen::Index k = 0; k < data; ++k) {
        const double sd = std::sqrt(variance[k]);
        const double miss = std::clamp(predicted(k, i), soft.low[k], soft.high[k]) - predicted(k, i);
        innovation(k, i) = std::clamp(miss, -4 * sd, 4 * sd) +  // a gross misread pulls only so far
                           std::sqrt(passes) * sd * noise.normal(static_cast<std::uint32_t>(i), static_cast<std::uint32_t>(k));
      }
    }
    z += cross * total.llt().solve(innovation);
  }
  return z;
}

// Fitted to the weights, or, where too few draws carry them, to a power of the weights small enough that enough do
// (Koblents & Miguez 2015).
Proposal fit_enough(const Eigen::MatrixXd& z, const std::vector<double>& weight, int draws) {
  const double needed = std::min(12.0 * static_cast<double>(z.rows()), 0.15 * static_cast<double>(z.cols()));
  const double effective = effective_size(weight);
  if (effective >= needed) return fit(z, weight, effective, draws);
  double low = 0, high = 1;
  for (int i = 0; i < 30; ++i) {
    const double power = (low + high) / 2;
    (effective_size(flattened(weight, power)) < needed ? high : low) = power;
  }
  const std::vector<double> fitting = flattened(weight, low);
  return fit(z, fitting, effective_size(fitting), draws);
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

namespace {

// Both are draws of the same posterior: each counts by what it is worth.
void add_draws(WeightedDraws& result, const WeightedDraws& more) {
  const double share = result.effective / (result.effective + more.effective);
  const Eigen::Index before = result.z.cols();
  result.z.conservativeResize(Eigen::NoChange, before + more.z.cols());
  result.z.rightCols(more.z.cols()) = more.z;
  for (double& w : result.weight) w *= share;
  for (double w : more.weight) result.weight.push_back(w * (1 - share));
  result.log_likelihood.insert(result.log_likelihood.end(), more.log_likelihood.begin(), more.log_likelihood.end());
  result.effective = effective_size(result.weight);
}

}  // namespace

WeightedDraws sample_posterior(int dimensions, const LogLikelihood& log_likelihood, const SoftData& soft,
                               const SamplerOptions& options, const WeightedDraws* start) {
  WeightedDraws result;
  std::vector<Proposal> proposals;
  Proposal next;
  next.draws = options.round;
  const double old_worth = start != nullptr && start->effective >= kStartWorth ? start->effective : 0;
  if (start != nullptr) {
    next = fit_enough(start->z, start->weight, options.round);
  } else if (soft.sd.size() > 0) {
    const Eigen::MatrixXd ensemble = smooth(dimensions, soft, options);
    const std::vector<double> even(static_cast<std::size_t>(ensemble.cols()), 1.0);
    next = fit(ensemble, even, static_cast<double>(ensemble.cols()), options.round);
  }
  Eigen::MatrixXd z(dimensions, 0);
  std::vector<double> log_prior, log_like, log_mixture;  // log_mixture: ln sum of draws_r * density_r
  std::vector<double> weight;
  double top = 0;  // ln of the largest weight before scaling
  double log_evidence_before = -INFINITY;
  const bool only_prior = soft.sd.size() == 0;

  for (int round = 0; round < options.most_rounds; ++round) {
    const int before = static_cast<int>(z.cols()), after = before + next.draws;
    z.conservativeResize(Eigen::NoChange, after);
    for (auto* v : {&log_prior, &log_like, &log_mixture}) v->resize(static_cast<std::size_t>(after));
    proposals.push_back(next);
    const Draws random(options.seed, static_cast<std::uint32_t>(round));
    parallel_for((next.draws + kChunk - 1) / kChunk, [&](int chunk) {
      const int first = before + chunk * kChunk, count = std::min(kChunk, after - first);
      for (int i = first; i < first + count; ++i) {
        z.col(i) = draw(next, random, static_cast<std::uint32_t>(i - before), dimensions);
      }
      const Eigen::MatrixXd mine = z.middleCols(first, count);
      const Eigen::ArrayXd prior = prior_log_density(mine);
      Eigen::ArrayXd mixture = Eigen::ArrayXd::Constant(count, -1e300);
      for (const Proposal& p : proposals) add_logs(mixture, std::log(p.draws) + log_density(p, mine, prior));
      Eigen::Map<Eigen::ArrayXd>(&log_prior[static_cast<std::size_t>(first)], count) = prior;
      Eigen::Map<Eigen::ArrayXd>(&log_mixture[static_cast<std::size_t>(first)], count) = mixture;
      log_likelihood(z, first, count, &log_like[static_cast<std::size_t>(first)]);
    });
    parallel_for((before + kChunk - 1) / kChunk, [&](int chunk) {
      const int first = chunk * kChunk, count = std::min(kChunk, before - first);
      const Eigen::Map<const Eigen::ArrayXd> prior(&log_prior[static_cast<std::size_t>(first)], count);
      Eigen::Map<Eigen::ArrayXd> mixture(&log_mixture[static_cast<std::size_t>(first)], count);
      add_logs(mixture, std::log(next.draws) + log_density(next, z.middleCols(first, count), prior));
    });
    result.rounds = round + 1;

    weight.resize(log_prior.size());
    top = -INFINITY;
    for (std::size_t i = 0; i < weight.size(); ++i) {
      weight[i] = log_prior[i] + log_like[i] - log_mixture[i];
      top = std::max(top, weight[i]);
    }
    for (double& w : weight) w = std::exp(w - top);
    const double effective = effective_size(weight);
    // While the evidence still grows, the draws are still finding the posterior: a second peak, a long tail.
    const double log_evidence = top + std::log(std::accumulate(weight.begin(), weight.end(), 0.0));
    const bool settled = log_evidence - log_evidence_before < kEvidenceSettled;
    log_evidence_before = log_evidence;
    if (effective + old_worth >= options.effective_wanted && (settled || only_prior)) break;

    next = fit_enough(z, weight, options.round);
  }

  result.z = std::move(z);
  result.effective = effective_size(weight);
  const double total = std::accumulate(weight.begin(), weight.end(), 0.0);
  result.log_evidence = top + std::log(total);  // log_mixture already carries the number of draws
  for (double& w : weight) w /= total;
  result.weight = std::move(weight);
  result.log_likelihood = std::move(log_like);
  if (old_worth > 0) add_draws(result, *start);
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
  // Of the light draws those of the lowest u / w are kept (sequential Poisson sampling, Ohlsson 1998): a weight that
  // moves in its last digits moves only a draw at the very edge. Systematic sampling, whose sum runs on, would exchange
  // draws all over.
  const Draws random(seed, 0x7415);
  WeightedDraws out;
  std::vector<int> chosen;
  std::vector<std::pair<double, int>> light;
  for (int i = 0; i < n; ++i) {
    const double w = draws.weight[static_cast<std::size_t>(i)];
    if (w <= 0) continue;
    if (w >= c) {  // c = 0: fewer than `members` draws carry all the weight
      chosen.push_back(i);
    } else {
      light.emplace_back(random.uniform(static_cast<std::uint32_t>(i), 0) / w, i);
    }
  }
  const auto wanted = std::min(light.size(), static_cast<std::size_t>(members - kept));
  std::nth_element(light.begin(), light.begin() + static_cast<std::ptrdiff_t>(wanted), light.end());
  for (std::size_t k = 0; k < wanted; ++k) chosen.push_back(light[k].second);
  std::sort(chosen.begin(), chosen.end());
  for (int i : chosen) out.weight.push_back(std::max(draws.weight[static_cast<std::size_t>(i)], c));
  for (int i : chosen) {
    if (!draws.log_likelihood.empty()) out.log_likelihood.push_back(draws.log_likelihood[static_cast<std::size_t>(i)]);
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
