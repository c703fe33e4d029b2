// SPDX-License-Identifier: Apache-2.0
// What changes in a loop, as concentrations in one well mixed water. T is double or Pack.
#pragma once

namespace helmwater::loop {

template <class T>
struct State {
  T tan;     // total ammonia, mg N/L
  T no2;     // nitrite, mg N/L
  T no3;     // nitrate, mg N/L
  T alk;     // total alkalinity, meq/L (zero level CO2, NH4+, H2PO4-, NO2-)
  T dic;     // total inorganic carbon, mmol/L
  T r_a;     // capacity to oxidise ammonia at 20 degC with nothing limiting, mg N/L/d
  T r_n;     // the same for nitrite
  T org_n;   // organic nitrogen: food, faeces, leaves, mg N/L
  T urea_n;  // urea, mg N/L: not seen by an ammonia test
  T p;       // phosphate, mg P/L
  T o2;      // dissolved oxygen, mg/L
};

// y + a * x, component by component.
template <class T>
State<T> plus(const State<T>& y, T a, const State<T>& x) {
  return {y.tan + a * x.tan, y.no2 + a * x.no2, y.no3 + a * x.no3,     y.alk + a * x.alk,
          y.dic + a * x.dic, y.r_a + a * x.r_a, y.r_n + a * x.r_n,     y.org_n + a * x.org_n,
          y.urea_n + a * x.urea_n, y.p + a * x.p, y.o2 + a * x.o2};
}

// a * x.
template <class T>
State<T> times(T a, const State<T>& x) {
  return {a * x.tan, a * x.no2,   a * x.no3,    a * x.alk, a * x.dic, a * x.r_a,
          a * x.r_n, a * x.org_n, a * x.urea_n, a * x.p,   a * x.o2};
}

}  // namespace helmwater::loop
