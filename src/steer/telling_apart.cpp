// SPDX-License-Identifier: Apache-2.0
#include "steer/telling_apart.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "handbook/handbook.hpp"
#include "infer/distributions.hpp"
#include "infer/quantiles.hpp"

namespace helmwater::steer {
namespace {

// A test, its unit in words, what it reads of, and the noise of one reading: of the logarithm of value + floor, or plain.
struct Quantity {
  const char* test;
  const char* what;
  const char* unit;
  double Shown::*value;
  double noise;
  double floor;   // below zero: plain
  double step;    // numbers are stated to this
  double in_days = 0;
};

// Noises as for readings (data/handbook/priors.toml), with the kit's bias; of temperature and phosphate estimates.
constexpr std::array<Quantity, 10> kQuantities{{
    {"alkalinity", "alkalinity", "mg/L CaCO3", &Shown::alkalinity, 0.15, 5, 1},
    {"oxygen", "oxygen where the bacteria sit", "mg/L", &Shown::oxygen, 0.2, 0.3, 0.1},
    {"temperature", "the water's temperature", "degC", &Shown::temperature, 1.0, -1, 1},
    {"phosphate", "phosphate", "mg/L P", &Shown::phosphate, 0.4, 0.01, 0.01},
    {"nitrate", "nitrate, with the second bottle well shaken", "mg/L NO3", &Shown::nitrate, 0.5, 2, 1},
    {"ph", "pH", "", &Shown::ph, 0.25, -1, 0.1},
    {"ammonia", "ammonia", "mg/L NH3", &Shown::ammonia, 0.35, 0.1, 0.1},
    {"nitrite", "nitrite", "mg/L NO2", &Shown::nitrite, 0.3, 0.1, 0.1},
    {"ammonia", "ammonia", "mg/L NH3", &Shown::ammonia_later, 0.35, 0.1, 0.1, kLaterDays},
    {"nitrite", "nitrite", "mg/L NO2", &Shown::nitrite_later, 0.3, 0.1, 0.1, kLaterDays},
}};

// From this overlap on a reading is not worth its vial: what to do instead is said (estimate).
constexpr double kTooMuchAlike = 0.6;
// A test three days from now must tell this much better than one today.
constexpr double kWorthWaiting = 0.1;

double on_scale(const Quantity& q, double value) { return q.floor < 0 ? value : std::log(std::max(value, 0.0) + q.floor); }
double off_scale(const Quantity& q, double x) { return q.floor < 0 ? x : std::max(std::exp(x) - q.floor, 0.0); }

constexpr int kCells = 60;

// Chance of a reading in each cell of [low, high], given the cause; sums to 1.
std::array<double, kCells> shares(const std::vector<ShownDraw>& draws, const std::string& cause, const Quantity& q, double low, double high) {
  std::array<double, kCells> cells{};
  double total = 0;
  for (const ShownDraw& d : draws) {
    if (d.cause != cause) continue;
    const double x = on_scale(q, d.shown.*q.value);
    double before = 0;
    for (int i = 0; i < kCells; ++i) {
      const double edge = low + (high - low) * (i + 1) / kCells;
      const double passed = i + 1 == kCells ? 1 : infer::normal_cdf((edge - x) / q.noise);
      cells[static_cast<std::size_t>(i)] += d.weight * (passed - before);
      before = passed;
    }
    total += d.weight;
  }
  for (double& c : cells) c /= total;
  return cells;
}

// The value below which a share of the readings lies.
double quantile(const std::array<double, kCells>& cells, double low, double high, double share) {
  double passed = 0;
  for (int i = 0; i < kCells; ++i) {
    const double here = cells[static_cast<std::size_t>(i)];
    if (passed + here >= share) return low + (high - low) * (i + (share - passed) / here) / kCells;
    passed += here;
  }
  return high;
}

std::string number(const Quantity& q, double value) {
  const double rounded = std::round(value / q.step) * q.step;
  return q.step >= 1 ? fmt::format("{:.0f}", rounded) : fmt::format("{:.{}f}", rounded, q.step < 0.05 ? 2 : 1);
}

std::string in_words(const Quantity& q, const TellingTest& t) {
  const auto &a = t.expected[0], &b = t.expected[1];
  const auto title = [](const std::string& cause) { return "\u201c" + handbook::Handbook::built_in().cause(cause).title + "\u201d"; };
  const std::string unit = *q.unit == 0 ? "" : std::string(" ") + q.unit;
  const std::string when = q.in_days > 0 ? fmt::format("Do nothing for {:.0f} days, then test", q.in_days) : "Test";
  const bool apart = a.high < b.low || b.high < a.low;
  const auto side = [&](const TellingTest::Under& one, const TellingTest::Under& other) {
    if (!apart) return fmt::format("about {}{} ({} to {})", number(q, one.middle), unit, number(q, one.low), number(q, one.high));
    return one.middle < other.middle ? fmt::format("below {}{}", number(q, one.high), unit) : fmt::format("above {}{}", number(q, one.low), unit);
  };
  return fmt::format("{} {}: {} if it is {}, {} if it is {}.", when, q.what, side(a, b), title(a.cause), side(b, a), title(b.cause));
}

}  // namespace

TellingTest telling_test(const std::vector<ShownDraw>& draws, const std::string& first, const std::string& second,
                         const std::string& look) {
  TellingTest best;
  for (const Quantity& q : kQuantities) {
    double low = INFINITY, high = -INFINITY;
    for (const ShownDraw& d : draws) {
      if (d.cause != first && d.cause != second) continue;
      low = std::min(low, on_scale(q, d.shown.*q.value));
      high = std::max(high, on_scale(q, d.shown.*q.value));
    }
    low -= 3 * q.noise;
    high += 3 * q.noise;
    const auto a = shares(draws, first, q, low, high), b = shares(draws, second, q, low, high);
    double overlap = 0;
    for (std::size_t i = 0; i < kCells; ++i) overlap += std::min(a[i], b[i]);
    if (overlap + (q.in_days > 0 ? kWorthWaiting : 0.0) >= best.overlap) continue;
    best.test = q.test;
    best.in_days = q.in_days;
    best.unit = q.unit;
    best.overlap = overlap;
    best.expected.clear();
    for (const auto& [cause, cells] : {std::pair{first, a}, std::pair{second, b}}) {
      const auto at = [&, &cells = cells](double share) { return off_scale(q, quantile(cells, low, high, share)); };
      best.expected.push_back({cause, at(0.1), at(0.5), at(0.9)});
    }
    best.text = in_words(q, best);
  }
  if (best.overlap > kTooMuchAlike) {
    best.test.clear();
    best.unit.clear();
    best.in_days = 0;
    best.expected.clear();
    best.text = "No single reading tells the first two apart. " + look;
  }
  return best;
}

}  // namespace helmwater::steer
