// SPDX-License-Identifier: Apache-2.0
// What an answer is worth to somebody who has to choose: preposterior analysis (Raiffa & Schlaifer 1961, Applied
// Statistical Decision Theory) over weighted members. A loss is members x actions, answers are members x answers with the
// probability of each answer in that member's world; rows of answers sum to 1, weights too.
#pragma once
#include <Eigen/Core>
#include <vector>

namespace helmwater::infer {

// Least expected loss of one choice for all, and which action that is (the first of equals).
struct Choice {
  double loss = 0;
  int action = 0;
};
Choice choice_without(const Eigen::VectorXd& weight, const Eigen::MatrixXd& loss);

// By how much the least expected loss falls if the answer is known before the choice. Never negative. The first `closed`
// actions have to be taken before the answer is there: they can only be chosen without it.
double gain_of_answer(const Eigen::VectorXd& weight, const Eigen::MatrixXd& answers, const Eigen::MatrixXd& loss, int closed = 0);

// The same if the answer were the member itself: no answer gains more.
double gain_of_knowing(const Eigen::VectorXd& weight, const Eigen::MatrixXd& loss, int closed = 0);

// The best action after each answer, among those still open.
std::vector<Choice> choice_after(const Eigen::VectorXd& weight, const Eigen::MatrixXd& answers, const Eigen::MatrixXd& loss,
                                 int closed = 0);

// Two answers of which neither changes the other's chance in any member's world; answer (i, j) is column i * of b + j.
Eigen::MatrixXd both(const Eigen::MatrixXd& a, const Eigen::MatrixXd& b);

// Answers less likely than `least` put together as one, the last: cheaper, and never worth more.
Eigen::MatrixXd with_rare_as_one(const Eigen::VectorXd& weight, const Eigen::MatrixXd& answers, double least);

}  // namespace helmwater::infer
