// SPDX-License-Identifier: Apache-2.0
// A few loops through the judge. What is asserted must hold of any outlook worth its name; how good it is, is measured by
// `judge` and not asserted.
#include <gtest/gtest.h>

#include <cmath>

#include "outlook_scores.hpp"

namespace helmwater::tests {
namespace {

TEST(OutlookScores, ReadingsMakeTheForecastOfAmmoniaBetter) {
  double ln_with = 0, ln_without = 0;
  for (int index = 0; index < 8; ++index) {
    const SecondLoop made = simulate_second(20260407, index, 6 + 1.5 * index, 40);
    const OutlookScores with = score_outlook(made, true, 40), without = score_outlook(made, false, 40);
    for (std::size_t q = 0; q < kScored; ++q) {
      SCOPED_TRACE(testing::Message() << index << ' ' << kScoredNames[q]);
      for (const OutlookScores* s : {&with, &without}) {
        EXPECT_EQ(s->of[q].n[0] + s->of[q].n[1], 56);  // four a day
        EXPECT_TRUE(std::isfinite(s->of[q].loss));
        EXPECT_GE(s->of[q].loss, 0);
        EXPECT_LE(s->of[q].in50[0], s->of[q].in90[0]);
        EXPECT_LE(s->of[q].in50[1], s->of[q].in90[1]);
      }
    }
    ln_with += std::log(with.of[0].loss + kLossFloor);
    ln_without += std::log(without.of[0].loss + kLossFloor);
  }
  EXPECT_LT(ln_with, ln_without);
}

}  // namespace
}  // namespace helmwater::tests
