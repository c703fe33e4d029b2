// SPDX-License-Identifier: Apache-2.0
// Properties that hold for every water, on random ones. Source: the equations themselves (identities,
// monotony).
#include <gtest/gtest.h>
#include <rapidcheck.h>

#include <cmath>

#include "chem/ammonia.hpp"
#include "chem/carbonate.hpp"
#include "chem/oxygen.hpp"
#include "units/convert.hpp"

namespace helmwater::chem {
namespace {

using namespace helmwater::units;

double between(double low, double high) {
  return low + (high - low) * static_cast<double>(*rc::gen::inRange(0, 1'000'001)) / 1e6;
}
Conditions any_conditions() { return {Celsius{between(0, 40)}, IonicStrength{between(0, 0.1)}}; }
Dissolved any_dissolved() {
  return {AmmoniaN{between(0, 10)}, PhosphateP{between(0, 10)}, NitriteN{between(0, 10)},
          MmolPerL{between(0, 0.2)}};
}

#define HOLDS(...) EXPECT_TRUE(rc::check(__VA_ARGS__))

TEST(WaterProperty, every_pair_of_readings_gives_the_same_water) {
  HOLDS([] {
    const Equilibrium water(any_conditions(), any_dissolved());
    const CarbonateState s =
        water.from_ph_and_carbon(Ph{between(5, 9.5)}, MmolPerL{between(0.05, 10)}).value();
    const CarbonateResult others[] = {water.from_ph_and_alkalinity(s.ph, s.alkalinity),
                                      water.from_ph_and_pco2(s.ph, s.pco2),
                                      water.from_alkalinity_and_carbon(s.alkalinity, s.total_carbon),
                                      water.from_alkalinity_and_pco2(s.alkalinity, s.pco2),
                                      water.from_carbon_and_pco2(s.total_carbon, s.pco2)};
    for (const CarbonateResult& other : others) {
      RC_ASSERT(other.has_value());
      // Open to closed to carbon within 1e-6 pH and 1e-9 mol/L.
      RC_ASSERT(std::abs(other->ph.value() - s.ph.value()) < 1e-6);
      RC_ASSERT(std::abs(other->total_carbon.value() - s.total_carbon.value()) < 1e-6);
      RC_ASSERT(std::abs(other->alkalinity.value() - s.alkalinity.value()) < 1e-6);
      RC_ASSERT(std::abs(other->pco2.value() - s.pco2.value()) < 1e-5 * s.pco2.value());
    }
  });
}

TEST(WaterProperty, the_alkalinity_balance_closes) {
  HOLDS([] {
    const Equilibrium water(any_conditions(), any_dissolved());
    const auto closed =
        water.from_alkalinity_and_carbon(AlkalinityMeq{between(0, 8)}, MmolPerL{between(0, 10)});
    RC_PRE(closed.has_value());
    RC_ASSERT(std::abs(water.balance_residual(*closed).value()) < 1e-9);
    RC_ASSERT(std::abs(closed->co2.value() + closed->bicarbonate.value() + closed->carbonate.value() -
                       closed->total_carbon.value()) < 1e-12);
    const auto open = water.from_alkalinity_and_pco2(AlkalinityMeq{between(0, 8)}, GasPpm{between(1, 50000)});
    RC_PRE(open.has_value());
    RC_ASSERT(std::abs(water.balance_residual(*open).value()) < 1e-9);
  });
}

TEST(WaterProperty, ph_rises_with_alkalinity_closed_and_open) {
  HOLDS([] {
    const Equilibrium water(any_conditions(), any_dissolved());
    const AlkalinityMeq less{between(0, 8)};
    const AlkalinityMeq more{less.value() + between(0.001, 1)};
    const MmolPerL carbon{between(0.05, 10)};
    const GasPpm gas{between(100, 20000)};
    RC_ASSERT(water.from_alkalinity_and_carbon(more, carbon)->ph >
              water.from_alkalinity_and_carbon(less, carbon)->ph);
    RC_ASSERT(water.from_alkalinity_and_pco2(more, gas)->ph > water.from_alkalinity_and_pco2(less, gas)->ph);
  });
}

TEST(WaterProperty, ph_falls_with_carbon_dioxide) {
  HOLDS([] {
    const Equilibrium water(any_conditions(), any_dissolved());
    const AlkalinityMeq alkalinity{between(0.01, 8)};
    const double ppm = between(100, 20000);
    const auto before = water.from_alkalinity_and_pco2(alkalinity, GasPpm{ppm});
    const auto after = water.from_alkalinity_and_pco2(alkalinity, GasPpm{ppm * between(1.01, 3)});
    RC_ASSERT(after->ph < before->ph);
    RC_ASSERT(after->total_carbon > before->total_carbon);
  });
}

TEST(WaterProperty, free_ammonia_rises_with_ph_and_warmth_and_falls_with_salt) {
  HOLDS([] {
    const Ph ph{between(5, 10)};
    const Celsius t{between(0, 39)};
    const IonicStrength i{between(0, 0.09)};
    const double f = free_ammonia_fraction(ph, t, i);
    RC_ASSERT(f > 0 && f < 1);
    RC_ASSERT(free_ammonia_fraction(ph + PhChange{between(0.001, 1)}, t, i) > f);
    RC_ASSERT(free_ammonia_fraction(ph, t + CelsiusDifference{between(0.01, 1)}, i) > f);
    RC_ASSERT(free_ammonia_fraction(ph, t, i + IonicStrength{between(0.0001, 0.01)}) < f);
  });
}

TEST(WaterProperty, ammonia_in_the_balance_is_the_free_ammonia) {
  // One mole of free ammonia is one equivalent: the balance and ammonia.hpp must tell the same story.
  HOLDS([] {
    const Conditions c = any_conditions();
    const Ph ph{between(5, 10)};
    const double with = Equilibrium(c, {AmmoniaN{14.007}, PhosphateP{0}, NitriteN{0}, MmolPerL{0}})
                            .non_carbonate_alkalinity(ph)
                            .value();
    const double without = Equilibrium(c, {}).non_carbonate_alkalinity(ph).value();
    RC_ASSERT(std::abs(with - without - free_ammonia_fraction(ph, c.temperature, c.ionic_strength)) < 1e-12);
  });
}

TEST(WaterProperty, oxygen_falls_with_warmth_and_salt_and_rises_with_pressure) {
  HOLDS([] {
    const Celsius t{between(0, 39)};
    const Salinity s{between(0, 39)};
    const Atm p{between(0.5, 1.05)};
    const double o = oxygen_saturation(t, s, p).value();
    RC_ASSERT(o > 2 && o < 17);
    RC_ASSERT(oxygen_saturation(t + CelsiusDifference{0.1}, s, p).value() < o);
    RC_ASSERT(oxygen_saturation(t, s + Salinity{0.1}, p).value() < o);
    RC_ASSERT(oxygen_saturation(t, s, p + Atm{0.01}).value() > o);
  });
}

}  // namespace
}  // namespace helmwater::chem
