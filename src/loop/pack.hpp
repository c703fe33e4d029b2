// SPDX-License-Identifier: Apache-2.0
// Some members side by side in single precision: the number type of the ensemble. The processes are templates on
// the number type; with `double` they are the reference, with Pack the fast version. Uses the compiler's vector
// extension, so that every width of SIMD register works from one source.
#pragma once
#include <cmath>
#include <cstdint>
#include <cstring>
#if defined(__SSE2__)
#include <immintrin.h>
#endif

// One program may hold this code several times, compiled for different instruction sets: each copy is its own type, so
// that the linker cannot mix them.
#ifndef HELMWATER_INSTRUCTIONS
#define HELMWATER_INSTRUCTIONS baseline
#endif

namespace helmwater::loop {

inline namespace HELMWATER_INSTRUCTIONS {

// As wide as the widest register of the instruction set; a pack is a few of them.
#if defined(__AVX512F__)
inline constexpr int kRegisterLanes = 16;
#elif defined(__AVX__)
inline constexpr int kRegisterLanes = 8;
#else
inline constexpr int kRegisterLanes = 4;
#endif
inline constexpr int kRegisters = 2;  // one alone waits for its own results, three do not fit the register file
inline constexpr int kLanes = kRegisters * kRegisterLanes;

using FloatRegister = float __attribute__((vector_size(4 * kRegisterLanes)));
using IntRegister = std::int32_t __attribute__((vector_size(4 * kRegisterLanes)));

// a / b to a relative error below 3e-7, for |b| between 1e-37 and 1e37: the processor's estimate of 1/b and one Newton
// step. A plain division of sixteen floats holds the pipeline for longer than that.
inline FloatRegister quotient(FloatRegister a, FloatRegister b) {
#if defined(__AVX512F__)
  FloatRegister x = (FloatRegister)_mm512_maskz_rcp14_ps(0xffff, (__m512)b);  // the unmasked one warns in g++ 12
#elif defined(__AVX__)
  FloatRegister x = (FloatRegister)_mm256_rcp_ps((__m256)b);
#else
  return a / b;
#endif
#if defined(__AVX__)
  return a * (x + x * (1.0f - b * x));
#endif
}

struct Mask {
  IntRegister v[kRegisters];  // all bits set: true
  friend Mask operator&(Mask a, const Mask& b) {
    for (int i = 0; i < kRegisters; ++i) a.v[i] &= b.v[i];
    return a;
  }
  friend Mask operator|(Mask a, const Mask& b) {
    for (int i = 0; i < kRegisters; ++i) a.v[i] |= b.v[i];
    return a;
  }
  friend Mask operator!(Mask a) {
    for (int i = 0; i < kRegisters; ++i) a.v[i] = ~a.v[i];
    return a;
  }
};

struct Pack {
  FloatRegister v[kRegisters];
  Pack() = default;
  Pack(float x) {
    for (FloatRegister& r : v) r = x - FloatRegister{};
  }
  Pack(double x) : Pack(static_cast<float>(x)) {}
  Pack& operator+=(const Pack& b) { return *this = *this + b; }
  Pack& operator-=(const Pack& b) { return *this = *this - b; }
  Pack& operator*=(const Pack& b) { return *this = *this * b; }
  friend Pack operator+(Pack a, const Pack& b) {
    for (int i = 0; i < kRegisters; ++i) a.v[i] += b.v[i];
    return a;
  }
  friend Pack operator-(Pack a, const Pack& b) {
    for (int i = 0; i < kRegisters; ++i) a.v[i] -= b.v[i];
    return a;
  }
  friend Pack operator*(Pack a, const Pack& b) {
    for (int i = 0; i < kRegisters; ++i) a.v[i] *= b.v[i];
    return a;
  }
  friend Pack operator/(Pack a, const Pack& b) {
    for (int i = 0; i < kRegisters; ++i) a.v[i] = quotient(a.v[i], b.v[i]);
    return a;
  }
  friend Pack operator-(Pack a) {
    for (int i = 0; i < kRegisters; ++i) a.v[i] = -a.v[i];
    return a;
  }
  friend Mask operator<(const Pack& a, const Pack& b) {
    Mask m;
    for (int i = 0; i < kRegisters; ++i) m.v[i] = a.v[i] < b.v[i];
    return m;
  }
  friend Mask operator>(const Pack& a, const Pack& b) { return b < a; }
  float operator[](int lane) const { return v[lane / kRegisterLanes][lane % kRegisterLanes]; }
  void set(int lane, float x) { v[lane / kRegisterLanes][lane % kRegisterLanes] = x; }
};

inline Pack select(const Mask& m, const Pack& a, const Pack& b) {
  Pack r;
  for (int i = 0; i < kRegisters; ++i) r.v[i] = m.v[i] ? a.v[i] : b.v[i];
  return r;
}
// The second where they do not compare. The processor's own instruction: g++ makes a comparison and a choice of the plain
// form. Masked, because the unmasked one warns in g++ 12.
inline Pack min(const Pack& a, const Pack& b) {
#if defined(__AVX512F__)
  Pack r;
  for (int i = 0; i < kRegisters; ++i) r.v[i] = (FloatRegister)_mm512_maskz_min_ps(0xffff, (__m512)a.v[i], (__m512)b.v[i]);
  return r;
#elif defined(__AVX__)
  Pack r;
  for (int i = 0; i < kRegisters; ++i) r.v[i] = (FloatRegister)_mm256_min_ps((__m256)a.v[i], (__m256)b.v[i]);
  return r;
#elif defined(__SSE2__)
  Pack r;
  for (int i = 0; i < kRegisters; ++i) r.v[i] = (FloatRegister)_mm_min_ps((__m128)a.v[i], (__m128)b.v[i]);
  return r;
#else
  return select(a < b, a, b);
#endif
}
inline Pack max(const Pack& a, const Pack& b) {
#if defined(__AVX512F__)
  Pack r;
  for (int i = 0; i < kRegisters; ++i) r.v[i] = (FloatRegister)_mm512_maskz_max_ps(0xffff, (__m512)a.v[i], (__m512)b.v[i]);
  return r;
#elif defined(__AVX__)
  Pack r;
  for (int i = 0; i < kRegisters; ++i) r.v[i] = (FloatRegister)_mm256_max_ps((__m256)a.v[i], (__m256)b.v[i]);
  return r;
#elif defined(__SSE2__)
  Pack r;
  for (int i = 0; i < kRegisters; ++i) r.v[i] = (FloatRegister)_mm_max_ps((__m128)a.v[i], (__m128)b.v[i]);
  return r;
#else
  return select(a > b, a, b);
#endif
}
inline bool any(const Mask& m) {
  IntRegister all = m.v[0];
  for (int i = 1; i < kRegisters; ++i) all |= m.v[i];
#if defined(__AVX512DQ__)
  return _mm512_movepi32_mask((__m512i)all) != 0;
#elif defined(__AVX__)
  return _mm256_movemask_ps((__m256)all) != 0;
#elif defined(__SSE2__)
  return _mm_movemask_ps((__m128)all) != 0;
#else
  std::int32_t bits = 0;
  for (int i = 0; i < kRegisterLanes; ++i) bits |= all[i];
  return bits != 0;
#endif
}

// exp for |x| <= 87, relative error below 3e-7 (argument reduction to [-ln2/2, ln2/2] and the Taylor polynomial of
// degree 6; clamped outside).
inline Pack exp(Pack x) {
  x = min(max(x, Pack{-87.0f}), Pack{87.0f});
  const Pack shifter{12582912.0f};  // 1.5 * 2^23: adding it rounds to an integer in the low bits
  const Pack n_shifted = x * Pack{1.44269504f} + shifter;
  const Pack n = n_shifted - shifter;
  const Pack r = x - n * Pack{0.693145752f} - n * Pack{1.42860677e-6f};
  // Pairs first: the members wait for this chain more than for the number of its operations.
  const Pack r2 = r * r;
  const Pack low = r + Pack{1.0f}, middle = Pack{1.0f / 6} * r + Pack{0.5f};
  const Pack high = Pack{1.0f / 720} * r2 + (Pack{1.0f / 120} * r + Pack{1.0f / 24});
  Pack p = (high * r2 + middle) * r2 + low;
  for (int i = 0; i < kRegisters; ++i) {
    IntRegister bits;
    std::memcpy(&bits, &n_shifted.v[i], sizeof bits);
    bits = (bits << 23) + 0x3f800000;  // the low bits of the shifted sum are n; 0x4b400000 << 23 leaves no trace
    FloatRegister scale;
    std::memcpy(&scale, &bits, sizeof scale);
    p.v[i] *= scale;
  }
  return p;
}

}  // namespace HELMWATER_INSTRUCTIONS

// The same vocabulary for double.
inline double select(bool m, double a, double b) { return m ? a : b; }
inline double min(double a, double b) { return a < b ? a : b; }
inline double max(double a, double b) { return a > b ? a : b; }
inline double exp(double x) { return std::exp(x); }
inline bool any(bool m) { return m; }

}  // namespace helmwater::loop
