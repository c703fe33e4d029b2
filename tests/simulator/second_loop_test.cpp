// SPDX-License-Identifier: Apache-2.0
// The second simulator held to what must be so whatever its rates: conservation, convergence, repeatability, deeds after
// as_of that do not follow from readings.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "records/loop_folder.hpp"
#include "second_loop.hpp"

namespace helmwater::tests {
namespace {

constexpr std::uint64_t kSeed = 20260407;

TEST(SecondLoop, NitrogenIsKeptAndTheTruthIsFinite) {
  for (int index = 0; index < 24; ++index) {
    const SecondLoop made = simulate_second(kSeed, index, 12.5, 30);
    SCOPED_TRACE(index);
    EXPECT_LT(std::abs(made.nitrogen_balance_error), 1e-6);
    ASSERT_EQ(made.truth.size(), 121u);
    for (const Truth& t : made.truth) {
      for (double x : {t.ammonia, t.nitrite, t.nitrate}) {
        ASSERT_TRUE(std::isfinite(x)) << t.day;
        ASSERT_GT(x, -1e-6) << t.day;
        ASSERT_LT(x, 500) << t.day;
      }
      ASSERT_GT(t.ph, 3) << t.day;
      ASSERT_LT(t.ph, 10) << t.day;
    }
  }
}

// A finer step may flip a reading that lies on an edge, and with it a deed: such loops are not compared, and must be few.
TEST(SecondLoop, HalvingTheStepChangesNothing) {
  int same = 0;
  for (int index = 0; index < 8; ++index) {
    const SecondLoop coarse = simulate_second(kSeed, index, 12.5, 40), fine = simulate_second(kSeed, index, 12.5, 40, 2);
    if (coarse.log_csv != fine.log_csv) continue;
    ++same;
    for (std::size_t k = 0; k < coarse.truth.size(); ++k) {
      SCOPED_TRACE(testing::Message() << index << " day " << coarse.truth[k].day);
      EXPECT_NEAR(coarse.truth[k].ammonia, fine.truth[k].ammonia, 1e-3);
      EXPECT_NEAR(coarse.truth[k].nitrite, fine.truth[k].nitrite, 1e-3);
      EXPECT_NEAR(coarse.truth[k].nitrate, fine.truth[k].nitrate, 1e-3);
      EXPECT_NEAR(coarse.truth[k].ph, fine.truth[k].ph, 1e-3);
    }
  }
  EXPECT_GE(same, 7);
}

TEST(SecondLoop, LogsComeBackFromTheirFilesUnchanged) {
  for (int index = 0; index < 24; ++index) {
    const SecondLoop made = simulate_second(kSeed, index, 12.5, 30);
    SCOPED_TRACE(made.loop_toml + made.log_csv);
    const auto loop = records::parse_loop_toml(records::to_loop_toml(made.log.loop), "loop.toml");
    ASSERT_TRUE(loop) << loop.error().to_text();
    const auto log = records::parse_log_csv(*loop, records::to_log_csv(made.log), "log.csv");
    ASSERT_TRUE(log) << log.error().to_text();
    ASSERT_EQ(log->entries.size(), made.log.entries.size());
    for (std::size_t k = 0; k < log->entries.size(); ++k) {
      EXPECT_EQ(log->entries[k].when, made.log.entries[k].when);
      EXPECT_EQ(log->entries[k].value_text, made.log.entries[k].value_text);
      EXPECT_EQ(log->entries[k].body.index(), made.log.entries[k].body.index());
    }
  }
}

TEST(SecondLoop, TheSameNumbersMakeTheSameLoop) {
  const SecondLoop once = simulate_second(kSeed, 5, 9.5, 25), again = simulate_second(kSeed, 5, 9.5, 25);
  EXPECT_EQ(once.log_csv, again.log_csv);
  ASSERT_EQ(once.truth.size(), again.truth.size());
  for (std::size_t k = 0; k < once.truth.size(); ++k) EXPECT_EQ(once.truth[k].nitrite, again.truth[k].nitrite);
  EXPECT_NE(once.log_csv, simulate_second(kSeed + 1, 5, 9.5, 25).log_csv);
}

TEST(SecondLoop, AllStartTypesAndForgetfulOwnersOccur) {
  std::set<std::string> starts;
  int doses = 0, water = 0, feeds = 0, after = 0, cleared = 0;
  for (int index = 0; index < 80; ++index) {
    const SecondLoop made = simulate_second(kSeed, index, 5.5 + index % 16, 60);
    starts.insert(made.start_type);
    doses += made.forgot_a_dose;
    water += made.forgot_water;
    feeds += made.forgot_feed;
    cleared += made.nitrite_clear_day.has_value();
    after += std::any_of(made.log.entries.begin(), made.log.entries.end(), [&](const records::Entry& e) {
      return e.when > made.as_of && !std::holds_alternative<records::Reading>(e.body) && !std::holds_alternative<records::Note>(e.body);
    });
  }
  EXPECT_EQ(starts.size(), 4u);
  EXPECT_GT(doses, 3);
  EXPECT_GT(water, 3);
  EXPECT_GT(feeds, 1);
  EXPECT_GT(after, 70);
  EXPECT_GT(cleared, 40);
}

}  // namespace
}  // namespace helmwater::tests
