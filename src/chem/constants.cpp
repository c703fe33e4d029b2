// SPDX-License-Identifier: Apache-2.0
#include "chem/constants.hpp"

#include <cmath>
#include <numbers>

#include "chem/activity.hpp"
#include "units/convert.hpp"

namespace helmwater::chem {
namespace {

using units::Celsius;
using units::kelvin;

// Coefficients as printed by Plummer & Busenberg (1982).
struct PlummerBusenberg {
  double a, b, c, d, e;
  double at(Celsius t) const {
    const double kelvins = kelvin(t);
    return a + b * kelvins + c / kelvins + d * std::log10(kelvins) + e / (kelvins * kelvins);
  }
};
constexpr PlummerBusenberg kCarbonDioxide{108.3865, 0.01985076, -6919.53, -40.45154, 669365.0};
constexpr PlummerBusenberg kCarbonic1{-356.3094, -0.06091964, 21834.37, 126.8339, -1684915.0};
constexpr PlummerBusenberg kCarbonic2{-107.8871, -0.03252849, 5151.79, 38.92561, -563713.9};
constexpr PlummerBusenberg kWater{-283.971, -0.05069842, 13323.0, 102.24447, -1119669.0};
constexpr PlummerBusenberg kCalcite{-171.9065, -0.077993, 2839.319, 71.595, 0.0};

// log K at 25 degC with enthalpy of dissociation in kJ/mol, van 't Hoff.
struct VantHoff {
  double log_k_25;
  double enthalpy_kj;
  double at(Celsius t) const {
    constexpr double kGasConstant = 8.314462618;  // J/mol/K
    return log_k_25 -
           enthalpy_kj * 1000.0 / (kGasConstant * std::numbers::ln10) * (1.0 / kelvin(t) - 1.0 / 298.15);
  }
};
// phreeqc.dat lists PO4--- + n H+: cumulative enthalpies -3.530, -4.520, -10.1 (kcal, kcal, kJ); the steps
// below are their differences, 1 kcal = 4.184 kJ.
constexpr double kKilojoulePerKilocalorie = 4.184;
constexpr VantHoff kPhosphoric1{-2.168, 10.1 - 4.520 * kKilojoulePerKilocalorie};
constexpr VantHoff kPhosphoric2{-7.207, (4.520 - 3.530) * kKilojoulePerKilocalorie};
constexpr VantHoff kPhosphoric3{-12.346, 3.530 * kKilojoulePerKilocalorie};
// minteq.v4.dat lists Citrate--- + n H+: log K 6.396, 11.157, 14.285; enthalpies 3.3472, 1.297, -2.7614
// kJ/mol.
constexpr VantHoff kCitric1{-(14.285 - 11.157), 2.7614 + 1.297};
constexpr VantHoff kCitric2{-(11.157 - 6.396), 3.3472 - 1.297};
constexpr VantHoff kCitric3{-6.396, -3.3472};

}  // namespace

double log_k0(Celsius t) { return kCarbonDioxide.at(t); }
double log_k1(Celsius t) { return kCarbonic1.at(t); }
double log_k2(Celsius t) { return kCarbonic2.at(t); }
double log_kw(Celsius t) { return kWater.at(t); }
double log_k_calcite(Celsius t) { return kCalcite.at(t); }
double log_k_ammonium(Celsius t) { return -(0.09018 + 2729.92 / kelvin(t)); }
double log_k_phosphoric_1(Celsius t) { return kPhosphoric1.at(t); }
double log_k_phosphoric_2(Celsius t) { return kPhosphoric2.at(t); }
double log_k_phosphoric_3(Celsius t) { return kPhosphoric3.at(t); }
// Anthonisen counts kelvins as 273 + t; kept as printed.
double log_k_nitrous(Celsius t) { return -2300.0 / (273.0 + t.value()) * std::numbers::log10e; }
double log_k_citric_1(Celsius t) { return kCitric1.at(t); }
double log_k_citric_2(Celsius t) { return kCitric2.at(t); }
double log_k_citric_3(Celsius t) { return kCitric3.at(t); }

ConditionalConstants conditional_constants(Celsius t, units::IonicStrength ionic_strength) {
  const auto power = [](double log_k) { return std::pow(10.0, log_k); };
  const double g1 = activity_coefficient(1, t, ionic_strength);
  const double g2 = activity_coefficient(2, t, ionic_strength);
  const double g3 = activity_coefficient(3, t, ionic_strength);
  ConditionalConstants c;
  c.gamma1 = g1;
  c.k0 = power(log_k0(t));
  c.k1 = power(log_k1(t)) / g1;
  c.k2 = power(log_k2(t)) * g1 / g2;
  c.kw = power(log_kw(t)) / g1;
  c.kn = power(log_k_ammonium(t)) * g1;  // the acid is the ion here
  c.p1 = power(log_k_phosphoric_1(t)) / g1;
  c.p2 = power(log_k_phosphoric_2(t)) * g1 / g2;
  c.p3 = power(log_k_phosphoric_3(t)) * g2 / g3;
  c.n2 = power(log_k_nitrous(t)) / g1;
  c.c1 = power(log_k_citric_1(t)) / g1;
  c.c2 = power(log_k_citric_2(t)) * g1 / g2;
  c.c3 = power(log_k_citric_3(t)) * g2 / g3;
  return c;
}

}  // namespace helmwater::chem
