// SPDX-License-Identifier: Apache-2.0
// The conditions all members of one loop share at one moment: temperature, oxygen, equilibrium constants.
#pragma once
#include "units/quantity.hpp"

namespace helmwater::loop {

struct Environment {
  double temperature_c = 20;
  double growth_dt = 0;     // degrees from 20 for the growth factors, held above 30 degC
  double hot = 1;           // falls from 1 at 34 degC to 0 at 42 degC
  double dt = 0;            // degrees from 20
  double oxygen_mg_l = 8;
  double k0 = 0;            // CO2, mol/L/atm
  double k1 = 0, k2 = 0, kw = 0, kn = 0, kp2 = 0, knit = 0;  // conditional constants, mol/L
  double inv_gamma1 = 1;    // [H+] = a_H / gamma1
  double kla_factor = 1;    // of k_la at this temperature
  double decay_factor = 1;  // theta_b^(T-20)
  double mineral_factor = 1;
};

// Constants from src/chem; temperature 0..45 degC. Dissolved oxygen is an input here.
Environment environment_at(units::Celsius temperature, units::OxygenO2 oxygen, units::IonicStrength ionic_strength);

// What comes in steadily during one step, per litre of the stated volume.
struct Loads {
  double feed_protein_mg_l_d = 0;  // protein fed to fish, mg/L/d
  double feed_n_org_mg_l_d = 0;    // nitrogen of food that no fish eats, mg N/L/d
  double unknown_feed = 0;         // 1 while fish are in and no feed was ever logged
  double plant_area_m2_per_l = 0;  // full-canopy equivalent
};

}  // namespace helmwater::loop
