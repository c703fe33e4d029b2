// SPDX-License-Identifier: Apache-2.0
#include "chem/carbonate.hpp"

#include <fmt/format.h>

#include <cmath>
#include <utility>

#include "chem/activity.hpp"
#include "units/convert.hpp"
#include "units/parse.hpp"

namespace helmwater::chem {
namespace {

constexpr double kLowestPh = 0.5;
constexpr double kHighestPh = 13.5;
// Total carbon this little below zero (mol/L) is no contradiction: pKw is known to about 0.001, which is
// 2e-10 eq/L in neutral water.
constexpr double kCarbonNoise = 1e-9;

// Net alkalinity per mole of an acid with three steps whose once-dissociated form is the zero level.
double triprotic(double a, double k1, double k2, double k3) {
  const double once = k1 / a;            // H2X- relative to H3X
  const double twice = once * k2 / a;    // HX--
  const double thrice = twice * k3 / a;  // X---
  return (twice + 2.0 * thrice - 1.0) / (1.0 + once + twice + thrice);
}

std::string in_words(const std::string& reading) {
  if (reading == "ph") return "pH";
  if (reading == "total_carbon") return "total carbon";
  if (reading == "pco2") return "CO2 pressure";
  return reading;
}

std::string joined(const std::vector<std::string>& names) {
  std::string out;
  for (std::size_t i = 0; i < names.size(); ++i) {
    if (i > 0) out += i + 1 == names.size() ? " and " : ", ";
    out += in_words(names[i]);
  }
  return out;
}

CarbonateError error(CarbonateError::Kind kind, std::vector<std::string> readings, std::string message) {
  return {kind, std::move(readings), std::move(message)};
}

}  // namespace

Equilibrium::Equilibrium(const Conditions& conditions, const Dissolved& dissolved)
    : k_(conditional_constants(conditions.temperature, conditions.ionic_strength)),
      ammonia_(units::mol_per_l(dissolved.ammonia)),
      phosphate_(units::mol_per_l(dissolved.phosphate)),
      nitrite_(units::mol_per_l(dissolved.nitrite)),
      citrate_(units::mol_per_l(dissolved.citrate)) {}

Equilibrium::Fractions Equilibrium::fractions(double a) const {
  const double bicarbonate = k_.k1 / a;  // relative to CO2*
  const double carbonate = bicarbonate * k_.k2 / a;
  const double sum = 1.0 + bicarbonate + carbonate;
  return {1.0 / sum, bicarbonate / sum, carbonate / sum};
}

Equilibrium::Parts Equilibrium::parts(double a) const {
  return {k_.kw / a,
          -a / k_.gamma1,
          ammonia_ / (1.0 + a / k_.kn),
          phosphate_ * triprotic(a, k_.p1, k_.p2, k_.p3),
          -nitrite_ / (1.0 + k_.n2 / a),
          citrate_ * triprotic(a, k_.c1, k_.c2, k_.c3)};
}

CarbonateState Equilibrium::state(double ph, double carbon, double alkalinity) const {
  const Fractions f = fractions(std::pow(10.0, -ph));
  return {units::Ph{ph},
          units::AlkalinityMeq{1000.0 * alkalinity},
          units::MmolPerL{1000.0 * carbon},
          units::gas_ppm_from_atm(units::Atm{carbon * f.co2 / k_.k0}),
          units::MmolPerL{1000.0 * carbon * f.co2},
          units::MmolPerL{1000.0 * carbon * f.bicarbonate},
          units::MmolPerL{1000.0 * carbon * f.carbonate}};
}

template <class Alkalinity>
tl::expected<double, CarbonateError> Equilibrium::solve_ph(const Alkalinity& alkalinity_at, double wanted,
                                                           std::vector<std::string> readings) const {
  double low = kLowestPh;
  double high = kHighestPh;
  if (alkalinity_at(low) > wanted || alkalinity_at(high) < wanted) {
    const std::string message = fmt::format(
        "{} together would need a pH outside {} to {}, where these equations do not hold; check both",
        joined(readings), kLowestPh, kHighestPh);
    return tl::unexpected(error(CarbonateError::Kind::out_of_range, std::move(readings), message));
  }
  // The balance rises with pH: 60 halvings bring 13 pH units below the last digit of a double.
  for (int i = 0; i < 60; ++i) {
    const double middle = 0.5 * (low + high);
    (alkalinity_at(middle) < wanted ? low : high) = middle;
  }
  return 0.5 * (low + high);
}

CarbonateResult Equilibrium::from_ph_and_alkalinity(units::Ph ph, units::AlkalinityMeq alkalinity) const {
  const double a = std::pow(10.0, -ph.value());
  const Parts other = parts(a);
  const Fractions f = fractions(a);
  const double wanted = units::eq_per_l(alkalinity);
  const double carbon = (wanted - other.sum()) / (f.bicarbonate + 2.0 * f.carbonate);
  if (carbon >= 0) return state(ph.value(), carbon, wanted);
  if (carbon > -kCarbonNoise) return state(ph.value(), 0.0, other.sum());

  // Who holds the alkalinity that carbon cannot: named in the message so that the right test is repeated.
  std::vector<std::string> readings{"ph", "alkalinity"};
  std::vector<std::string> holders;
  const auto add = [&](double part, const char* reading, const char* name) {
    if (part < 0.05 * other.sum()) return;
    holders.push_back(fmt::format("{} {} meq/L", name, units::number_text(1000.0 * part)));
    if (reading != nullptr) readings.emplace_back(reading);
  };
  add(other.ammonia, "ammonia", "ammonia");
  add(other.phosphate, "phosphate", "phosphate");
  add(other.citrate, "citrate", "citrate");
  add(other.hydroxide, nullptr, "hydroxide");
  std::string message =
      fmt::format("pH {} and alkalinity {} meq/L contradict each other", units::number_text(ph.value(), 4),
                  units::number_text(alkalinity.value(), 4));
  if (!holders.empty())
    message +=
        fmt::format(": at this pH {} alone would make more alkalinity than was measured", joined(holders));
  message += fmt::format("; total carbon would have to be {} mmol/L, below zero. Measure {} again",
                         units::number_text(1000.0 * carbon), joined(readings));
  return tl::unexpected(error(CarbonateError::Kind::contradiction, std::move(readings), std::move(message)));
}

CarbonateResult Equilibrium::from_ph_and_carbon(units::Ph ph, units::MmolPerL total_carbon) const {
  const double a = std::pow(10.0, -ph.value());
  const double carbon = units::mol_per_l(total_carbon);
  const Fractions f = fractions(a);
  return state(ph.value(), carbon, carbon * (f.bicarbonate + 2.0 * f.carbonate) + parts(a).sum());
}

CarbonateResult Equilibrium::from_ph_and_pco2(units::Ph ph, units::GasPpm pco2) const {
  const double carbon =
      units::mol_per_l(co2_in_equilibrium(pco2)) / fractions(std::pow(10.0, -ph.value())).co2;
  return from_ph_and_carbon(ph, units::MmolPerL{1000.0 * carbon});
}

CarbonateResult Equilibrium::from_alkalinity_and_carbon(units::AlkalinityMeq alkalinity,
                                                        units::MmolPerL total_carbon) const {
  const double carbon = units::mol_per_l(total_carbon);
  const auto alkalinity_at = [&](double ph) {
    const double a = std::pow(10.0, -ph);
    const Fractions f = fractions(a);
    return carbon * (f.bicarbonate + 2.0 * f.carbonate) + parts(a).sum();
  };
  const double wanted = units::eq_per_l(alkalinity);
  const auto ph = solve_ph(alkalinity_at, wanted, {"alkalinity", "total_carbon"});
  if (!ph) return tl::unexpected(ph.error());
  return state(*ph, carbon, wanted);
}

CarbonateResult Equilibrium::from_alkalinity_and_pco2(units::AlkalinityMeq alkalinity,
                                                      units::GasPpm pco2) const {
  const double co2 = units::mol_per_l(co2_in_equilibrium(pco2));
  const auto alkalinity_at = [&](double ph) {
    const double a = std::pow(10.0, -ph);
    return co2 * (k_.k1 / a) * (1.0 + 2.0 * k_.k2 / a) + parts(a).sum();
  };
  const double wanted = units::eq_per_l(alkalinity);
  const auto ph = solve_ph(alkalinity_at, wanted, {"alkalinity", "pco2"});
  if (!ph) return tl::unexpected(ph.error());
  return state(*ph, co2 / fractions(std::pow(10.0, -*ph)).co2, wanted);
}

CarbonateResult Equilibrium::from_carbon_and_pco2(units::MmolPerL total_carbon, units::GasPpm pco2) const {
  const double carbon = units::mol_per_l(total_carbon);
  const double co2 = units::mol_per_l(co2_in_equilibrium(pco2));
  std::vector<std::string> readings{"total_carbon", "pco2"};
  if (carbon == 0 && co2 == 0)
    return tl::unexpected(
        error(CarbonateError::Kind::undetermined, std::move(readings),
              "no carbon and no CO2 fit every pH; give the pH or the alkalinity instead of one of them"));
  if (co2 >= carbon || co2 == 0)
    return tl::unexpected(error(
        CarbonateError::Kind::contradiction, std::move(readings),
        fmt::format(
            "total carbon {} mmol/L and CO2 pressure {} ppm contradict each other: that pressure alone puts "
            "{} "
            "mmol/L of CO2 into the water, which must be more than nothing and less than the total carbon. "
            "Measure both again",
            units::number_text(total_carbon.value(), 4), units::number_text(pco2.value(), 4),
            units::number_text(1000.0 * co2))));
  // CO2*/C_T = a^2/(a^2 + K1 a + K1 K2) is a quadratic in 1/a: K1 K2 y^2 + K1 y - (C_T/CO2* - 1) = 0.
  const double excess = carbon / co2 - 1.0;
  const double y = 2.0 * excess / (k_.k1 + std::sqrt(k_.k1 * k_.k1 + 4.0 * k_.k1 * k_.k2 * excess));
  const double ph = std::log10(y);
  if (!(ph >= kLowestPh && ph <= kHighestPh)) {
    const std::string message = fmt::format(
        "{} together would need a pH of {}, outside {} to {}, where these equations do not hold; check both",
        joined(readings), units::fixed_text(ph, 1), kLowestPh, kHighestPh);
    return tl::unexpected(error(CarbonateError::Kind::out_of_range, std::move(readings), message));
  }
  return from_ph_and_carbon(units::Ph{ph}, total_carbon);
}

units::AlkalinityMeq Equilibrium::balance_residual(const CarbonateState& s) const {
  const double a = std::pow(10.0, -s.ph.value());
  return units::AlkalinityMeq{s.alkalinity.value() - s.bicarbonate.value() - 2.0 * s.carbonate.value() -
                              1000.0 * parts(a).sum()};
}

units::AlkalinityMeq Equilibrium::non_carbonate_alkalinity(units::Ph ph) const {
  return units::AlkalinityMeq{1000.0 * parts(std::pow(10.0, -ph.value())).sum()};
}

units::AlkalinityMeq Equilibrium::buffer_capacity(units::Ph ph, units::MmolPerL total_carbon) const {
  // Central difference; the balance is smooth and 1e-4 pH leaves a relative error below 1e-7.
  constexpr double kStep = 1e-4;
  const double carbon = total_carbon.value();
  const auto at = [&](double p) {
    const Fractions f = fractions(std::pow(10.0, -p));
    return carbon * (f.bicarbonate + 2.0 * f.carbonate) + non_carbonate_alkalinity(units::Ph{p}).value();
  };
  return units::AlkalinityMeq{(at(ph.value() + kStep) - at(ph.value() - kStep)) / (2.0 * kStep)};
}

units::MmolPerL Equilibrium::co2_in_equilibrium(units::GasPpm pco2) const {
  return units::MmolPerL{1000.0 * k_.k0 * units::atm_from_gas_ppm(pco2).value()};
}

double calcite_saturation_index(units::MmolPerL calcium, units::MmolPerL carbonate,
                                const Conditions& conditions) {
  const double g2 = activity_coefficient(2, conditions.temperature, conditions.ionic_strength);
  return std::log10(g2 * units::mol_per_l(calcium) * g2 * units::mol_per_l(carbonate)) -
         log_k_calcite(conditions.temperature);
}

units::MmolPerLPerHour co2_exchange(units::PerHour kla_co2, const CarbonateState& water, units::GasPpm air,
                                    const Equilibrium& equilibrium) {
  return kla_co2 * (equilibrium.co2_in_equilibrium(air) - water.co2);
}

}  // namespace helmwater::chem
