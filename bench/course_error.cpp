// SPDX-License-Identifier: Apache-2.0
#include "course_error.hpp"

#include <algorithm>
#include <cmath>

namespace helmwater::bench {

CourseError course_error(const Courses& reference, const Courses& found,
                         const std::vector<std::size_t>& which) {
  CourseError error;
  std::vector<double> worst;
  for (std::size_t m = 0; m < found.size(); ++m) {
    const std::vector<Pools>& truth = reference[which.empty() ? m : which[m]];
    Pools mine;
    bool lost = found[m].size() != truth.size();
    for (std::size_t k = 0; k < truth.size() && !lost; ++k) {
      const Pools& y = found[m][k];
      if (!std::isfinite(y.tan + y.no2 + y.no3)) lost = true;
      mine.tan = std::max(mine.tan, std::abs(y.tan - truth[k].tan));
      mine.no2 = std::max(mine.no2, std::abs(y.no2 - truth[k].no2));
      mine.no3 = std::max(mine.no3, std::abs(y.no3 - truth[k].no3));
    }
    if (lost) {
      ++error.lost;
      mine.tan = mine.no2 = mine.no3 = INFINITY;
    }
    error.largest.tan = std::max(error.largest.tan, mine.tan);
    error.largest.no2 = std::max(error.largest.no2, mine.no2);
    error.largest.no3 = std::max(error.largest.no3, mine.no3);
    worst.push_back(std::max({mine.tan, mine.no2, mine.no3}));
  }
  std::sort(worst.begin(), worst.end());
  error.max = worst.empty() ? INFINITY : worst.back();
  error.median = worst.empty() ? INFINITY : worst[worst.size() / 2];
  return error;
}

}  // namespace helmwater::bench
