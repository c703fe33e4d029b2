// SPDX-License-Identifier: Apache-2.0
#include "chem/ammonia.hpp"

#include <cmath>

#include "chem/activity.hpp"
#include "chem/constants.hpp"
#include "units/convert.hpp"

namespace helmwater::chem {
namespace {

double fraction(double pka, double ph) { return 1.0 / (1.0 + std::pow(10.0, pka - ph)); }

}  // namespace

double free_ammonia_fraction(units::Ph ph, units::Celsius temperature, units::IonicStrength ionic_strength) {
  const double pka =
      -log_k_ammonium(temperature) - std::log10(activity_coefficient(1, temperature, ionic_strength));
  return fraction(pka, ph.value());
}

units::FreeAmmoniaN free_ammonia(units::AmmoniaN total, units::Ph ph, units::Celsius temperature,
                                 units::IonicStrength ionic_strength) {
  return units::FreeAmmoniaN{total.value() * free_ammonia_fraction(ph, temperature, ionic_strength)};
}

units::AmmoniaN total_ammonia_for_free(units::FreeAmmoniaN free, units::Ph ph, units::Celsius temperature,
                                       units::IonicStrength ionic_strength) {
  return units::AmmoniaN{free.value() / free_ammonia_fraction(ph, temperature, ionic_strength)};
}

double free_ammonia_fraction_salt(units::Ph ph, units::Celsius temperature, units::Salinity salinity,
                                  HydrogenScale scale) {
  const double t = units::kelvin(temperature);
  const double s = salinity.value();
  const double root_s = std::sqrt(s);
  const double root_t = std::sqrt(t);
  // Coefficients as in the R package wq (ammFrac), after Clegg & Whitfield 1995.
  const double pure_water = 9.244605 - 2729.33 * (1.0 / 298.15 - 1.0 / t);
  if (scale == HydrogenScale::free) {
    const double pka = pure_water + (0.0500616 - 9.412696 / t - 2.029559e-7 * t * t) * root_s +
                       (-0.0142372 + 1.46041e-5 * t + 3.730005 / t) * s +
                       (7.1047e-5 - 0.0229021 / t) * s * s + (-5.521278e-7 + 1.95413e-4 / t) * s * s * s;
    return fraction(pka, ph.value());
  }
  const double pka = pure_water + (0.04203362 - 11.24742 / t) * std::sqrt(root_s) +
                     (-13.6416 + 1.176949 * root_t - 0.02860785 * t + 545.4834 / t) * root_s +
                     (-0.1462507 + 0.009022648 * root_t - 1.471361e-4 * t + 10.5425 / t) * s * root_s +
                     (0.004669309 - 1.691742e-4 * root_t - 0.5677934 / t) * s * s +
                     (-2.354039e-5 + 0.009698623 / t) * s * s * root_s;
  return fraction(pka, ph.value());
}

}  // namespace helmwater::chem
