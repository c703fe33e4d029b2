// SPDX-License-Identifier: Apache-2.0
// Random numbers without a state: every draw is a function of seed, stream, index and dimension, so that results do
// not depend on the number of threads or the order of work.
#pragma once
#include <array>
#include <cstdint>

namespace helmwater::infer {

// Philox 4x32 with ten rounds (Salmon, Moraes, Dror, Shaw 2011, "Parallel random numbers: as easy as 1, 2, 3").
std::array<std::uint32_t, 4> philox4x32(std::array<std::uint32_t, 4> counter, std::array<std::uint32_t, 2> key);

class Draws {
 public:
  Draws(std::uint64_t seed, std::uint32_t stream) : seed_(seed), stream_(stream) {}
  // Uniform in (0, 1), never 0 or 1.
  double uniform(std::uint32_t index, std::uint32_t dimension) const;
  // Standard normal.
  double normal(std::uint32_t index, std::uint32_t dimension) const;

 private:
  std::uint64_t seed_;
  std::uint32_t stream_;
};

}  // namespace helmwater::infer
