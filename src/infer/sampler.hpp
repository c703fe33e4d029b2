// SPDX-License-Identifier: Apache-2.0
// Adaptive importance sampling of a posterior over standard normal numbers (docs/model/sampler.md): rounds of draws from
// a Gaussian fitted to the draws so far, weighted against the mixture of all proposals used (deterministic mixture,
// Cornuet, Marin, Mira, Robert 2012). While few draws carry the weight, the fit is made to flattened weights.
#pragma once
#include <Eigen/Dense>
#include <cstdint>
#include <functional>
#include <vector>

namespace helmwater::infer {

inline constexpr double kStartWorth = 100;

struct SamplerOptions {
  std::uint64_t seed = 1;
  int smoother_members = 512;   // of the start
  int smoother_passes = 4;
  int round = 2048;             // draws per round
  double effective_wanted = 1100;
  int most_rounds = 80;
};

struct WeightedDraws {
  Eigen::MatrixXd z;            // dimensions x draws
  std::vector<double> weight;   // sums to 1
  std::vector<double> log_likelihood;
  double effective = 0;         // 1 / sum of squared weights
  double log_evidence = 0;      // ln of the mean likelihood under the prior
  int rounds = 0;
};

// Fills out[i] with the ln likelihood of column first + i, for `count` columns. Called from several threads.
using LogLikelihood = std::function<void(const Eigen::MatrixXd& z, int first, int count, double* out)>;

// The data as a smoother takes them: each lies in [low, high] (ends may be infinite) with normal noise of sd.
struct SoftData {
  Eigen::VectorXd low, high, sd;
  // Fills column i of `predicted` (data x count) with what draw first + i predicts.
  std::function<void(const Eigen::MatrixXd& z, int first, int count, Eigen::MatrixXd& predicted)> predict;
};

// Starts from an ensemble smoother with multiple data assimilation (Emerick & Reynolds 2013) on the soft data; what it
// gets wrong the weights put right. Without data the draws are the prior's.
// `start`: draws of this very posterior with their weights (yesterday's, reweighted). The first proposal is fitted to them
// instead of the smoother's ensemble, and if they are worth at least kStartWorth draws they become part of the result.
WeightedDraws sample_posterior(int dimensions, const LogLikelihood& log_likelihood, const SoftData& soft,
                               const SamplerOptions& options,
                               const WeightedDraws* start = nullptr);

// Keeps at most `members` draws: those heavier than a threshold with their own weight, the rest thinned evenly to the
// threshold (Fearnhead & Clifford 2003). Quantiles stay unbiased and the effective size nearly whole.
WeightedDraws thin(const WeightedDraws& draws, int members, std::uint64_t seed);

double effective_size(const std::vector<double>& weight);  // of weights of any sum

}  // namespace helmwater::infer
