// SPDX-License-Identifier: Apache-2.0
// Whose limits an outlook with fish in uses. FAO Fisheries and Aquaculture Technical Paper 589, table 3.1: nitrite below 1 mg/L
// for warm-water fish, below 0.1 for cold-water fish. What nobody knows gets the lower (common practice, no source).
#include <gtest/gtest.h>

#include "infer/outlook.hpp"
#include "log_text.hpp"

namespace helmwater::infer {
namespace {

Outlook with_fish(const std::vector<std::string>& kinds) {
  std::string rows;
  for (std::size_t i = 0; i < kinds.size(); ++i) rows += "2026-03-0" + std::to_string(2 + i) + "T09:00,fish in,5,," + kinds[i] + ",\n";
  OutlookOptions options;
  options.members = 100;
  options.days = 3;
  options.next_test = false;
  return outlook_of(tests::log_from(rows), options);
}

TEST(risk_limits, are_those_of_the_kind_that_bears_least) {
  struct Case {
    std::vector<std::string> kinds;
    double nitrite;
    std::string whose;
  };
  for (const Case& c : std::vector<Case>{{{"Tilapia"}, 1, "Tilapia"},
                                         {{"blue tilapia"}, 1, "blue tilapia"},
                                         {{"koi"}, 1, "koi"},
                                         {{"jade perch"}, 1, "jade perch"},
                                         {{"trout"}, 0.1, "trout"},
                                         {{"largemouth bass"}, 0.1, "largemouth bass"},  // not in the handbook
                                         {{"carpet fish"}, 0.1, "carpet fish"},
                                         {{""}, 0.1, ""},
                                         {{"tilapia", "goldfish"}, 1, "goldfish"},
                                         {{"tilapia", "trout"}, 0.1, "trout"},
                                         {{"trout", "tilapia"}, 0.1, "trout"},
                                         {{"tilapia", ""}, 0.1, ""}}) {
    const Outlook out = with_fish(c.kinds);
    ASSERT_TRUE(out.fish);
    EXPECT_EQ(out.risk_nitrite.limit, c.nitrite) << c.kinds.front();
    EXPECT_EQ(out.risk_species, c.whose);
  }
}

}  // namespace
}  // namespace helmwater::infer
