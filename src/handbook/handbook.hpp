// SPDX-License-Identifier: Apache-2.0
// The handbook: facts with their source. Loaded once from TOML texts embedded in the program (data/handbook),
// checked against a schema; an unknown key, a missing source or a value outside its range is an error.
#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <tl/expected.hpp>
#include <vector>

namespace helmwater::handbook {

// How far a number may be trusted. Only `seen` may become a limit shown as advice.
enum class Confidence { seen, second_hand, derived, memory, estimate };

struct Fact {
  double value = 0;
  std::string unit;
  std::string source;  // key into sources.bib, or words for memory/estimate
  Confidence confidence = Confidence::estimate;
};

// A reagent as it acts on water, per mole of the pure substance.
struct Reagent {
  std::string name;      // "ammonium chloride": what a log writes, lower case
  std::string formula;
  Fact molar_mass;       // g/mol
  double alkalinity_eq_per_mol = 0;   // change of total alkalinity
  double carbon_mol_per_mol = 0;      // change of total inorganic carbon
  double ammonia_n_mol_per_mol = 0;   // total ammonia
  double urea_n_mol_per_mol = 0;      // nitrogen that becomes ammonia only after hydrolysis
  double nitrate_n_mol_per_mol = 0;
  double phosphate_p_mol_per_mol = 0;
  double chlorine_removed_g_per_g = 0;  // g Cl2 taken up per g of substance
  bool liquid = false;                  // sold as a solution: a log must give a strength
  struct Strength {                     // density of a solution of this strength
    double percent_w_w = 0;
    double density_g_per_ml = 0;
    std::string source;
    Confidence confidence = Confidence::estimate;
  };
  std::vector<Strength> strengths;      // rising in percent; empty for a solid
  std::vector<std::string> cautions;    // plain sentences, shown beside an amount
  std::string source;
};

// Density of a solution, g/mL, linear between the listed strengths (water 1.000 at 0 %); held beyond the last.
double density_g_per_ml(const Reagent& reagent, double percent_w_w);

// A prior of one model parameter. The distribution's two numbers: normal (mean, sd), lognormal (median, sd of
// ln), beta (a, b).
struct Prior {
  std::string name;
  std::string unit;
  enum class Shape { normal, lognormal, beta, fixed } shape = Shape::fixed;
  double a = 0;
  double b = 0;
  std::string source;
  Confidence confidence = Confidence::estimate;
};

// A limit that advice may lean on, for example free ammonia for warm-water fish.
struct Limit {
  std::string name;
  Fact fact;
  std::string says;  // one plain sentence
};

class Handbook {
 public:
  // The texts built into the program. Throws std::logic_error only if the built-in texts are broken.
  static const Handbook& built_in();
  struct Error {
    std::string file;
    int line = 0;
    int column = 0;
    std::string message;
  };
  // Parses and checks three TOML texts (file names are used in errors only).
  static tl::expected<Handbook, Error> load(std::string_view reagents_toml, std::string_view priors_toml,
                                            std::string_view limits_toml, std::string_view sources_bib);

  // Null if unknown. The name is matched with case and a trailing bracket ignored.
  const Reagent* reagent(std::string_view name) const;
  const std::vector<Reagent>& reagents() const { return reagents_; }
  // Throws std::out_of_range with the name: a missing prior is our own mistake.
  const Prior& prior(std::string_view name) const;
  const std::vector<Prior>& priors() const { return priors_; }
  const Limit& limit(std::string_view name) const;
  const std::vector<Limit>& limits() const { return limits_; }

 private:
  std::vector<Reagent> reagents_;
  std::vector<Prior> priors_;
  std::vector<Limit> limits_;
};

}  // namespace helmwater::handbook
