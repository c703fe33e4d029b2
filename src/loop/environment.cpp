// SPDX-License-Identifier: Apache-2.0
#include "loop/environment.hpp"

#include <algorithm>
#include <cmath>

#include "chem/constants.hpp"
#include "chem/oxygen.hpp"

namespace helmwater::loop {

Environment environment_at(units::Celsius temperature, units::IonicStrength ionic_strength) {
  const double t = temperature.value();
  const chem::ConditionalConstants c = chem::conditional_constants(temperature, ionic_strength);
  Environment env;
  env.temperature_c = t;
  env.dt = t - 20;
  // Growth follows theta up to 30 degC, holds to 34 and falls to nothing at 42 (estimate; optimum 35/38 degC for pure
  // cultures, Grunditz & Dalhammar 2001).
  env.growth_dt = std::min(t, 30.0) - 20;
  env.hot = std::clamp((42 - t) / (42 - 34), 0.0, 1.0);
  env.oxygen_saturation_mg_l = chem::oxygen_saturation(temperature, units::Salinity{0}, units::Atm{1}).value();
  env.k0 = c.k0;
  env.k1 = c.k1;
  env.k2 = c.k2;
  env.kw = c.kw;
  env.kn = c.kn;
  env.kp2 = c.p2;
  env.knit = c.n2;
  env.inv_gamma1 = 1 / c.gamma1;
  env.kla_factor = std::pow(1.024, t - 20);      // common practice, from memory
  env.decay_factor = std::pow(1.029, t - 20);    // theta_b, Ekama / Metcalf & Eddy
  env.mineral_factor = std::pow(1.07, t - 20);   // estimate
  return env;
}

}  // namespace helmwater::loop
