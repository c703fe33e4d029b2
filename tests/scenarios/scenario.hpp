// SPDX-License-Identifier: Apache-2.0
// Plain text scenarios: a set-up in a practitioner's words, and lines that say what must come of it.
// README.md beside this file lists the lines a scenario may hold.
#pragma once
#include <optional>
#include <stdexcept>
#include <string>
#include <vector>

namespace helmwater::scenarios {

enum class Quantity { ammonia, nitrite, nitrate, ph, alkalinity, ammonia_capacity, nitrite_capacity };

struct Dose {
  double day = 0;
  std::string substance;
  double amount = 0;  // mg N/L, or mg/L as CaCO3 for what carries no nitrogen
};
struct Plan {         // looked at once a day, from day 1
  double amount = 0;  // mg N/L added each time
  std::string substance = "ammonium chloride";
  double below_ammonia = 0.3;
  double below_nitrite = 3;
};
struct Disinfectant {
  double day = 0;
  double decades = 0;
};
struct SetUp {
  double temperature_c = 25;
  double oxygen_mg_l = 8;
  double alkalinity_caco3 = 150;
  double phosphate_p = 0.5;
  double nitrate_n = 0;
  double seed_ammonia = 1e-3, seed_nitrite = 1e-3;  // mg N/L/d
  std::optional<double> ph_high;                    // where it is not the handbook's
  double fish_ammonia = 0;                          // mg N/L/d excreted
  std::vector<Dose> doses;
  std::optional<Plan> plan;
  std::optional<double> keep_alkalinity_caco3;
  std::vector<Disinfectant> disinfectant;
};

struct Expectation {
  enum class Kind {
    on_day,
    change,
    slope,
    first_below,
    first_above,
    never_above,
    never_below,
    complete,
    never_complete,
    highest,
    doses
  };
  Kind kind = Kind::on_day;
  Quantity quantity = Quantity::ammonia;
  double threshold = 0;
  double low = 0, high = 0;
  double from_day = 0, to_day = 0;
  std::string text, source;
  int line = 0;
};

struct Scenario {
  std::string file, title;
  SetUp set_up;
  std::vector<Expectation> expectations;
  double last_day = 0;
};

// Throws std::runtime_error naming file and line for a line it does not understand.
Scenario read_scenario(const std::string& path);

struct Moment {
  double day = 0;
  double ammonia = 0, nitrite = 0, nitrate = 0, ph = 0, alkalinity = 0;
  double capacity_ammonia = 0, capacity_nitrite = 0;
  double of(Quantity q) const;
};
struct Course {
  std::vector<Moment> moments;     // every quarter of a day, before that moment's doses
  std::optional<double> complete;  // first day on which 2 mg N/L would be cleared within 24 h
  std::vector<double> dose_days;   // of the plan and the list
  std::string table() const;       // every day, for a reader of a failure
};

Course run_scenario(const SetUp& set_up, double days);

}  // namespace helmwater::scenarios
