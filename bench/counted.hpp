// SPDX-License-Identifier: Apache-2.0
// A pack of numbers that writes down what is done to it, so that the arithmetic of the integrator can be
// counted by running the product's templates with it. What is counted errs to the low side:
//   - an operation counts only if the step's result depends on it, and once if it is done twice to the same
//   operands;
//   - nothing counts between numbers that all members share (constants, conditions of the water);
//   - + - * / count one each, a fused multiply-add is thus two; comparisons, minima, choices and signs count
//   nothing, nor
//     does what a quick division takes beside the division itself;
//   - exp counts kExpFlops, the arithmetic of loop/pack.hpp's exp (reduction 7, polynomial 12, scaling 1).
// It carries its members' values as well, because the pH is iterated until the whole pack is there.
#pragma once
#include <array>
#include <cstdint>
#include <map>
#include <tuple>
#include <vector>

namespace helmwater::bench {

inline constexpr int kExpFlops = 20;

enum class Operation { shared, input, add, subtract, multiply, divide, exponential, other };

// What was done, in order; one at a time per thread. Its functions are in counted.cpp because the step's
// templates ask the compiler to inline all they can.
class Tape {
 public:
  Tape();
  Tape(const Tape&) = delete;
  Tape& operator=(const Tape&) = delete;
  ~Tape();
  static Tape& current();

  int shared(double value);
  int input();
  // `kind` tells apart operations that count nothing.
  int note(Operation what, int kind, int a, int b = -1, int c = -1);

  struct Count {
    long add_multiply = 0, divide = 0, exponential = 0;
    long flops() const { return add_multiply + divide + kExpFlops * exponential; }
  };
  // Of what the outputs depend on, done since the last count; then forgets how it was done.
  Count count(const std::vector<int>& outputs);

 private:
  struct Done {
    Operation what;
    int a, b, c;
  };
  std::vector<Done> done_;
  std::size_t counted_ = 0;  // so many have been
  std::map<std::uint64_t, int> constants_;
  std::map<std::tuple<Operation, int, int, int, int>, int> known_;
};

inline constexpr int kCountedLanes = 32;  // the widest pack; narrower ones leave the rest aside

struct CountedMask {
  int id;
  std::array<bool, kCountedLanes> v;
};
CountedMask operator&(const CountedMask& a, const CountedMask& b);
CountedMask operator|(const CountedMask& a, const CountedMask& b);

struct Counted {
  int id;
  std::array<float, kCountedLanes> v;

  Counted() : Counted(0.0) {}
  Counted(double x);
  // Differs from member to member.
  static Counted of_members(const std::array<float, kCountedLanes>& values);
  Counted& operator+=(const Counted& b);
  Counted& operator-=(const Counted& b);
  Counted& operator*=(const Counted& b);
};
Counted operator+(const Counted& a, const Counted& b);
Counted operator-(const Counted& a, const Counted& b);
Counted operator*(const Counted& a, const Counted& b);
Counted operator/(const Counted& a, const Counted& b);
Counted operator-(const Counted& a);
CountedMask operator<(const Counted& a, const Counted& b);
CountedMask operator>(const Counted& a, const Counted& b);
Counted select(const CountedMask& m, const Counted& a, const Counted& b);
Counted min(const Counted& a, const Counted& b);
Counted max(const Counted& a, const Counted& b);
Counted exp(const Counted& a);
bool any(const CountedMask& m);

}  // namespace helmwater::bench
