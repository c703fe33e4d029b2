// SPDX-License-Identifier: Apache-2.0
// Partial pooling: loops of one keeper share a part of what makes each differ from the prior's middle, and how large that
// part is is weighed by the loops themselves (docs/model/history.md).
#pragma once
#include <Eigen/Dense>
#include <string>
#include <vector>

#include "infer/learned.hpp"

namespace helmwater::infer {

// The posterior of one loop over the unknowns that may be pooled, as standard normal numbers of their plain priors.
struct LoopSummary {
  std::vector<std::string> names;  // as shared_name() gives them
  Eigen::VectorXd mean;
  Eigen::MatrixXd covariance;
  double effective = 0;            // draws behind it
};

// The largest share of the variance that the loops of one keeper have in common, by kind of unknown, and the probability
// that those of a kind have nothing in common; else half of the share or all of it, as likely as each other.
struct Shares {
  double rates = 0, water = 0, kits = 0;
  double nothing_in_common = 0;
};
Shares shares_of_handbook();

// No combination of unknowns is believed narrower than this part of the plain prior's sd, however many loops say so.
inline constexpr double kNarrowest = 0.5;

struct SharesKnown {
  double rates = 0, water = 0, kits = 0;
};
struct NextLoop {
  std::vector<std::string> names;
  Eigen::VectorXd mean;
  Eigen::MatrixXd covariance;
  double log_evidence = 0;  // of what the earlier loops said, up to a constant
};
// With the shares known.
NextLoop next_loop(const std::vector<LoopSummary>& loops, const SharesKnown& shares);

// The next loop, given the earlier ones, the shares being weighed by them. The key is left empty.
Learned pool(const std::vector<LoopSummary>& loops, const Shares& shares);

}  // namespace helmwater::infer
