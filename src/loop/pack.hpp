// SPDX-License-Identifier: Apache-2.0
// Sixteen members side by side in single precision: the number type of the ensemble. The processes are templates on
// the number type; with `double` they are the reference, with Pack the fast version. Uses the compiler's vector
// extension, so that every width of SIMD register works from one source.
#pragma once
#include <cmath>
#include <cstdint>
#include <cstring>

// One program may hold this code several times, compiled for different instruction sets: each copy is its own type, so
// that the linker cannot mix them.
#ifndef HELMWATER_INSTRUCTIONS
#define HELMWATER_INSTRUCTIONS baseline
#endif

namespace helmwater::loop {

inline constexpr int kLanes = 16;

inline namespace HELMWATER_INSTRUCTIONS {

struct Mask {
  using V = std::int32_t __attribute__((vector_size(4 * kLanes)));
  V v;  // all bits set: true
  friend Mask operator&(Mask a, Mask b) { return {a.v & b.v}; }
  friend Mask operator|(Mask a, Mask b) { return {a.v | b.v}; }
  friend Mask operator!(Mask a) { return {~a.v}; }
};

struct Pack {
  using V = float __attribute__((vector_size(4 * kLanes)));
  V v;
  Pack() = default;
  Pack(V x) : v(x) {}
  Pack(float x) : v(x - V{}) {}
  Pack(double x) : Pack(static_cast<float>(x)) {}
  Pack& operator+=(Pack b) { v += b.v; return *this; }
  Pack& operator-=(Pack b) { v -= b.v; return *this; }
  Pack& operator*=(Pack b) { v *= b.v; return *this; }
  friend Pack operator+(Pack a, Pack b) { return {a.v + b.v}; }
  friend Pack operator-(Pack a, Pack b) { return {a.v - b.v}; }
  friend Pack operator*(Pack a, Pack b) { return {a.v * b.v}; }
  friend Pack operator/(Pack a, Pack b) { return {a.v / b.v}; }
  friend Pack operator-(Pack a) { return {-a.v}; }
  friend Mask operator<(Pack a, Pack b) { return {a.v < b.v}; }
  friend Mask operator>(Pack a, Pack b) { return {a.v > b.v}; }
  float operator[](int lane) const { return v[lane]; }
  void set(int lane, float x) { v[lane] = x; }
};

inline Pack select(Mask m, Pack a, Pack b) { return {m.v ? a.v : b.v}; }
inline Pack min(Pack a, Pack b) { return select(a < b, a, b); }
inline Pack max(Pack a, Pack b) { return select(a > b, a, b); }
inline bool any(Mask m) {
  std::int32_t bits = 0;
  for (int i = 0; i < kLanes; ++i) bits |= m.v[i];
  return bits != 0;
}

// exp for |x| <= 87, relative error below 3e-7 (argument reduction to [-ln2/2, ln2/2] and the Taylor polynomial of
// degree 6; clamped outside).
inline Pack exp(Pack x) {
  x = min(max(x, Pack{-87.0f}), Pack{87.0f});
  const Pack shifter{12582912.0f};  // 1.5 * 2^23: adding it rounds to an integer in the low bits
  const Pack n_shifted = x * Pack{1.44269504f} + shifter;
  const Pack n = n_shifted - shifter;
  const Pack r = x - n * Pack{0.693145752f} - n * Pack{1.42860677e-6f};
  Pack p = Pack{1.0f / 720};
  p = p * r + Pack{1.0f / 120};
  p = p * r + Pack{1.0f / 24};
  p = p * r + Pack{1.0f / 6};
  p = p * r + Pack{0.5f};
  p = p * r + Pack{1.0f};
  p = p * r + Pack{1.0f};
  Mask::V bits;
  std::memcpy(&bits, &n_shifted.v, sizeof bits);
  bits = (bits << 23) + 0x3f800000;  // the low bits of the shifted sum are n; 0x4b400000 << 23 leaves no trace
  Pack scale;
  std::memcpy(&scale.v, &bits, sizeof bits);
  return p * scale;
}

}  // namespace HELMWATER_INSTRUCTIONS

// The same vocabulary for double.
inline double select(bool m, double a, double b) { return m ? a : b; }
inline double min(double a, double b) { return a < b ? a : b; }
inline double max(double a, double b) { return a > b ? a : b; }
inline double exp(double x) { return std::exp(x); }
inline bool any(bool m) { return m; }

}  // namespace helmwater::loop
