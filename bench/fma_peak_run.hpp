// SPDX-License-Identifier: Apache-2.0
// The body of fma_peak.hpp, included by one source file per instruction set. Everything in it is local to
// that file.
#pragma once
#include "fma_peak.hpp"

namespace helmwater::bench {
namespace {

#if defined(__AVX512F__)
constexpr int kRegisterLanes = 16;
#elif defined(__AVX__)
constexpr int kRegisterLanes = 8;
#else
constexpr int kRegisterLanes = 4;
#endif
using Register = float __attribute__((vector_size(4 * kRegisterLanes)));

// Twelve chains hide the latency of both units (two units, four or five cycles) and fit the 16 registers of
// AVX2 beside the two operands. Each has its own name, because g++ 12 keeps an array of them in memory.
double run_chains(long rounds, float factor) {
  constexpr int kChains = 12;
  const Register scale = factor - Register{}, shift = (1 - factor) - Register{};
  Register a = scale, b = a + shift, c = b + shift, d = c + shift, e = d + shift, f = e + shift,
           g = f + shift, h = g + shift, i = h + shift, j = i + shift, k = j + shift, l = k + shift;
  for (long r = 0; r < rounds; ++r) {
    a = a * scale + shift;
    b = b * scale + shift;
    c = c * scale + shift;
    d = d * scale + shift;
    e = e * scale + shift;
    f = f * scale + shift;
    g = g * scale + shift;
    h = h * scale + shift;
    i = i * scale + shift;
    j = j * scale + shift;
    k = k * scale + shift;
    l = l * scale + shift;
  }
  const Register sum = ((a + b) + (c + d)) + ((e + f) + (g + h)) + ((i + j) + (k + l));
  volatile float kept = sum[0];
  (void)kept;
  return 2.0 * kChains * kRegisterLanes * static_cast<double>(rounds);
}

}  // namespace
}  // namespace helmwater::bench
