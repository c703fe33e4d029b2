// SPDX-License-Identifier: Apache-2.0
// A person beside a colour chart: what he writes down for a water, with his habits and his kit's faults.
#pragma once
#include <string>
#include <vector>

#include "dice.hpp"

namespace helmwater::tests {

struct Chart {
  std::string test;    // as in the log
  std::string basis;   // as in loop.toml, empty for pH
  double per_standard = 1;  // chart number of 1 mg N/L (alkalinity: of 1 meq/L)
  std::vector<double> steps;
  bool drops = false;  // counted drops, no colours
};

// Drawn once: a kit's and a person's constant faults (ln; pH units for pH).
struct Kits {
  std::vector<Chart> charts;    // ammonia, nitrite, nitrate, pH, alkalinity
  std::vector<double> bias;
  double nitrate_efficiency = 0.3;  // with which nitrate is reduced, nitrite being met in full
};
struct Person {
  std::string name;
  std::vector<double> bias;     // by chart
  double unsteadiness = 0.2;    // ln-sd of one look
  double between_habit = 0.5;   // how often he says "between" where it is
  double zero_below = 0.6;      // share of the first patch under which he sees nothing
  double slips = 0.03;          // chance that a reading means nothing
};

Kits draw_kits(Dice& dice);
Person draw_person(Dice& dice, const Kits& kits, const std::string& name);

struct Written {
  std::string value, unit;
  double seen = 0;    // what he believes, in the chart's numbers
  bool zero = false;
};
// `met`: mg N/L, meq/L or pH, as the test's chemistry meets it.
Written read_vial(Dice& dice, const Kits& kits, const Person& person, std::size_t chart, double met);

}  // namespace helmwater::tests
