// SPDX-License-Identifier: Apache-2.0
// Weighted quantiles of many members' numbers.
#pragma once
#include <array>
#include <cstddef>
#include <cstdint>
#include <utility>
#include <vector>

namespace helmwater::infer {

struct Quantiles {
  double p05 = 0, p25 = 0, p50 = 0, p75 = 0, p95 = 0;
};
// Of values with weights that sum to 1; a value may be +infinity.
Quantiles quantiles(const std::vector<double>& values, const std::vector<double>& weight);
// The smallest value at which the running weight reaches each of the shares, which rise.
std::vector<double> quantiles_at(const std::vector<double>& values, const std::vector<double>& weight,
                                 const std::vector<double>& shares);

// The five stated quantities at one moment, by Forecast::Quantity.
using SeriesQuantiles = std::array<Quantiles, 5>;

// A course needs some 1500 sorts of 4000 values: by digits of 11 bits it takes a fifth of the time of comparisons.
class QuantilesByDigits {
 public:
  Quantiles operator()(const float* values, const double* weight, std::size_t count);

 private:
  struct Keyed {
    std::uint32_t key, index;
  };
  std::vector<Keyed> order_, other_;  // keep their room
};

}  // namespace helmwater::infer
