// SPDX-License-Identifier: Apache-2.0
// Named conversions between the ways water people count the same thing.
// Molar masses in g/mol from the IUPAC abridged atomic weights (H 1.008, C 12.011, N 14.007, O 15.999,
// P 30.974, Cl 35.453, Ca 40.078); factors follow from them by arithmetic unless a line says otherwise.
#pragma once
#include "units/quantity.hpp"

namespace helmwater::units {

inline constexpr double kMolarMassN = 14.007;
inline constexpr double kMolarMassNH3 = 17.031;
inline constexpr double kMolarMassNH4 = 18.039;
inline constexpr double kMolarMassNO2 = 46.005;
inline constexpr double kMolarMassNO3 = 62.004;
inline constexpr double kMolarMassP = 30.974;
inline constexpr double kMolarMassPO4 = 94.970;
inline constexpr double kMolarMassCO2 = 44.009;
inline constexpr double kMolarMassO2 = 31.998;
inline constexpr double kMolarMassCl2 = 70.906;
inline constexpr double kMolarMassCaCO3 = 100.087;

// mg CaCO3 per meq: half a mole of CaCO3 takes up one equivalent of acid.
inline constexpr double kCaCO3MgPerMeq = kMolarMassCaCO3 / 2;
// One German degree is 10 mg/L CaO: 10 x 100.087 / 56.077, usually printed 17.848 mg/L CaCO3.
inline constexpr double kCaCO3MgPerDkh = 17.848;
inline constexpr double kCaCO3MgPerFrenchDegree = 10.0;  // definition
inline constexpr double kCaCO3MgPerEnglishDegree =
    14.254;  // 1 grain per imperial gallon: 64.79891 mg / 4.54609 L
inline constexpr double kCaCO3MgPerGrainPerUsGallon = 17.118;  // 64.79891 mg / 3.7854118 L
// mg HCO3- per meq of bicarbonate alkalinity.
inline constexpr double kBicarbonateMgPerMeq = 61.017;

inline constexpr double kLitresPerUsGallon = 3.785411784;             // exact
inline constexpr double kLitresPerImperialGallon = 4.54609;           // exact
inline constexpr double kLitresPerCubicFoot = 28.316846592;           // exact
inline constexpr double kMillilitresPerUsFluidOunce = 29.5735295625;  // exact
inline constexpr double kGramsPerOunce = 28.349523125;                // exact
inline constexpr double kGramsPerPound = 453.59237;                   // exact
inline constexpr double kMmHgPerAtm = 760.0;                          // exact (torr)
inline constexpr double kKilopascalPerAtm = 101.325;                  // exact
inline constexpr double kMmHgPerInchHg = 25.4;                        // exact
inline constexpr double kKelvinAtZeroCelsius = 273.15;

// Ammonia
constexpr AmmoniaN as_n(AmmoniaNH3 c) { return AmmoniaN{c.value() * kMolarMassN / kMolarMassNH3}; }
constexpr AmmoniaN as_n(AmmoniaNH4 c) { return AmmoniaN{c.value() * kMolarMassN / kMolarMassNH4}; }
constexpr AmmoniaNH3 as_nh3(AmmoniaN c) { return AmmoniaNH3{c.value() * kMolarMassNH3 / kMolarMassN}; }
constexpr AmmoniaNH4 as_nh4(AmmoniaN c) { return AmmoniaNH4{c.value() * kMolarMassNH4 / kMolarMassN}; }
constexpr FreeAmmoniaNH3 as_nh3(FreeAmmoniaN c) {
  return FreeAmmoniaNH3{c.value() * kMolarMassNH3 / kMolarMassN};
}
constexpr FreeAmmoniaN as_n(FreeAmmoniaNH3 c) {
  return FreeAmmoniaN{c.value() * kMolarMassN / kMolarMassNH3};
}
// Ammonia in monochloramine NH2Cl, which kits and dechlorination count as Cl2: one N per Cl2.
constexpr AmmoniaN ammonia_in_chloramine(ChlorineCl2 c) {
  return AmmoniaN{c.value() * kMolarMassN / kMolarMassCl2};
}

// Nitrite and nitrate
constexpr NitriteN as_n(NitriteIon c) { return NitriteN{c.value() * kMolarMassN / kMolarMassNO2}; }
constexpr NitriteIon as_no2(NitriteN c) { return NitriteIon{c.value() * kMolarMassNO2 / kMolarMassN}; }
constexpr NitrateN as_n(NitrateIon c) { return NitrateN{c.value() * kMolarMassN / kMolarMassNO3}; }
constexpr NitrateIon as_no3(NitrateN c) { return NitrateIon{c.value() * kMolarMassNO3 / kMolarMassN}; }

// Phosphate
constexpr PhosphateP as_p(PhosphateIon c) { return PhosphateP{c.value() * kMolarMassP / kMolarMassPO4}; }
constexpr PhosphateIon as_po4(PhosphateP c) { return PhosphateIon{c.value() * kMolarMassPO4 / kMolarMassP}; }

// Alkalinity
constexpr AlkalinityMeq as_meq(AlkalinityCaCO3 a) { return AlkalinityMeq{a.value() / kCaCO3MgPerMeq}; }
constexpr AlkalinityMeq as_meq(AlkalinityDkh a) {
  return AlkalinityMeq{a.value() * kCaCO3MgPerDkh / kCaCO3MgPerMeq};
}
constexpr AlkalinityCaCO3 as_caco3(AlkalinityMeq a) { return AlkalinityCaCO3{a.value() * kCaCO3MgPerMeq}; }
constexpr AlkalinityCaCO3 as_caco3(AlkalinityDkh a) { return AlkalinityCaCO3{a.value() * kCaCO3MgPerDkh}; }
constexpr AlkalinityDkh as_dkh(AlkalinityMeq a) {
  return AlkalinityDkh{a.value() * kCaCO3MgPerMeq / kCaCO3MgPerDkh};
}
constexpr AlkalinityDkh as_dkh(AlkalinityCaCO3 a) { return AlkalinityDkh{a.value() / kCaCO3MgPerDkh}; }

// Temperature: points and differences convert differently.
constexpr Celsius celsius_from_fahrenheit(double degrees_f) { return Celsius{(degrees_f - 32.0) / 1.8}; }
constexpr double fahrenheit(Celsius t) { return t.value() * 1.8 + 32.0; }
constexpr CelsiusDifference difference_from_fahrenheit(double degrees_f) {
  return CelsiusDifference{degrees_f / 1.8};
}
constexpr double kelvin(Celsius t) { return t.value() + kKelvinAtZeroCelsius; }

// Volume, mass, pressure
constexpr Litres litres_from_us_gallons(double gallons) { return Litres{gallons * kLitresPerUsGallon}; }
constexpr Litres litres_from_imperial_gallons(double gallons) {
  return Litres{gallons * kLitresPerImperialGallon};
}
constexpr double us_gallons(Litres v) { return v.value() / kLitresPerUsGallon; }
constexpr Litres as_litres(Millilitres v) { return Litres{v.value() / 1000.0}; }
constexpr Millilitres as_millilitres(Litres v) { return Millilitres{v.value() * 1000.0}; }
constexpr Atm atm_from_mmhg(double mmhg) { return Atm{mmhg / kMmHgPerAtm}; }
constexpr Atm atm_from_kilopascal(double kpa) { return Atm{kpa / kKilopascalPerAtm}; }
constexpr Atm atm_from_gas_ppm(GasPpm ppm) { return Atm{ppm.value() * 1e-6}; }
constexpr GasPpm gas_ppm_from_atm(Atm p) { return GasPpm{p.value() * 1e6}; }

// Moles of what is counted, per litre of water; for the equilibrium equations.
constexpr double mol_per_l(AmmoniaN c) { return c.value() / (1000.0 * kMolarMassN); }
constexpr double mol_per_l(NitriteN c) { return c.value() / (1000.0 * kMolarMassN); }
constexpr double mol_per_l(NitrateN c) { return c.value() / (1000.0 * kMolarMassN); }
constexpr double mol_per_l(PhosphateP c) { return c.value() / (1000.0 * kMolarMassP); }
constexpr double mol_per_l(MmolPerL c) { return c.value() / 1000.0; }
constexpr CarbonDioxideCO2 as_co2(MmolPerL c) { return CarbonDioxideCO2{c.value() * kMolarMassCO2}; }
constexpr MmolPerL as_mmol(CarbonDioxideCO2 c) { return MmolPerL{c.value() / kMolarMassCO2}; }
constexpr double eq_per_l(AlkalinityMeq a) { return a.value() / 1000.0; }

}  // namespace helmwater::units
