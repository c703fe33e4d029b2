// SPDX-License-Identifier: Apache-2.0
// What one window of a long log hands to the next: the posterior over unknowns and water at the window's end, as a prior
// for the days after it (docs/model/windows.md). Every quantity keeps its own distribution (a table of quantiles); what
// they have in common is kept as the correlation of their normal scores (a Gaussian copula).
#pragma once
#include <Eigen/Dense>
#include <array>
#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "infer/forecast_track.hpp"
#include "infer/quantiles.hpp"
#include "loop/state.hpp"
#include "records/instant.hpp"

namespace helmwater::infer {

// Length of a window that is closed, d; the open one is between one and two of them long.
inline constexpr int kWindowDays = 30;
// Over one window each unknown rate, half-saturation and the like wanders: in units of its prior's sd, z becomes
// sqrt(1 - kWander^2) z + kWander times a fresh normal number, so that the prior stays the long-run distribution (estimate).
inline constexpr double kWander = 0.2;

// Quantiles of one quantity at the standard normal scores -3, -2.75 … 3; linear between them and on beyond.
struct Marginal {
  static constexpr int kKnots = 25;
  static constexpr double kEnd = 3.0;
  std::array<double, kKnots> value{};
  double at(double score) const;
};

// How far a member's milestones have come; what they hang on is in the water.
struct CarriedTrack {
  double water = 0;  // total ammonia and nitrite at the window's end, mg N/L: tracks rise in it
  TrackSoFar track;
};

struct Carried {
  double day = 0;                    // of the window's end, from the loop's start
  std::vector<std::string> names;    // unknowns by name, then the water ("water_tan" …)
  std::vector<Marginal> marginals;   // per name; unknowns as standard normal numbers of their prior, water as below
  Eigen::MatrixXd root;              // lower Cholesky factor of the scores' correlation
  std::vector<CarriedTrack> tracks;
  double effective = 0;              // draws it was made from
  std::string key;                        // of its checkpoint; not among the bytes
  std::shared_ptr<const Carried> before;  // the window before; not among the bytes
  // The course of this window, every 6 h.
  std::vector<double> series_days;
  std::vector<SeriesQuantiles> series;
  // Readings of this window that do not fit the others: by their place in LoopLog::entries, which earlier entries alone
  // settle, and by their line in log.csv, which a row written anywhere above moves (not among the bytes).
  std::vector<std::uint32_t> misread_entries;
  std::vector<int> misread_lines;
};

// The water on a scale where it is carried: ln(concentration + kWaterFloor).
inline constexpr double kWaterFloor = 1e-3;
inline constexpr int kWaterParts = 11;
const std::array<const char*, kWaterParts>& water_names();
std::array<double, kWaterParts> water_scale(const loop::State<double>& y);
loop::State<double> water_from_scale(const std::array<double, kWaterParts>& x);

struct CarryInput {
  double day = 0;
  std::vector<std::string> names;              // of the unknowns
  Eigen::MatrixXd z;                           // unknowns x draws
  std::vector<double> weight;
  double effective = 0;
  std::vector<loop::State<double>> water;      // per draw, at the window's end
  std::vector<TrackSoFar> tracks;              // per draw
  std::uint64_t seed = 1;
};
// Without the series and the misread lines.
Carried carry(const CarryInput& input);

// As bytes and back; nullopt if they are not whole.
std::string to_bytes(const Carried& carried);
std::shared_ptr<const Carried> carried_from_bytes(const std::string& bytes);

}  // namespace helmwater::infer
