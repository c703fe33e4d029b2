// SPDX-License-Identifier: Apache-2.0
// Repeatable random numbers of the second simulator. The library's distributions differ between compilers, its engine does
// not.
#pragma once
#include <algorithm>
#include <cmath>
#include <cstdint>
#include <random>

namespace helmwater::tests {

class Dice {
 public:
  // One stream per loop and purpose, so that what the owner does never shifts what nature does.
  Dice(std::uint64_t seed, int index, std::uint64_t purpose)
      : engine_(scrambled(scrambled(scrambled(seed) + static_cast<std::uint64_t>(index)) + purpose)) {}

  double uniform() { return (static_cast<double>(engine_() >> 11) + 0.5) * 0x1p-53; }  // in (0, 1)
  double between(double low, double high) { return low + (high - low) * uniform(); }
  int whole(int low, int high) { return std::min(high, low + static_cast<int>((high - low + 1) * uniform())); }
  bool chance(double probability) { return uniform() < probability; }
  double normal(double mean, double sd) {  // Box and Muller
    const double u = uniform(), v = uniform();
    return mean + sd * std::sqrt(-2 * std::log(u)) * std::cos(6.283185307179586 * v);
  }
  double lognormal(double median, double ln_sd) { return median * std::exp(normal(0, ln_sd)); }

 private:
  static std::uint64_t scrambled(std::uint64_t x) {  // splitmix64's finaliser
    x += 0x9e3779b97f4a7c15u;
    x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9u;
    x = (x ^ (x >> 27)) * 0x94d049bb133111ebu;
    return x ^ (x >> 31);
  }
  std::mt19937_64 engine_;
};

}  // namespace helmwater::tests
