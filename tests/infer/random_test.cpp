// SPDX-License-Identifier: Apache-2.0
// The counter-based random numbers against the published vectors of their generator, and the moments of what
// is made of them.
#include "infer/random.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <vector>

namespace helmwater::infer {
namespace {

using Words = std::array<std::uint32_t, 4>;

// Source: Random123 library, file kat_vectors, lines "philox4x32 10" (D. E. Shaw Research; Salmon et al.
// 2011). Written down from memory.
TEST(philox, gives_the_known_answers) {
  EXPECT_EQ(philox4x32({0, 0, 0, 0}, {0, 0}), (Words{0x6627e8d5, 0xe169c58d, 0xbc57ac4c, 0x9b00dbd8}));
  EXPECT_EQ(philox4x32({0xffffffff, 0xffffffff, 0xffffffff, 0xffffffff}, {0xffffffff, 0xffffffff}),
            (Words{0x408f276d, 0x41c83b0e, 0xa20bc7c6, 0x6d5451fd}));
  EXPECT_EQ(philox4x32({0x243f6a88, 0x85a308d3, 0x13198a2e, 0x03707344}, {0xa4093822, 0x299f31d0}),
            (Words{0xd16cfe09, 0x94fdcceb, 0x5001e420, 0x24126ea1}));
}

constexpr int kMany = 200000;

// Moments of the uniform and the normal distribution (any textbook); limits are 4.5 standard errors.
TEST(draws, uniform_numbers_have_the_moments_of_a_uniform) {
  const Draws random(3, 17);
  double sum = 0, squares = 0, lowest = 1, highest = 0;
  for (std::uint32_t i = 0; i < kMany; ++i) {
    const double u = random.uniform(i, 5);
    sum += u;
    squares += u * u;
    lowest = std::min(lowest, u);
    highest = std::max(highest, u);
  }
  const double error = 4.5 / std::sqrt(kMany);
  EXPECT_NEAR(sum / kMany, 1.0 / 2, error * std::sqrt(1.0 / 12));
  EXPECT_NEAR(squares / kMany, 1.0 / 3, error * std::sqrt(4.0 / 45));
  EXPECT_GT(lowest, 0);
  EXPECT_LT(highest, 1);
}

TEST(draws, normal_numbers_have_the_moments_of_a_normal) {
  const Draws random(3, 17);
  double m1 = 0, m2 = 0, m3 = 0, m4 = 0;
  int beyond_two = 0;
  for (std::uint32_t i = 0; i < kMany; ++i) {
    const double z = random.normal(i, 0);
    m1 += z;
    m2 += z * z;
    m3 += z * z * z;
    m4 += z * z * z * z;
    beyond_two += std::abs(z) > 2;
  }
  const double error = 4.5 / std::sqrt(kMany);
  EXPECT_NEAR(m1 / kMany, 0, error);
  EXPECT_NEAR(m2 / kMany, 1, error * std::sqrt(2.0));
  EXPECT_NEAR(m3 / kMany, 0, error * std::sqrt(15.0));
  EXPECT_NEAR(m4 / kMany, 3, error * std::sqrt(96.0));
  EXPECT_NEAR(beyond_two / static_cast<double>(kMany), 0.0455, error * std::sqrt(0.0455 * 0.9545));
}

TEST(draws, seeds_streams_and_dimensions_are_unrelated) {
  const Draws one(1, 0), other_seed(2, 0), other_stream(1, 1);
  double with_seed = 0, with_stream = 0, with_dimension = 0, with_next = 0;
  for (std::uint32_t i = 0; i < kMany; ++i) {
    const double z = one.normal(i, 0);
    with_seed += z * other_seed.normal(i, 0);
    with_stream += z * other_stream.normal(i, 0);
    with_dimension += z * one.normal(i, 1);
    with_next += z * one.normal(i + 1, 0);
  }
  const double error = 4.5 / std::sqrt(kMany);
  for (double product : {with_seed, with_stream, with_dimension, with_next})
    EXPECT_NEAR(product / kMany, 0, error);
}

TEST(draws, a_number_depends_on_nothing_but_its_place) {
  const Draws random(9, 4);
  std::vector<double> forwards, backwards;
  for (std::uint32_t i = 0; i < 100; ++i) forwards.push_back(random.normal(i, i % 7));
  for (std::uint32_t i = 100; i-- > 0;) backwards.push_back(Draws(9, 4).normal(i, i % 7));
  std::reverse(backwards.begin(), backwards.end());
  EXPECT_EQ(forwards, backwards);
}

}  // namespace
}  // namespace helmwater::infer
