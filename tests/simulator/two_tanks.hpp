// SPDX-License-Identifier: Apache-2.0
// A fish tank and a bed with water going round between them: nitrifiers as biomass, oxygen, carbonate pH. Built apart from
// src/loop on purpose: it shares no code, no states and few rate laws with it (docs/decisions/007-second-simulator.md).
#pragma once
#include <array>
#include <vector>

namespace helmwater::tests {

// Deeds and readings happen on quarter hours.
inline constexpr int kTicksPerDay = 96;

struct Fill {
  double nitrate = 0;     // mg N/L
  double alkalinity = 0;  // meq/L
  double ph = 7.5;
};

// One loop's nature. Rates at 20 degC per day; concentrations mg N/L unless said.
struct Nature {
  double tank_litres = 250, bed_litres = 100;
  double flow_per_day = 2400;  // L/d from tank to bed and back
  double growth_a = 0.7, growth_n = 0.6;
  double decay_a = 0.07, decay_n = 0.06;
  double yield_a = 0.15, yield_n = 0.06;      // mg COD / mg N
  double activation_a = 68, activation_n = 44;  // kJ/mol
  double half_a = 0.6, half_n = 0.4;
  double haldane_a = 60, haldane_n = 50;      // substrate that halves what is left of the rate
  double free_ammonia_n = 0.6;                // mg NH3-N/L
  double acid_half = 6.3, base_half = 9.5;    // pH at which the rate has halved
  double carbonate_half = 0.12;               // meq/L
  double oxygen_half_a = 0.6, oxygen_half_n = 0.9;  // mg O2/L
  double lag_a = 0, lag_n = 0;                // d
  double film_a = 30, film_n = 30;            // mg N/L/d: capacity at which shedding equals growth
  double seed_a = 1e-3, seed_n = 1e-3;        // mg N/L/d: capacity at the start
  double bed_share = 0.85;                    // of the seed that sits in the bed
  double mineralisation = 0.15;
  double kla_tank = 60, kla_bed = 20;         // 1/d, oxygen
  double air_co2_ppm = 600, night_co2_ppm = 100;
  double algae = 0.4;                         // mg O2/L/d made, mean over the day
  double denitrification = 0.003;             // 1/d in the bed
  double evaporation = 3;                     // L/d, from the tank
  double uptake = 0.25;                       // g N/m2/d of a full canopy
  double excreted = 0.575, faeces = 0.15;     // share of feed N
  Fill source;
  double kill_decades = 0;                    // per whole exchange with new water
  double oxygen_held = 0;                     // mg O2/L where the bacteria sit; 0: as it comes out
  // One value per hour from the start.
  std::vector<double> temperature, wander_a, wander_n;  // degC; ln of the rate factor
};

struct TankWater {
  double tan = 0, no2 = 0, no3 = 0;  // mg N/L
  double ph = 7, alkalinity = 0, oxygen = 0;  // meq/L, mg/L
  double temperature = 20;
};

class TwoTanks {
 public:
  // `fineness`: steps per tick; more are taken when films eat faster than a step can follow.
  TwoTanks(const Nature& nature, int fineness);

  void advance_one_tick();
  TankWater tank() const;  // where the owner takes his samples
  double mean_nitrite() const;  // mg N/L over both tanks: new water reaches the bed only after a while
  double litres() const { return tank_litres_ + nature_.bed_litres; }

  void dose(double mg_tan, double meq_alkalinity, double mmol_dic);
  void change_water(double litres);  // out of the tank, and in again from the source
  void top_up();                     // to the first level; the owner guesses the amount
  double missing_litres() const { return nature_.tank_litres - tank_litres_; }
  void feed(double grams, double protein_share);
  void stock_fish(double grams_feed_per_day) { fish_feed_ = grams_feed_per_day; }
  void plant(double square_metres);
  void strike(double decades);  // a disinfectant, over both tanks

  // Nitrogen that went in less what is there, taken up or gone, over what went in.
  double nitrogen_balance_error() const;
  bool finite() const;

 private:
  enum Species { kTan, kNo2, kNo3, kOrganic, kAlk, kDic, kOxygen, kA, kN, kSpecies };
  enum Whole { kGut = 2 * kSpecies, kTaken, kGas, kStates };
  using State = std::array<double, kStates>;  // mg, meq, mmol in the whole of each tank

  struct Surroundings {  // at one moment
    double temperature, growth_a, growth_n, decay_a, decay_n, mineralisation, light, canopy;
    double k1, k1k2, kw, kn;             // mmol/L
    double co2_saturation, o2_saturation;  // mmol/L, mg/L
  };
  Surroundings at(double day) const;
  void derive(const State& y, const Surroundings& s, double tank_litres, State& d);
  double nitrogen(const State& y) const;
  double fastest() const;  // 1/d, of flow, aeration and films

  Nature nature_;
  int fineness_;
  long ticks_ = 0;
  double tank_litres_;
  State y_{};
  std::array<double, 2> h_{3e-5, 3e-5};  // mmol/L, last solution of each tank
  double acid_ = 0, base_ = 0;           // mol/L at the two half-rates
  double fish_feed_ = 0;
  double square_metres_ = 0, planted_day_ = 0;
  double nitrogen_in_ = 0, nitrogen_out_ = 0;
};

}  // namespace helmwater::tests
