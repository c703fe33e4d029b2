// SPDX-License-Identifier: Apache-2.0
// The carbonate system with everything else that takes up acid: one alkalinity balance, solved for any pair
// of pH, alkalinity, total carbon and CO2 pressure.
//
//   Alk = C_T (a1 + 2 a2) + [OH-] - [H+] + NH3 + (HPO4-- + 2 PO4--- - H3PO4) - HNO2 + (HCit-- + 2 Cit--- -
//   H3Cit) zero level of proton: CO2*, NH4+, H2PO4-, NO2-, H2Cit-. This is what an alkalinity titration to
//   pH 4.5 measures. closed: total carbon given.  open: CO2* = K0 pCO2.  The right side rises with pH in
//   both.
// pH is an activity. Range: 0..50 degC, ionic strength 0..0.1 mol/L, pH 0.5..13.5. Ca and Mg ion pairs are
// left out, which makes pH up to 0.02 too high in very hard water (PHREEQC comparison in tests/reference).
#pragma once
#include <string>
#include <tl/expected.hpp>
#include <vector>

#include "chem/constants.hpp"
#include "units/quantity.hpp"

namespace helmwater::chem {

struct Conditions {
  units::Celsius temperature{25.0};
  units::IonicStrength ionic_strength{0.005};
};

// Other acids and bases in the water, as totals.
struct Dissolved {
  units::AmmoniaN ammonia{0};
  units::PhosphateP phosphate{0};
  units::NitriteN nitrite{0};
  units::MmolPerL citrate{0};
};

struct CarbonateState {
  units::Ph ph;
  units::AlkalinityMeq alkalinity;
  units::MmolPerL total_carbon;
  units::GasPpm pco2;  // partial pressure in micro-atmospheres
  units::MmolPerL co2;
  units::MmolPerL bicarbonate;
  units::MmolPerL carbonate;
};

struct CarbonateError {
  enum class Kind {
    contradiction,  // no water can have both
    undetermined,   // any pH would fit
    out_of_range    // the pH would lie outside 0.5..13.5
  } kind = Kind::contradiction;
  std::vector<std::string> readings;  // "ph", "alkalinity", "total_carbon", "pco2", "ammonia", "phosphate", …
  std::string message;                // a plain sentence with the figures
};
using CarbonateResult = tl::expected<CarbonateState, CarbonateError>;

// One water's equilibrium at fixed temperature, ionic strength and dissolved totals. Requires: finite values,
// totals 0 or more; total carbon and pCO2 given to a function 0 or more.
class Equilibrium {
 public:
  Equilibrium(const Conditions& conditions, const Dissolved& dissolved);

  CarbonateResult from_ph_and_alkalinity(units::Ph ph, units::AlkalinityMeq alkalinity) const;
  CarbonateResult from_ph_and_carbon(units::Ph ph, units::MmolPerL total_carbon) const;
  CarbonateResult from_ph_and_pco2(units::Ph ph, units::GasPpm pco2) const;
  // Closed: nothing exchanged with the air.
  CarbonateResult from_alkalinity_and_carbon(units::AlkalinityMeq alkalinity,
                                             units::MmolPerL total_carbon) const;
  // Open: in equilibrium with air of this CO2.
  CarbonateResult from_alkalinity_and_pco2(units::AlkalinityMeq alkalinity, units::GasPpm pco2) const;
  CarbonateResult from_carbon_and_pco2(units::MmolPerL total_carbon, units::GasPpm pco2) const;

  // Left side minus right side of the alkalinity balance above, species by species; 0 for a solution.
  units::AlkalinityMeq balance_residual(const CarbonateState& state) const;
  // All alkalinity that is not bicarbonate and carbonate.
  units::AlkalinityMeq non_carbonate_alkalinity(units::Ph ph) const;
  // Acid needed per unit of pH, closed: d Alk / d pH, meq/L.
  units::AlkalinityMeq buffer_capacity(units::Ph ph, units::MmolPerL total_carbon) const;
  // CO2* in equilibrium with this gas.
  units::MmolPerL co2_in_equilibrium(units::GasPpm pco2) const;

  const ConditionalConstants& constants() const { return k_; }

 private:
  struct Fractions {
    double co2, bicarbonate, carbonate;
  };
  Fractions fractions(double a) const;
  // Parts of the non-carbonate alkalinity, eq/L.
  struct Parts {
    double hydroxide, hydrogen, ammonia, phosphate, nitrite, citrate;
    double sum() const { return hydroxide + hydrogen + ammonia + phosphate + nitrite + citrate; }
  };
  Parts parts(double a) const;
  CarbonateState state(double ph, double carbon, double alkalinity) const;
  template <class Alkalinity>
  tl::expected<double, CarbonateError> solve_ph(const Alkalinity& alkalinity_at, double wanted,
                                                std::vector<std::string> readings) const;

  ConditionalConstants k_;
  double ammonia_, phosphate_, nitrite_, citrate_;  // mol/L
};

// Calcite saturation index log10([Ca++][CO3--] / K): below 0 calcium carbonate dissolves, above 0 scale may
// form. Without ion pairs: 0.04 to 0.07 too high in hard water.
double calcite_saturation_index(units::MmolPerL calcium, units::MmolPerL carbonate,
                                const Conditions& conditions);

// CO2 leaving (negative) or entering the water per hour: kLa (CO2 in equilibrium with the air - CO2*).
// Alkalinity stays.
units::MmolPerLPerHour co2_exchange(units::PerHour kla_co2, const CarbonateState& water, units::GasPpm air,
                                    const Equilibrium& equilibrium);

}  // namespace helmwater::chem
