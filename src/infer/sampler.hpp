// SPDX-License-Identifier: Apache-2.0
// Adaptive importance sampling of a posterior over standard normal numbers (docs/model/sampler.md): rounds of draws from
// a Gaussian fitted to the draws so far, weighted against the mixture of all proposals used (deterministic mixture,
// Cornuet, Marin, Mira, Robert 2012). While the draws do not yet cover the posterior, the fit is made to a tempered one.
#pragma once
#include <Eigen/Dense>
#include <cstdint>
#include <functional>
#include <vector>

namespace helmwater::infer {

struct SamplerOptions {
  std::uint64_t seed = 1;
  int first_round = 4096;       // draws from the prior
  int round = 2048;             // draws per further round
  double effective_wanted = 1100;
  int most_rounds = 60;
};

struct WeightedDraws {
  Eigen::MatrixXd z;            // dimensions x draws
  std::vector<double> weight;   // sums to 1
  double effective = 0;         // 1 / sum of squared weights
  double log_evidence = 0;      // ln of the mean likelihood under the prior
  int rounds = 0;
};

// Fills out[i] with the ln likelihood of column first + i, for `count` columns. Called from several threads.
using LogLikelihood = std::function<void(const Eigen::MatrixXd& z, int first, int count, double* out)>;

WeightedDraws sample_posterior(int dimensions, const LogLikelihood& log_likelihood, const SamplerOptions& options);

// Keeps at most `members` draws: those heavier than a threshold with their own weight, the rest thinned evenly to the
// threshold (Fearnhead & Clifford 2003). Quantiles stay unbiased and the effective size nearly whole.
WeightedDraws thin(const WeightedDraws& draws, int members, std::uint64_t seed);

double effective_size(const std::vector<double>& weight);  // of weights of any sum

}  // namespace helmwater::infer
