// SPDX-License-Identifier: Apache-2.0
// What happens to a loop from outside, on a clock of days since the start: temperature, oxygen, deeds, steady loads and
// the plan for the time after the log. Plain values; who reads them off a log is not this library's business.
#pragma once
#include <limits>
#include <variant>
#include <vector>

#include "loop/environment.hpp"
#include "loop/state.hpp"

namespace helmwater::loop {

// Something put into the water at once.
struct DoseEvent {
  // by_amount: `change` is per litre of the stated volume. raise_by / raise_to: `change` is per unit of the effect
  // (mg N/L of total ammonia, or meq/L of alkalinity), `effect` is how much was aimed at.
  enum class How { by_amount, raise_ammonia_by, raise_ammonia_to, raise_alkalinity_by, raise_alkalinity_to };
  How how = How::by_amount;
  State<double> change{};
  double effect = 0;
  int unlogged = -1;  // which of Parameters::unlogged scales the effect instead of effect_factor; -1: none
};

// Water exchanged (`share` of the water goes out, the same comes in) or added to what evaporated (nothing goes out).
struct WaterEvent {
  double share = 0;                 // of the stated volume, or exactly if `exact_share`
  bool exact_share = false;
  bool top_up = false;
  double source_tan = 0;            // mg N/L, from chloramine
  double kill_strength = 0;         // 0..1 of a full disinfectant hit
};

// The stated volume changes by this factor without water coming or going: capacities sit on surfaces.
struct VolumeEvent {
  double ratio = 1;  // new / old
};

// Bacteria brought in: capacity of both steps, mg N/L/d (medians; the members' own factor applies).
struct SeedEvent {
  double capacity_a = 0, capacity_n = 0;
};

struct Event {
  double day = 0;
  std::variant<DoseEvent, WaterEvent, VolumeEvent, SeedEvent> what;
};

struct TimedValue {
  double day = 0;
  double value = 0;
};

// Linear between points, held at the first value before them and at the last after.
double interpolate(const std::vector<TimedValue>& points, double day);

struct LoadPiece {  // loads of overlapping pieces add up
  double from = 0;
  double to = std::numeric_limits<double>::infinity();
  Loads loads;
};

// What every member does for itself once a day at the look times after the log's end.
struct Policy {
  bool redose = false;
  double redose_to_tan = 0;           // mg N/L
  double redose_below_tan = 0;        // mg N/L
  double redose_while_no2_below = 0;  // mg N/L
  bool buffer = false;
  double buffer_below_alk = 0;  // meq/L
  double buffer_to_alk = 0;     // meq/L, as bicarbonate
};

struct Timeline {
  std::vector<TimedValue> temperature_c;  // at least one point
  std::vector<TimedValue> oxygen_mg_l;    // at least one point
  double ionic_strength_mol_l = 0.005;
  std::vector<Event> events;              // sorted by day, at equal days in the order they act
  std::vector<LoadPiece> loads;
  Policy policy;
  std::vector<double> look_days;          // rising

  Environment environment(double day) const;
  Loads loads_at(double day) const;       // of the pieces that contain [day, day + a moment)
};

}  // namespace helmwater::loop
