// SPDX-License-Identifier: Apache-2.0
#include "infer/temperature_from_log.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <numbers>

namespace helmwater::infer {
namespace {

constexpr double kSpanForAYear = 270;  // d: three quarters of the year have been seen
constexpr double kLongGap = 30;        // d between readings, from which on the year's wave fills the gap
constexpr double kPointsEvery = 5;     // d, along the wave
constexpr double kColdest = 0, kWarmest = 40;  // degC, of water that is liquid and alive

double year_angle(double day) { return 2 * std::numbers::pi * day / 365.25; }

// Points strictly between two readings along the wave, shifted so that it passes through both.
void along_the_wave(const YearWave& wave, const loop::TimedValue& from, const loop::TimedValue& to,
                    std::vector<loop::TimedValue>& points) {
  const double off_from = from.value - wave.at(from.day), off_to = to.value - wave.at(to.day);
  for (double day = from.day + kPointsEvery; day < to.day - 1; day += kPointsEvery) {
    const double share = (day - from.day) / (to.day - from.day);
    const double value = wave.at(day) + off_from + share * (off_to - off_from);
    points.push_back({day, std::clamp(value, kColdest, kWarmest)});
  }
}

}  // namespace

std::vector<loop::TimedValue> values_read(const records::LoopLog& log, records::Test test,
                                          records::Instant start, records::Instant as_of) {
  std::vector<loop::TimedValue> values;
  for (const records::Entry& e : log.entries) {
    const auto* r = std::get_if<records::Reading>(&e.body);
    if (r == nullptr || r->test != test || e.when > as_of || e.when < start) continue;
    double value = r->seen.centre;
    if (r->seen.shape == records::Seen::Shape::interval) {
      if (!std::isfinite(r->seen.low) || !std::isfinite(r->seen.high)) continue;
      value = (r->seen.low + r->seen.high) / 2;
    }
    values.push_back({records::days_between(start, e.when), value});
  }
  return values;
}

double YearWave::at(double day) const {
  return std::clamp(mean + a * std::cos(year_angle(day)) + b * std::sin(year_angle(day)), kColdest, kWarmest);
}

YearWave fit_year_wave(const std::vector<loop::TimedValue>& readings) {
  // Normal equations of (1, cos, sin).
  Eigen::Matrix3d normal = Eigen::Vector3d(0, 1, 1).asDiagonal() * (1.5 / 10) * (1.5 / 10);
  Eigen::Vector3d right = Eigen::Vector3d::Zero();
  for (const auto& r : readings) {
    const Eigen::Vector3d row(1, std::cos(year_angle(r.day)), std::sin(year_angle(r.day)));
    normal += row * row.transpose();
    right += row * r.value;
  }
  const Eigen::Vector3d x = normal.ldlt().solve(right);
  return {x[0], x[1], x[2]};
}

std::vector<loop::TimedValue> temperature_from_log(const records::LoopLog& log, records::Instant start,
                                                   records::Instant as_of, double end_day) {
  const std::vector<loop::TimedValue> read = values_read(log, records::Test::temperature, start, as_of);
  const double usual = log.loop.typical_temperature.value();
  if (read.empty()) return {{0, usual}};
  const bool years = read.back().day - read.front().day >= kSpanForAYear;
  const YearWave wave = years ? fit_year_wave(read) : YearWave{};
  std::vector<loop::TimedValue> points;
  if (read.front().day > kMoment) {
    points.push_back({0, usual});
    points.push_back({read.front().day - kMoment, usual});
  }
  for (const auto& r : read) {
    if (!points.empty() && r.day <= points.back().day) {
      points.back().value = r.value;  // the later of two at one moment
      continue;
    }
    if (years && !points.empty() && r.day - points.back().day > kLongGap &&
        points.back().day >= read.front().day) {
      along_the_wave(wave, loop::TimedValue{points.back()}, r, points);
    }
    points.push_back(r);
  }
  const double held = read.back().day + kHeldDays;
  points.push_back({held, read.back().value});
  points.push_back({held + kMoment, years ? wave.at(held) : usual});
  for (double day = held + kPointsEvery; years && day < end_day + 2 * kPointsEvery; day += kPointsEvery) {
    points.push_back({day, wave.at(day)});
  }
  return points;
}

double temperature_known_at(const records::LoopLog& log, records::Instant when) {
  const auto read = values_read(log, records::Test::temperature, records::plus_days(when, -kHeldDays), when);
  return read.empty() ? log.loop.typical_temperature.value() : read.back().value;
}

}  // namespace helmwater::infer
