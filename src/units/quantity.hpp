// SPDX-License-Identifier: Apache-2.0
// Quantities of water and dosing whose type carries unit and basis.
//
// A mass concentration names the substance and the basis it is counted in: MgPerL<Ammonia, AsN> and
// MgPerL<Ammonia, AsNH3> are different types, and adding them does not compile. Conversion is always a named
// function (see convert.hpp). Values are plain doubles inside; nothing here checks ranges.
#pragma once
#include <compare>

namespace helmwater::units {

// A number with a unit in its type. Same-unit sums and differences, scaling by a pure number, ratios.
template <class Tag>
class Scalar {
 public:
  constexpr Scalar() = default;
  constexpr explicit Scalar(double value) : value_(value) {}
  constexpr double value() const { return value_; }
  constexpr auto operator<=>(const Scalar&) const = default;
  friend constexpr Scalar operator+(Scalar a, Scalar b) { return Scalar{a.value_ + b.value_}; }
  friend constexpr Scalar operator-(Scalar a, Scalar b) { return Scalar{a.value_ - b.value_}; }
  friend constexpr Scalar operator*(Scalar a, double k) { return Scalar{a.value_ * k}; }
  friend constexpr Scalar operator*(double k, Scalar a) { return Scalar{a.value_ * k}; }
  friend constexpr Scalar operator/(Scalar a, double k) { return Scalar{a.value_ / k}; }
  friend constexpr double operator/(Scalar a, Scalar b) { return a.value_ / b.value_; }

 private:
  double value_ = 0;
};

// A point on a scale: points differ by a Difference, and two points cannot be added.
template <class Tag, class Difference>
class Point {
 public:
  constexpr Point() = default;
  constexpr explicit Point(double value) : value_(value) {}
  constexpr double value() const { return value_; }
  constexpr auto operator<=>(const Point&) const = default;
  friend constexpr Difference operator-(Point a, Point b) { return Difference{a.value_ - b.value_}; }
  friend constexpr Point operator+(Point a, Difference d) { return Point{a.value_ + d.value()}; }
  friend constexpr Point operator-(Point a, Difference d) { return Point{a.value_ - d.value()}; }

 private:
  double value_ = 0;
};

// Substances and the bases their concentration is counted in.
struct Ammonia {};      // total ammonia, NH3 + NH4+
struct FreeAmmonia {};  // un-ionised NH3 only
struct Nitrite {};
struct NitrousAcid {};  // un-ionised HNO2 only
struct Nitrate {};
struct Phosphate {};
struct Chlorine {};  // total chlorine
struct Oxygen {};
struct CarbonDioxide {};  // CO2(aq), with the little H2CO3

struct AsN {};
struct AsNH3 {};
struct AsNH4 {};
struct AsNO2 {};
struct AsNO3 {};
struct AsP {};
struct AsPO4 {};
struct AsCl2 {};
struct AsO2 {};
struct AsCO2 {};

template <class Substance, class Basis>
struct Concentration {};
// mg of the basis per litre of water.
template <class Substance, class Basis>
using MgPerL = Scalar<Concentration<Substance, Basis>>;

using AmmoniaN = MgPerL<Ammonia, AsN>;
using AmmoniaNH3 = MgPerL<Ammonia, AsNH3>;
using AmmoniaNH4 = MgPerL<Ammonia, AsNH4>;
using FreeAmmoniaN = MgPerL<FreeAmmonia, AsN>;
using FreeAmmoniaNH3 = MgPerL<FreeAmmonia, AsNH3>;
using NitriteN = MgPerL<Nitrite, AsN>;
using NitriteIon = MgPerL<Nitrite, AsNO2>;
using NitrousAcidN = MgPerL<NitrousAcid, AsN>;
using NitrateN = MgPerL<Nitrate, AsN>;
using NitrateIon = MgPerL<Nitrate, AsNO3>;
using PhosphateP = MgPerL<Phosphate, AsP>;
using PhosphateIon = MgPerL<Phosphate, AsPO4>;
using ChlorineCl2 = MgPerL<Chlorine, AsCl2>;
using OxygenO2 = MgPerL<Oxygen, AsO2>;
using CarbonDioxideCO2 = MgPerL<CarbonDioxide, AsCO2>;

// Alkalinity in the three ways it is counted.
struct MeqPerLTag {};
struct CaCO3MgPerLTag {};
struct DkhTag {};
using AlkalinityMeq = Scalar<MeqPerLTag>;        // meq/L
using AlkalinityCaCO3 = Scalar<CaCO3MgPerLTag>;  // mg/L as CaCO3
using AlkalinityDkh = Scalar<DkhTag>;            // degrees of carbonate hardness

struct MmolPerLTag {};
struct MolPerLTag {};
using MmolPerL = Scalar<MmolPerLTag>;      // total inorganic carbon
using IonicStrength = Scalar<MolPerLTag>;  // mol/L

struct CelsiusDifferenceTag {};
struct CelsiusTag {};
using CelsiusDifference = Scalar<CelsiusDifferenceTag>;
using Celsius = Point<CelsiusTag, CelsiusDifference>;

struct PhChangeTag {};
struct PhTag {};
using PhChange = Scalar<PhChangeTag>;
using Ph = Point<PhTag, PhChange>;  // activity scale

struct AtmTag {};
struct PpmTag {};
struct SalinityTag {};
struct ConductivityTag {};
using Atm = Scalar<AtmTag>;
using GasPpm = Scalar<PpmTag>;                 // micro-atmospheres per atmosphere, dry air
using Salinity = Scalar<SalinityTag>;          // g/kg, practical scale
using Conductivity = Scalar<ConductivityTag>;  // uS/cm at 25 degC

struct LitreTag {};
struct GramTag {};
struct MillilitreTag {};
struct SquareMetreTag {};
using Litres = Scalar<LitreTag>;
using Grams = Scalar<GramTag>;
using Millilitres = Scalar<MillilitreTag>;
using SquareMetres = Scalar<SquareMetreTag>;

struct MetreTag {};
struct HourTag {};
struct PerHourTag {};
struct LitrePerHourTag {};
struct MmolPerLPerHourTag {};
using Metres = Scalar<MetreTag>;
using Hours = Scalar<HourTag>;
using PerHour = Scalar<PerHourTag>;
using LitresPerHour = Scalar<LitrePerHourTag>;
using MmolPerLPerHour = Scalar<MmolPerLPerHourTag>;
constexpr Litres operator*(LitresPerHour q, Hours t) { return Litres{q.value() * t.value()}; }
constexpr MmolPerL operator*(MmolPerLPerHour r, Hours t) { return MmolPerL{r.value() * t.value()}; }
constexpr MmolPerLPerHour operator*(PerHour k, MmolPerL c) { return MmolPerLPerHour{k.value() * c.value()}; }

// mg/L x L gives grams.
template <class Substance, class Basis>
constexpr Grams operator*(MgPerL<Substance, Basis> c, Litres v) {
  return Grams{c.value() * v.value() / 1000.0};
}

}  // namespace helmwater::units
