// SPDX-License-Identifier: Apache-2.0
// What-ifs against hand calculation, and against what the same deeds give when they stand in the log.
#include "steer/what_if.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "records/loop_folder.hpp"

namespace helmwater {
namespace {

using infer::Forecast;

const records::LoopLog& demo() {
  static const records::LoopLog log = records::read_loop_folder(HELMWATER_SOURCE "/data/demo/north-bench").value();
  return log;
}

infer::OutlookOptions usual() {
  infer::OutlookOptions options;
  options.members = 1000;
  options.days = 30;
  return options;
}

const infer::Posterior& posterior() {
  static const infer::Posterior p = infer::posterior_for(demo(), usual());
  return p;
}

// The median of a quantity at the first moment of the series not before `at`.
double median_at(const infer::Outlook& o, records::Instant at, Forecast::Quantity quantity) {
  for (const auto& m : o.series) {
    if (m.when >= at) return m.of[quantity].p50;
  }
  ADD_FAILURE() << "no such moment";
  return 0;
}

TEST(WhatIf, NothingAskedIsTheLoopsOwnOutlook) {
  const auto own = infer::outlook_from(demo(), posterior(), usual());
  const auto asked = steer::what_if(demo(), posterior(), {}, usual());
  ASSERT_EQ(own.series.size(), asked.outlook.series.size());
  for (std::size_t i = 0; i < own.series.size(); ++i) {
    EXPECT_EQ(own.series[i].of[Forecast::kNitrite].p50, asked.outlook.series[i].of[Forecast::kNitrite].p50) << i;
  }
  EXPECT_EQ(own.ready_for_fish.p50, asked.outlook.ready_for_fish.p50);
  EXPECT_FALSE(asked.amounts.ammonium_chloride);
  EXPECT_TRUE(asked.cautions.empty());
}

TEST(WhatIf, AmountsByHand) {
  // 2 mg/L as NH3 in 500 L: 1.000 g NH3 / 17.031 g/mol x 53.489 g/mol (molar masses: IUPAC standard atomic weights).
  // 40 mg/L CaCO3 in 500 L: 20 g / 100.087 g/mol x 2 eq x 100.114 g/mol of KHCO3.
  steer::WhatIf wish;
  wish.dose_ammonia = units::AmmoniaNH3{2};
  wish.buffer = units::AlkalinityCaCO3{40};
  const auto answer = steer::what_if(demo(), posterior(), wish, usual());
  EXPECT_NEAR(answer.amounts.ammonium_chloride->value(), 3.1407, 0.002);
  EXPECT_NEAR(answer.amounts.potassium_bicarbonate->value(), 40.01, 0.02);
}

TEST(WhatIf, ADoseActsWhenItIsGivenAndNotBefore) {
  steer::WhatIf nothing, wish;
  nothing.plan = wish.plan = false;
  wish.dose_ammonia = units::AmmoniaNH3{2};
  wish.dose_in_days = 3;
  const auto without = steer::what_if(demo(), posterior(), nothing, usual()).outlook;
  const auto with = steer::what_if(demo(), posterior(), wish, usual()).outlook;
  const auto as_of = posterior().as_of;
  EXPECT_EQ(with.ammonia.p50, without.ammonia.p50);  // now is now
  const auto before = records::plus_days(as_of, 2.5), after = records::plus_days(as_of, 3.001);
  EXPECT_EQ(median_at(with, before, Forecast::kAmmonia), median_at(without, before, Forecast::kAmmonia));
  // Within six hours a part is used up, and the water's true volume is not known to a tenth.
  const double rise = median_at(with, after, Forecast::kAmmonia) - median_at(without, after, Forecast::kAmmonia);
  EXPECT_GT(rise, 0.8);
  EXPECT_LT(rise, 2.3);
}

TEST(WhatIf, ADoseEqualsTheSameDoseInTheLog) {
  // The same deed written into the log after as_of must give the same course: outlook's own rule for interventions.
  steer::WhatIf wish;
  wish.plan = false;
  wish.dose_ammonia = units::AmmoniaNH3{2};
  wish.dose_in_days = 1;
  const auto asked = steer::what_if(demo(), posterior(), wish, usual());
  const auto when = records::plus_days(posterior().as_of, 1);
  std::string text = records::to_log_csv(demo());
  std::string row = records::to_utc_text(when) + ",dose," + std::to_string(asked.amounts.ammonium_chloride->value()) + ",g,ammonium chloride";
  for (std::size_t i = 5; i < demo().columns.size(); ++i) row += ",";
  const auto written = records::parse_log_csv(demo().loop, text + row + "\n", "log.csv");
  ASSERT_TRUE(written) << written.error().to_text();
  auto options = usual();
  options.as_of = posterior().as_of;
  options.with_plan = false;
  const auto logged = infer::outlook_of(*written, options);
  const auto later = records::plus_days(when, 2);
  EXPECT_NEAR(median_at(asked.outlook, later, Forecast::kNitrite), median_at(logged, later, Forecast::kNitrite),
              1e-3 * median_at(logged, later, Forecast::kNitrite));
}

TEST(WhatIf, BufferRaisesAlkalinityByItsAmount) {
  steer::WhatIf nothing, wish;
  nothing.plan = wish.plan = false;
  wish.buffer = units::AlkalinityCaCO3{50};
  const auto without = steer::what_if(demo(), posterior(), nothing, usual()).outlook;
  const auto with = steer::what_if(demo(), posterior(), wish, usual()).outlook;
  const auto after = records::plus_days(posterior().as_of, 0.01);
  const double rise = median_at(with, after, Forecast::kAlkalinity) - median_at(without, after, Forecast::kAlkalinity);
  EXPECT_NEAR(rise, 50, 5);  // the volume is known to 5 L in 500, and medians are of different members
}

TEST(WhatIf, ColderWaterIsSlower) {
  steer::WhatIf warm, cold;
  warm.temperature = units::Celsius{28};
  cold.temperature = units::Celsius{14};
  const auto w = steer::what_if(demo(), posterior(), warm, usual()).outlook;
  const auto c = steer::what_if(demo(), posterior(), cold, usual()).outlook;
  EXPECT_GT(w.ready_for_fish.probability_within_days, c.ready_for_fish.probability_within_days);
  EXPECT_EQ(w.ammonia.p50, c.ammonia.p50);
  EXPECT_EQ(w.series.front().of[Forecast::kAmmonia].p50, c.series.front().of[Forecast::kAmmonia].p50);
}

TEST(WhatIf, WaitingHoldsThePlansDosesBack) {
  steer::WhatIf at_once, wait, never;
  wait.wait_days = 10;
  never.plan = false;
  const auto until = records::plus_days(posterior().as_of, 9);
  const auto now = steer::what_if(demo(), posterior(), at_once, usual()).outlook;
  const auto later = steer::what_if(demo(), posterior(), wait, usual()).outlook;
  const auto none = steer::what_if(demo(), posterior(), never, usual()).outlook;
  EXPECT_EQ(median_at(later, until, Forecast::kAmmonia), median_at(none, until, Forecast::kAmmonia));
  EXPECT_EQ(median_at(later, until, Forecast::kNitrate), median_at(none, until, Forecast::kNitrate));
  EXPECT_GT(median_at(now, records::plus_days(posterior().as_of, 25), Forecast::kNitrate),
            median_at(none, records::plus_days(posterior().as_of, 25), Forecast::kNitrate));
}

TEST(WhatIf, FishKeepBeingFedWhileADoseIsAwaited) {
  const auto loop = records::parse_loop_toml("name = \"Fish\"\nvolume_l = 500\nstarted = 2026-03-01T08:00:00Z\nstart = \"fish\"\n", "loop.toml");
  ASSERT_TRUE(loop);
  std::string rows = "when,what,value,unit,detail\n";
  for (int day = 1; day <= 8; ++day) rows += "2026-03-0" + std::to_string(day) + "T12:00Z,feed,20,g,\n";
  const auto log = records::parse_log_csv(*loop, rows, "log.csv");
  ASSERT_TRUE(log) << log.error().to_text();
  const auto p = infer::posterior_for(*log, usual());
  steer::WhatIf wish;
  wish.buffer = units::AlkalinityCaCO3{40};
  wish.buffer_in_days = 20;
  const auto with = steer::what_if(*log, p, wish, usual()).outlook;
  const auto without = steer::what_if(*log, p, {}, usual()).outlook;
  const auto at = records::plus_days(p.as_of, 19);
  EXPECT_EQ(median_at(with, at, Forecast::kNitrate), median_at(without, at, Forecast::kNitrate));
  ASSERT_TRUE(with.plan.feed_g_per_day);
  EXPECT_NEAR(*with.plan.feed_g_per_day, 20, 1e-9);
}

TEST(WhatIf, AmmoniaForFishIsWarnedOfFirst) {
  const auto loop = records::parse_loop_toml("name = \"Fish\"\nvolume_l = 500\nstarted = 2026-03-01T08:00:00Z\nstart = \"fish\"\n", "loop.toml");
  const auto log = records::parse_log_csv(*loop, "when,what,value,unit,detail\n2026-03-02T12:00Z,feed,20,g,\n", "log.csv");
  const auto p = infer::posterior_for(*log, usual());
  steer::WhatIf wish;
  wish.dose_ammonia = units::AmmoniaNH3{1};
  const auto answer = steer::what_if(*log, p, wish, usual());
  ASSERT_FALSE(answer.cautions.empty());
  EXPECT_NE(answer.cautions.front().find("fish"), std::string::npos);
}

TEST(Expect, TheFirstDoseIsGivenOnDayZeroWithoutFish) {
  steer::Beginning beginning;
  beginning.volume = units::Litres{500};
  beginning.day_0 = records::parse_instant("2026-03-01", "UTC")->when;
  const auto log = steer::log_of(beginning);
  ASSERT_EQ(log.entries.size(), 1u);
  EXPECT_NEAR(std::get<records::Dose>(log.entries[0].body).amount, 3.1407, 0.002);  // 2 mg/L as NH3, as above
  beginning.start = records::Start::fish;
  EXPECT_TRUE(steer::log_of(beginning).entries.empty());
}

TEST(Expect, WarmerIsSoonerAndNothingWasRead) {
  steer::Beginning beginning;
  beginning.volume = units::Litres{500};
  beginning.day_0 = records::parse_instant("2026-03-01", "UTC")->when;
  beginning.alkalinity = units::AlkalinityCaCO3{200};
  beginning.temperature = units::Celsius{26};
  const auto warm = steer::expect(beginning, usual());
  beginning.temperature = units::Celsius{15};
  const auto cold = steer::expect(beginning, usual());
  EXPECT_EQ(warm.readings_used, 0);
  EXPECT_EQ(warm.as_of, beginning.day_0);
  EXPECT_GT(warm.ammonia_first_clear.probability_within_days, cold.ammonia_first_clear.probability_within_days);
}

}  // namespace
}  // namespace helmwater
