// SPDX-License-Identifier: Apache-2.0
#include "infer/random.hpp"

#include <cmath>
#include <numbers>

namespace helmwater::infer {

std::array<std::uint32_t, 4> philox4x32(std::array<std::uint32_t, 4> x, std::array<std::uint32_t, 2> key) {
  constexpr std::uint64_t kMultiply0 = 0xD2511F53, kMultiply1 = 0xCD9E8D57;
  constexpr std::uint32_t kWeyl0 = 0x9E3779B9, kWeyl1 = 0xBB67AE85;
  for (int round = 0; round < 10; ++round) {
    const std::uint64_t p0 = kMultiply0 * x[0], p1 = kMultiply1 * x[2];
    x = {static_cast<std::uint32_t>(p1 >> 32) ^ x[1] ^ key[0], static_cast<std::uint32_t>(p1),
         static_cast<std::uint32_t>(p0 >> 32) ^ x[3] ^ key[1], static_cast<std::uint32_t>(p0)};
    key[0] += kWeyl0;
    key[1] += kWeyl1;
  }
  return x;
}

namespace {
double open_unit(std::uint32_t high, std::uint32_t low) {
  const std::uint64_t mantissa = (static_cast<std::uint64_t>(high) << 20) ^ (low >> 12);  // 52 bits
  return (static_cast<double>(mantissa) + 0.5) * 0x1p-52;
}
}  // namespace

double Draws::uniform(std::uint32_t index, std::uint32_t dimension) const {
  const auto bits = philox4x32({index, dimension, stream_, 0},
                               {static_cast<std::uint32_t>(seed_), static_cast<std::uint32_t>(seed_ >> 32)});
  return open_unit(bits[0], bits[1]);
}

double Draws::normal(std::uint32_t index, std::uint32_t dimension) const {
  const auto bits = philox4x32({index, dimension, stream_, 1},
                               {static_cast<std::uint32_t>(seed_), static_cast<std::uint32_t>(seed_ >> 32)});
  const double radius = std::sqrt(-2 * std::log(open_unit(bits[0], bits[1])));  // Box & Muller 1958
  return radius * std::cos(2 * std::numbers::pi * open_unit(bits[2], bits[3]));
}

}  // namespace helmwater::infer
