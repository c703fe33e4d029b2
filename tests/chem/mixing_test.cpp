// SPDX-License-Identifier: Apache-2.0
#include "chem/mixing.hpp"

#include <gtest/gtest.h>

#include "reference/reference_table.hpp"

namespace helmwater::chem {
namespace {

using units::Hours;
using units::Litres;
using units::LitresPerHour;

TEST(Mixing, time_until_a_sample_speaks_for_both_tanks) {
  for (const reference::Row& row : reference::reference_table("mixing_two_tanks")) {
    SCOPED_TRACE(row.origin());
    const TwoTanks tanks{Litres{row.number("dosed_l")}, Litres{row.number("other_l")},
                         LitresPerHour{row.number("flow_l_h")}};
    const double error = row.number("relative_error");
    EXPECT_NEAR(mixing_rate(tanks).value(), row.number("lambda_per_h"), 1e-3);
    const Hours dosed = time_to_sample_dosed(tanks, error);
    const Hours other = time_to_sample_other(tanks, error);
    EXPECT_NEAR(dosed.value(), row.number("hours_dosed"), 1e-5 * row.number("hours_dosed") + 1e-9);
    EXPECT_NEAR(other.value(), row.number("hours_other"), 1e-5 * row.number("hours_other") + 1e-9);
    EXPECT_NEAR(turnovers(tanks, dosed), row.number("turnovers_dosed"), 1e-4);
    EXPECT_NEAR(turnovers(tanks, other), row.number("turnovers_other"), 1e-4);
    // At that time the error is what was asked for.
    EXPECT_NEAR(relative_in_dosed(tanks, dosed), 1 + error, 1e-9);
    EXPECT_NEAR(relative_in_other(tanks, other), 1 - error, 1e-9);
  }
}

TEST(Mixing, keeps_the_mass_of_the_dose) {
  // Identity: V1 C1 + V2 C2 is constant.
  const TwoTanks tanks{Litres{700}, Litres{220}, LitresPerHour{900}};
  for (double t : {0.0, 0.1, 0.7, 5.0})
    EXPECT_NEAR(700 * relative_in_dosed(tanks, Hours{t}) + 220 * relative_in_other(tanks, Hours{t}), 920,
                1e-9);
}

TEST(Mixing, a_small_second_tank_needs_no_waiting) {
  // 10 L beside 1000 L can move the first tank by 1 % at most.
  EXPECT_EQ(time_to_sample_dosed({Litres{1000}, Litres{10}, LitresPerHour{100}}, 0.05).value(), 0.0);
}

TEST(Flushing, processes_the_printed_fractions) {
  for (const reference::Row& row : reference::reference_table("mixing_single_tank")) {
    SCOPED_TRACE(row.origin());
    EXPECT_NEAR(processed_fraction(row.number("turnovers")), row.number("processed"), 1e-6);
  }
  EXPECT_NEAR(turnovers_to_process(0.999), 6.90776, 1e-5);  // technical note on turnover, as in the table
}

}  // namespace
}  // namespace helmwater::chem
