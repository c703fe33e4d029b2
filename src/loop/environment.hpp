// SPDX-License-Identifier: Apache-2.0
// The conditions all members of one loop share at one moment: temperature, equilibrium constants, oxygen saturation;
// and what comes in or is switched off during one step.
#pragma once
#include "units/quantity.hpp"

namespace helmwater::loop {

struct Environment {
  double temperature_c = 20;
  double growth_dt = 0;     // degrees from 20 for the growth factors, held above 30 degC
  double hot = 1;           // falls from 1 at 34 degC to 0 at 42 degC
  double dt = 0;            // degrees from 20
  double oxygen_saturation_mg_l = 9.09;  // of fresh water under 1 atm
  double oxygen_held_mg_l = -1;  // dissolved oxygen held at this value; below zero: it is a state
  double k0 = 0;            // CO2, mol/L/atm
  double k1 = 0, k2 = 0, kw = 0, kn = 0, kp2 = 0, knit = 0;  // conditional constants, mol/L
  double inv_gamma1 = 1;    // [H+] = a_H / gamma1
  double kla_factor = 1;    // of k_la at this temperature
  double decay_factor = 1;  // theta_b^(T-20)
  double mineral_factor = 1;
};

// Constants from src/chem; temperature 0..45 degC.
Environment environment_at(units::Celsius temperature, units::IonicStrength ionic_strength);

// What acts steadily during one step; amounts per litre of the stated volume.
struct Loads {
  double feed_protein_mg_l_d = 0;  // protein fed to fish, mg/L/d
  double feed_n_org_mg_l_d = 0;    // nitrogen of food that no fish eats, mg N/L/d
  double unknown_feed = 0;         // 1 while fish are in and no feed was ever logged
  double fish_oxygen_mg_l_d = 0;   // breathed by fish that are fed, per litre of the stated volume
  double plant_area_m2_per_l = 0;  // full canopy of leafy crops in their best temperature that would take as much
  double evaporation_per_d = 0;    // the water shrinks at this rate, 1/d, and nothing refills it
  double top_up_per_d = 0;         // share of the water that evaporates and is refilled from the source, 1/d
  double transfer = 1;  // of the gas transfer, while air or pump are off
  double media = 1;     // of both steps of nitrification, while the pump is off
  double surface = 1;   // surface per litre over that at the start
  int knot = -1;        // which of Parameters::wander_a, wander_n acts; -1: none
  bool organic = true, urea = true;  // false: the water never holds any, the process is skipped
};

}  // namespace helmwater::loop
