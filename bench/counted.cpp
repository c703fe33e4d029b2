// SPDX-License-Identifier: Apache-2.0
#include "counted.hpp"

#include <algorithm>
#include <cmath>
#include <cstring>

namespace helmwater::bench {
namespace {

thread_local Tape* current = nullptr;

}  // namespace

Tape::Tape() { bench::current = this; }
Tape::~Tape() { bench::current = nullptr; }
Tape& Tape::current() { return *bench::current; }

int Tape::shared(double value) {
  std::uint64_t bits = 0;
  std::memcpy(&bits, &value, sizeof bits);
  const auto [place, fresh] = constants_.try_emplace(bits, static_cast<int>(done_.size()));
  if (fresh) done_.push_back({Operation::shared, -1, -1, -1});
  return place->second;
}

int Tape::input() {
  done_.push_back({Operation::input, -1, -1, -1});
  return static_cast<int>(done_.size()) - 1;
}

int Tape::note(Operation what, int kind, int a, int b, int c) {
  const auto is_shared = [&](int i) {
    return i < 0 || done_[static_cast<std::size_t>(i)].what == Operation::shared;
  };
  const bool nobodys_own = is_shared(a) && is_shared(b) && is_shared(c);
  const auto [place, fresh] = known_.try_emplace({what, kind, a, b, c}, static_cast<int>(done_.size()));
  if (fresh) done_.push_back({nobodys_own ? Operation::shared : what, a, b, c});
  return place->second;
}

Tape::Count Tape::count(const std::vector<int>& outputs) {
  std::vector<bool> needed(done_.size(), false);
  for (int o : outputs) needed[static_cast<std::size_t>(o)] = true;
  Count total;
  for (std::size_t i = done_.size(); i-- > counted_;) {
    if (!needed[i]) continue;
    const Done& d = done_[i];
    for (int from : {d.a, d.b, d.c}) {
      if (from >= 0) needed[static_cast<std::size_t>(from)] = true;
    }
    if (d.what == Operation::add || d.what == Operation::subtract || d.what == Operation::multiply)
      ++total.add_multiply;
    if (d.what == Operation::divide) ++total.divide;
    if (d.what == Operation::exponential) ++total.exponential;
  }
  counted_ = done_.size();
  known_.clear();
  return total;
}

namespace {

template <class Number, class Do>
Number lane_by_lane(Operation what, int kind, const Number& a, const Number& b, const Do& of) {
  Number out = a;
  for (std::size_t i = 0; i < out.v.size(); ++i) out.v[i] = of(a.v[i], b.v[i]);
  out.id = Tape::current().note(what, kind, a.id, b.id);
  return out;
}

}  // namespace

CountedMask operator&(const CountedMask& a, const CountedMask& b) {
  return lane_by_lane(Operation::other, 1, a, b, [](bool x, bool y) { return x && y; });
}
CountedMask operator|(const CountedMask& a, const CountedMask& b) {
  return lane_by_lane(Operation::other, 2, a, b, [](bool x, bool y) { return x || y; });
}

Counted::Counted(double x) : id(Tape::current().shared(x)) { v.fill(static_cast<float>(x)); }
Counted Counted::of_members(const std::array<float, kCountedLanes>& values) {
  Counted c;
  c.id = Tape::current().input();
  c.v = values;
  return c;
}
Counted& Counted::operator+=(const Counted& b) { return *this = *this + b; }
Counted& Counted::operator-=(const Counted& b) { return *this = *this - b; }
Counted& Counted::operator*=(const Counted& b) { return *this = *this * b; }
Counted operator+(const Counted& a, const Counted& b) {
  return lane_by_lane(Operation::add, 0, a, b, [](float x, float y) { return x + y; });
}
Counted operator-(const Counted& a, const Counted& b) {
  return lane_by_lane(Operation::subtract, 0, a, b, [](float x, float y) { return x - y; });
}
Counted operator*(const Counted& a, const Counted& b) {
  return lane_by_lane(Operation::multiply, 0, a, b, [](float x, float y) { return x * y; });
}
Counted operator/(const Counted& a, const Counted& b) {
  return lane_by_lane(Operation::divide, 0, a, b, [](float x, float y) { return x / y; });
}
Counted operator-(const Counted& a) {
  Counted out = a;
  for (float& x : out.v) x = -x;
  out.id = Tape::current().note(Operation::other, 3, a.id);
  return out;
}
CountedMask operator<(const Counted& a, const Counted& b) {
  CountedMask m{Tape::current().note(Operation::other, 4, a.id, b.id), {}};
  for (std::size_t i = 0; i < m.v.size(); ++i) m.v[i] = a.v[i] < b.v[i];
  return m;
}
CountedMask operator>(const Counted& a, const Counted& b) { return b < a; }
Counted select(const CountedMask& m, const Counted& a, const Counted& b) {
  Counted out = b;
  for (std::size_t i = 0; i < out.v.size(); ++i) out.v[i] = m.v[i] ? a.v[i] : b.v[i];
  out.id = Tape::current().note(Operation::other, 5, m.id, a.id, b.id);
  return out;
}
Counted min(const Counted& a, const Counted& b) { return select(a < b, a, b); }
Counted max(const Counted& a, const Counted& b) { return select(a > b, a, b); }
Counted exp(const Counted& a) {
  Counted out = a;
  for (float& x : out.v) x = std::exp(x);
  out.id = Tape::current().note(Operation::exponential, 0, a.id);
  return out;
}
bool any(const CountedMask& m) {
  return std::any_of(m.v.begin(), m.v.end(), [](bool x) { return x; });
}

}  // namespace helmwater::bench
