// SPDX-License-Identifier: Apache-2.0
// The one set of equilibrium constants that everything in Helmwater uses.
//
// log10 K at ionic strength 0, mol/L, atm. pH is an activity: a_H = 10^-pH.
//   K0, K1, K2, Kw, Kcalcite   Plummer & Busenberg 1982: log K = a + bT + c/T + d log10 T + e/T^2, T in K.
//   Read in four
//                              independent copies and in PHREEQC's phreeqc.dat; Kw is of the same form there.
//   NH4+ = NH3 + H+            Emerson et al. 1975: pKa = 0.09018 + 2729.92/T, 0..50 degC. (2727.92, printed
//   in some
//                              places, is a misprint: it does not give the published table of fractions.)
//   H3PO4 steps                log K at 25 degC and enthalpy as in phreeqc.dat, van 't Hoff
//   HNO2                       Anthonisen et al. 1976: Ka = exp(-2300/(273+t))
//   citric acid steps          pK at 25 degC and enthalpy as in PHREEQC's minteq.v4.dat, van 't Hoff
// Range: 0..50 degC.
#pragma once
#include "units/quantity.hpp"

namespace helmwater::chem {

double log_k0(units::Celsius);         // CO2(g) = CO2*(aq), mol/L/atm
double log_k1(units::Celsius);         // CO2* + H2O = HCO3- + H+
double log_k2(units::Celsius);         // HCO3- = CO3-- + H+
double log_kw(units::Celsius);         // H2O = H+ + OH-
double log_k_calcite(units::Celsius);  // CaCO3 = Ca++ + CO3--
double log_k_ammonium(units::Celsius);
double log_k_phosphoric_1(units::Celsius);
double log_k_phosphoric_2(units::Celsius);
double log_k_phosphoric_3(units::Celsius);
double log_k_nitrous(units::Celsius);
double log_k_citric_1(units::Celsius);
double log_k_citric_2(units::Celsius);
double log_k_citric_3(units::Celsius);

// Constants as they act on concentrations at one temperature and ionic strength while pH stays an activity:
// K' = a_H [base]/[acid]. Plain numbers, for inner loops.
struct ConditionalConstants {
  double k0 = 0;  // mol/L/atm
  double k1 = 0;  // mol/L, as all below
  double k2 = 0;
  double kw = 0;  // a_H [OH-]
  double kn = 0;  // ammonium
  double p1 = 0;
  double p2 = 0;
  double p3 = 0;
  double n2 = 0;  // nitrous acid
  double c1 = 0;
  double c2 = 0;
  double c3 = 0;
  double gamma1 = 1;  // activity coefficient of a singly charged ion: [H+] = a_H/gamma1
};

ConditionalConstants conditional_constants(units::Celsius temperature, units::IonicStrength ionic_strength);

}  // namespace helmwater::chem
