// SPDX-License-Identifier: Apache-2.0
// What happens to a loop from outside, on a clock of days since the start: temperature, deeds, steady loads, plants and
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

// Water exchanged (`share` of the water goes out, the same comes in), or added to what had evaporated: then `share` is of
// the full volume, for all members alike, because the loads let just that much evaporate before.
struct WaterEvent {
  double share = 0;                 // of the stated volume, or exactly if `exact_share`
  bool exact_share = false;
  bool top_up = false;
  int unlogged = -1;                // which of Parameters::unlogged scales the share; -1: none
  double source_tan = 0;            // mg N/L, from chloramine
  double kill_strength = 0;         // 0..1 of a full disinfectant hit
};

// The stated volume changes by this factor without water coming or going: capacities and what they can grow to sit on
// surfaces.
struct VolumeEvent {
  double ratio = 1;  // new / old
};

// Bacteria brought in: capacity of both steps, mg N/L/d (medians; the members' own factor applies).
struct SeedEvent {
  double capacity_a = 0, capacity_n = 0;
};

// A moment at which something may have struck the bacteria. Each member takes one of them for true, or none (hit_log10 = 0).
struct HitEvent {
  int number = 0;
};

struct Event {
  double day = 0;
  std::variant<DoseEvent, WaterEvent, VolumeEvent, SeedEvent, HitEvent> what;
};

// A seedling's share of a full canopy, and how long it takes to close (estimates).
inline constexpr double kSeedlingCanopy = 0.1, kDaysToFullCanopy = 28;
// Straight lines from nothing at 5 degC to full at 22 and back to nothing at 34; fruiting crops 10, 25 and 36 (estimates).
double crop_temperature_factor(double temperature_c, bool fruiting);
// Daily light over 15 mol/m2/d, not above 1.5 (estimate).
double crop_light_factor(double dli_mol_m2_d);

struct TimedValue {
  double day = 0;
  double value = 0;
};

// Linear between points, held at the first value before them and at the last after.
double interpolate(const std::vector<TimedValue>& points, double day);

struct LoadPiece {  // of overlapping pieces loads add up and factors multiply; its `surface` and flags are not used
  double from = 0;
  double to = std::numeric_limits<double>::infinity();
  Loads loads;
};

// A crop that stands in the loop from `from` to `to` (docs/model/plant_uptake.md).
struct Planting {
  double from = 0;
  double to = std::numeric_limits<double>::infinity();
  double planted = 0;        // day, may lie before `from`
  double area_m2_per_l = 0;  // of the ground it will cover, as leafy crops that take as much
  bool fruiting = false;     // warmer optimum
  bool grows = true;         // from a seedling's canopy to a full one; false: full all the time
  double light = 1;          // factor of the uptake
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
  std::vector<TimedValue> oxygen_held;    // mg/L; where not empty, dissolved oxygen is this and no state
  double ionic_strength_mol_l = 0.005;
  double knot_days = 0, knots_from = 0;   // rates wander from knot to knot, d; 0: they do not
  std::vector<Event> events;              // sorted by day, at equal days in the order they act
  std::vector<LoadPiece> loads;
  std::vector<Planting> plantings;
  bool organic = true, urea = true;       // false: there never is any in the water
  Policy policy;
  std::vector<double> look_days;          // rising

  Environment environment(double day) const;
  Loads loads_at(double day) const;       // of the pieces that contain [day, day + a moment), with the plants as they are
  int knot_at(double day) const;          // Loads::knot
  double planted_at(double day) const;    // m2 of full canopy of leafy crops per litre, at their best temperature
};

}  // namespace helmwater::loop
