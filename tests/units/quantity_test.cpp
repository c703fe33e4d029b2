// SPDX-License-Identifier: Apache-2.0
// What must not compile, stated as facts, and the little arithmetic that does.
#include "units/quantity.hpp"

#include <gtest/gtest.h>

namespace helmwater::units {
namespace {

template <class A, class B>
concept Addable = requires(A a, B b) {
  a + b;
};
template <class A, class B>
concept Subtractable = requires(A a, B b) {
  a - b;
};
template <class A, class B>
concept Comparable = requires(A a, B b) {
  a < b;
};
template <class A, class B>
concept Multipliable = requires(A a, B b) {
  a* b;
};

static_assert(Addable<AmmoniaN, AmmoniaN>);
static_assert(!Addable<AmmoniaN, AmmoniaNH3>, "two bases of one substance");
static_assert(!Addable<AmmoniaN, NitriteN>, "two substances of one basis");
static_assert(!Addable<AmmoniaN, FreeAmmoniaN>, "a part and its whole");
static_assert(!Addable<NitriteN, NitriteIon>);
static_assert(!Addable<NitrateN, NitrateIon>);
static_assert(!Addable<PhosphateP, PhosphateIon>);
static_assert(!Addable<AlkalinityMeq, AlkalinityCaCO3>);
static_assert(!Addable<AlkalinityDkh, AlkalinityCaCO3>);
static_assert(!Addable<AmmoniaN, double>, "a bare number has no unit");
static_assert(!Addable<Litres, Millilitres>);
static_assert(!Addable<Atm, GasPpm>);
static_assert(!Comparable<AmmoniaN, AmmoniaNH3>);
static_assert(!Comparable<AlkalinityMeq, AlkalinityDkh>);

static_assert(!Addable<Celsius, Celsius>, "two temperatures have no sum");
static_assert(Addable<Celsius, CelsiusDifference>);
static_assert(Subtractable<Celsius, Celsius>);
static_assert(!Multipliable<Celsius, double>);
static_assert(!Addable<Ph, Ph>);
static_assert(Addable<Ph, PhChange>);
static_assert(!Addable<Ph, CelsiusDifference>);

static_assert(Multipliable<AmmoniaN, Litres>);
static_assert(!Multipliable<AmmoniaN, AmmoniaN>);
static_assert(!Multipliable<AlkalinityMeq, Litres>, "meq/L times L is not a mass");

static_assert(!std::is_convertible_v<double, AmmoniaN>,
              "a number becomes a quantity only where its unit is named");
static_assert(!std::is_convertible_v<AmmoniaN, double>);

TEST(Quantity, mg_per_litre_times_litres_is_grams) {
  EXPECT_DOUBLE_EQ((AmmoniaN{2.0} * Litres{1000.0}).value(), 2.0);
}

TEST(Quantity, temperatures_differ_by_a_difference) {
  const CelsiusDifference d = Celsius{25.0} - Celsius{20.0};
  EXPECT_DOUBLE_EQ(d.value(), 5.0);
  EXPECT_DOUBLE_EQ((Celsius{10.0} + d).value(), 15.0);
}

TEST(Quantity, a_ratio_has_no_unit) { EXPECT_DOUBLE_EQ(NitriteN{3.0} / NitriteN{1.5}, 2.0); }

}  // namespace
}  // namespace helmwater::units
