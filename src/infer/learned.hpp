// SPDX-License-Identifier: Apache-2.0
// What a keeper's earlier start-ups say about the next one's unknowns, and how the priors take it up
// (docs/model/history.md).
#pragma once
#include <Eigen/Dense>
#include <string>
#include <vector>

#include "infer/observation.hpp"
#include "records/loop.hpp"

namespace helmwater::infer {

// A normal distribution of the unknowns as standard normal numbers of their priors: mean `shift`, `covariance`.
struct Learned {
  std::vector<std::string> names;  // as shared_name() gives them
  Eigen::VectorXd shift;
  Eigen::MatrixXd covariance;
  int loops = 0;                   // it was learnt from
  std::string key;                 // changes with anything it rests on: letters and digits
};

// The name under which an unknown of this loop may be pooled with those of other loops; empty: it is not. It holds what
// gives the number its meaning: the start type of a seed, the kit or the reader of a bias, what is stated of the source water.
std::string shared_name(const records::Loop& loop, const std::vector<KitSlot>& slots, const std::string& unknown,
                        const std::vector<PersonSlot>& people = {});

// One unknown of one loop, for showing.
struct LearnedUnknown {
  std::string name;
  double shift = 0, scale = 1;  // mean and sd, in sds of the plain prior from its middle
};

// The part of what was learnt that concerns one loop: turns independent standard normal numbers into the unknowns.
class LearnedPlaces {
 public:
  LearnedPlaces() = default;
  // `names`: all unknowns of the loop; those in `except` are left alone.
  LearnedPlaces(const Learned& learned, const records::Loop& loop, const std::vector<KitSlot>& slots,
                const std::vector<PersonSlot>& people, const std::vector<std::string>& names, const std::vector<std::string>& except);
  void apply(double* z) const;
  const std::vector<LearnedUnknown>& unknowns() const { return unknowns_; }

 private:
  std::vector<std::size_t> places_;
  Eigen::VectorXd shift_;
  Eigen::MatrixXd root_;  // lower Cholesky factor of the covariance
  std::vector<LearnedUnknown> unknowns_;
};

}  // namespace helmwater::infer
