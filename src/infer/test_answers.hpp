// SPDX-License-Identifier: Apache-2.0
// What a test not yet made may show: the cells of the owner's own chart, and how likely each is in a given water
// (docs/model/readings.md, O1 to O4).
#pragma once
#include <Eigen/Core>
#include <string>
#include <vector>

#include "infer/observation.hpp"
#include "infer/posterior.hpp"
#include "records/entry.hpp"

namespace helmwater::infer {

// The cells share out everything the kit can show, rising.
struct TestAnswers {
  records::Test test = records::Test::ammonia;
  std::vector<Observation> cells;
  std::vector<std::string> words;  // by cell: "1.5", "6 or more"
};

// Of ammonia, nitrite, nitrate, pH or alkalinity tested at `when`, with the kit used last, else the first that is valid.
// A kit without a chart, or none: narrow cells of our own and the noise of a plain number.
TestAnswers answers_of_test(const records::LoopLog& log, const Posterior& posterior, records::Test test, records::Instant when);

// Members x cells. `met`: what the test meets in each member's water, model units; `bias` of the kit.
Eigen::MatrixXd chances(const TestAnswers& answers, const std::vector<double>& met, const std::vector<double>& bias);

}  // namespace helmwater::infer
