// SPDX-License-Identifier: Apache-2.0
#include "records/loop.hpp"

#include <array>
#include <utility>

#include "records/words.hpp"
#include "units/convert.hpp"

namespace helmwater::records {
namespace {

constexpr std::array<std::pair<Test, std::string_view>, 15> kTests{{{Test::ammonia, "ammonia"},
                                                                    {Test::nitrite, "nitrite"},
                                                                    {Test::nitrate, "nitrate"},
                                                                    {Test::ph, "ph"},
                                                                    {Test::alkalinity, "alkalinity"},
                                                                    {Test::oxygen, "oxygen"},
                                                                    {Test::temperature, "temperature"},
                                                                    {Test::conductivity, "conductivity"},
                                                                    {Test::phosphate, "phosphate"},
                                                                    {Test::iron, "iron"},
                                                                    {Test::potassium, "potassium"},
                                                                    {Test::calcium, "calcium"},
                                                                    {Test::magnesium, "magnesium"},
                                                                    {Test::chloride, "chloride"},
                                                                    {Test::chlorine, "chlorine"}}};

}  // namespace

std::string_view to_text(Test test) {
  for (const auto& [value, name] : kTests)
    if (value == test) return name;
  return "";
}

std::string_view to_text(Basis basis) {
  switch (basis) {
    case Basis::none: return "";
    case Basis::n: return "N";
    case Basis::nh3: return "NH3";
    case Basis::nh4: return "NH4";
    case Basis::no2: return "NO2";
    case Basis::no3: return "NO3";
    case Basis::caco3: return "CaCO3";
    case Basis::dkh: return "dKH";
    case Basis::meq: return "meq";
    case Basis::p: return "P";
    case Basis::po4: return "PO4";
  }
  return "";
}

std::optional<Test> test_from(std::string_view word) {
  const std::string key = key_word(word);
  for (const auto& [value, name] : kTests)
    if (name == key) return value;
  return std::nullopt;
}

const std::vector<std::string>& test_names() {
  static const std::vector<std::string> names = [] {
    std::vector<std::string> out;
    for (const auto& [value, name] : kTests) out.emplace_back(name);
    return out;
  }();
  return names;
}

const std::vector<Basis>& bases_of(Test test) {
  static const std::vector<Basis> ammonia{Basis::n, Basis::nh3, Basis::nh4};
  static const std::vector<Basis> nitrite{Basis::n, Basis::no2};
  static const std::vector<Basis> nitrate{Basis::n, Basis::no3};
  static const std::vector<Basis> alkalinity{Basis::meq, Basis::caco3, Basis::dkh};
  static const std::vector<Basis> phosphate{Basis::p, Basis::po4};
  static const std::vector<Basis> none;
  switch (test) {
    case Test::ammonia: return ammonia;
    case Test::nitrite: return nitrite;
    case Test::nitrate: return nitrate;
    case Test::alkalinity: return alkalinity;
    case Test::phosphate: return phosphate;
    default: return none;
  }
}

bool is_concentration(Test test) {
  return test != Test::ph && test != Test::temperature && test != Test::conductivity && test != Test::oxygen;
}

double to_standard_factor(Test test, Basis basis) {
  using namespace units;
  switch (basis) {
    case Basis::nh3: return test == Test::ammonia ? as_n(AmmoniaNH3{1}).value() : 1;
    case Basis::nh4: return test == Test::ammonia ? as_n(AmmoniaNH4{1}).value() : 1;
    case Basis::no2: return test == Test::nitrite ? as_n(NitriteIon{1}).value() : 1;
    case Basis::no3: return test == Test::nitrate ? as_n(NitrateIon{1}).value() : 1;
    case Basis::caco3: return test == Test::alkalinity ? as_meq(AlkalinityCaCO3{1}).value() : 1;
    case Basis::dkh: return test == Test::alkalinity ? as_meq(AlkalinityDkh{1}).value() : 1;
    case Basis::po4: return test == Test::phosphate ? as_p(PhosphateIon{1}).value() : 1;
    default: return 1;
  }
}

}  // namespace helmwater::records
