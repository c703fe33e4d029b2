// SPDX-License-Identifier: Apache-2.0
#include "infer/value_of_answer.hpp"

#include <algorithm>

namespace helmwater::infer {
namespace {

// Expected loss of each action together with each answer: answers x actions.
Eigen::MatrixXd loss_with(const Eigen::VectorXd& weight, const Eigen::MatrixXd& answers, const Eigen::MatrixXd& loss) {
  return answers.transpose() * (weight.asDiagonal() * loss);
}

// Rounding may leave a hair below nothing.
double at_least_nothing(double gain) { return std::max(gain, 0.0); }

}  // namespace

Choice choice_without(const Eigen::VectorXd& weight, const Eigen::MatrixXd& loss) {
  const Eigen::RowVectorXd expected = weight.transpose() * loss;
  Choice best;
  best.loss = expected.minCoeff(&best.action);
  return best;
}

std::vector<Choice> choice_after(const Eigen::VectorXd& weight, const Eigen::MatrixXd& answers, const Eigen::MatrixXd& loss,
                                 int closed) {
  const Eigen::MatrixXd expected = loss_with(weight, answers, loss.rightCols(loss.cols() - closed));
  std::vector<Choice> best(static_cast<std::size_t>(answers.cols()));
  for (Eigen::Index o = 0; o < expected.rows(); ++o) {
    Choice& choice = best[static_cast<std::size_t>(o)];
    choice.loss = expected.row(o).minCoeff(&choice.action);
    choice.action += closed;
  }
  return best;
}

double gain_of_answer(const Eigen::VectorXd& weight, const Eigen::MatrixXd& answers, const Eigen::MatrixXd& loss, int closed) {
  double after = loss_with(weight, answers, loss.rightCols(loss.cols() - closed)).rowwise().minCoeff().sum();
  if (closed > 0) after = std::min(after, choice_without(weight, loss.leftCols(closed)).loss);
  return at_least_nothing(choice_without(weight, loss).loss - after);
}

double gain_of_knowing(const Eigen::VectorXd& weight, const Eigen::MatrixXd& loss, int closed) {
  double after = weight.dot(loss.rightCols(loss.cols() - closed).rowwise().minCoeff());
  if (closed > 0) after = std::min(after, choice_without(weight, loss.leftCols(closed)).loss);
  return at_least_nothing(choice_without(weight, loss).loss - after);
}

Eigen::MatrixXd both(const Eigen::MatrixXd& a, const Eigen::MatrixXd& b) {
  Eigen::MatrixXd joint(a.rows(), a.cols() * b.cols());
  for (Eigen::Index i = 0; i < a.cols(); ++i) {
    joint.middleCols(i * b.cols(), b.cols()) = b.array().colwise() * a.col(i).array();
  }
  return joint;
}

Eigen::MatrixXd with_rare_as_one(const Eigen::VectorXd& weight, const Eigen::MatrixXd& answers, double least) {
  const Eigen::RowVectorXd chance = weight.transpose() * answers;
  const auto kept = static_cast<Eigen::Index>(std::count_if(chance.begin(), chance.end(), [&](double p) { return p >= least; }));
  Eigen::MatrixXd fewer = Eigen::MatrixXd::Zero(answers.rows(), kept + (kept < answers.cols() ? 1 : 0));
  Eigen::Index next = 0;
  for (Eigen::Index o = 0; o < answers.cols(); ++o) {
    if (chance[o] >= least) {
      fewer.col(next++) = answers.col(o);
    } else {
      fewer.col(kept) += answers.col(o);
    }
  }
  return fewer;
}

}  // namespace helmwater::infer
