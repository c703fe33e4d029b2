// SPDX-License-Identifier: Apache-2.0
// How a reading of the log's own form would have been written had the kit shown something else.
#pragma once
#include <utility>
#include <vector>

#include "infer/observation.hpp"
#include "records/entry.hpp"

namespace helmwater::infer {

// Which chart step, which gap between steps, or an interval as wide as the one that was written.
class ReadingForm {
 public:
  ReadingForm(const Observation& real, const records::LoopLog& log);
  // Number of the interval that holds a shown value (model units). 0 is the real one.
  int place_of(double shown) const;
  // The reading as it would have been written.
  Observation at(int place) const;

 private:
  Observation real_;
  std::vector<double> edges_;                       // of chart forms, rising, model units
  std::vector<std::pair<double, double>> written_;  // low and high by cell between edges
  int real_cell_ = 0;
  double start_ = 0, width_ = 0;                    // of forms without a chart, on the scale of the noise
};

}  // namespace helmwater::infer
