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
  std::string source;  // key into sources.bib; memory, judgement and common practice have keys of their own there
  Confidence confidence = Confidence::estimate;
};

// A reagent as it acts on water, per mole of the pure substance.
struct Reagent {
  std::string name;      // "ammonium chloride": what a log writes, lower case
  std::vector<std::string> aliases;  // other names a log may write
  std::string formula;
  Fact molar_mass;       // g/mol
  double alkalinity_eq_per_mol = 0;   // change of total alkalinity
  double carbon_mol_per_mol = 0;      // change of total inorganic carbon
  double ammonia_n_mol_per_mol = 0;   // total ammonia
  // Nitrogen that becomes ammonia only after hydrolysis, and then brings 1 eq of alkalinity and 0.5 mol of carbon per
  // mol of it. These are not in the two numbers above, which act at once.
  double urea_n_mol_per_mol = 0;
  double nitrate_n_mol_per_mol = 0;
  double phosphate_p_mol_per_mol = 0;
  // Ions it leaves in the water as they are, mol per mol.
  struct Ions {
    double potassium = 0, calcium = 0, magnesium = 0, sodium = 0, chloride = 0, sulfate = 0;
  } ions;
  double chlorine_removed_g_per_g = 0;  // g Cl2 taken up per g of substance
  bool liquid = false;                  // sold as a solution: a log must give a strength
  struct Strength {                     // density of a solution of this strength
    double percent_w_w = 0;
    double density_g_per_ml = 0;
    std::string source;
    Confidence confidence = Confidence::estimate;
  };
  std::vector<Strength> strengths;      // rising in percent; empty for a solid that is not sold dissolved
  std::vector<std::string> cautions;    // plain sentences, shown beside an amount
  std::string note;    // may be empty
  std::string source;  // of the numbers per mole
};

// Density of a solution, g/mL, linear between the listed strengths (water 1.000 at 0 %); held beyond the last.
// Requires: the reagent has strengths; throws std::logic_error otherwise.
double density_g_per_ml(const Reagent& reagent, double percent_w_w);

// The name in the form the handbook keeps: lower case, single blanks, without a trailing bracket.
std::string matched_name(std::string_view name);

// A prior of one model parameter. The distribution's two numbers a, b: normal (mean, sd), lognormal (median, sd of
// ln), beta (alpha, beta), fixed (value, 0).
struct Prior {
  std::string name;
  std::string unit;
  enum class Shape { normal, lognormal, beta, fixed } shape = Shape::fixed;
  double a = 0;
  double b = 0;
  bool cut_at_zero = false;  // draws below zero count as zero
  std::string says;          // one plain sentence
  std::string note;          // where the numbers come from, may be empty
  std::string source;
  Confidence confidence = Confidence::estimate;
};

// A limit that advice may lean on, for example free ammonia for warm-water fish.
struct Limit {
  std::string name;
  Fact fact;
  std::string says;  // one plain sentence
  std::string note;  // may be empty
};

// A kind of fish as its keeper calls it.
struct Fish {
  std::string name;
  std::vector<std::string> aliases;
  bool warm_water = false;      // else the limits for cold-water fish hold
  Fact lives_low, lives_high;   // degC
  Fact thrives_low, thrives_high;
  std::optional<Fact> eats_from;  // degC; takes no food below
  struct Ration {
    double from_g = 0, to_g = 0;          // body weight
    double low_percent = 0, high_percent = 0;  // of body weight a day, in water as warm as it likes
    std::string source;
    Confidence confidence = Confidence::estimate;
  };
  std::vector<Ration> rations;  // may be empty
  std::string note;             // may be empty

  const Ration* ration_at(double grams) const;  // null: none listed
};
std::string_view to_text(Confidence);

// Why a loop may not move (docs/model/why_stuck.md).
struct Cause {
  std::string name, title, says;
  double weight = 0;     // beside the other causes', before anything is known; 0: the plain model finds it by itself
  std::string test;      // as in a log
  std::string look;      // what to do or look at where no reading tells it from its rivals
  std::string remedy;
  std::string reagent;   // what the remedy doses; empty: nothing
  std::vector<std::string> cautions;
  std::string source;
  Confidence confidence = Confidence::estimate;
  struct Supposition {   // lognormal
    std::string what, says, unit;
    double median = 1, ln_sd = 0.5;
  };
  std::vector<Supposition> supposes;
  struct Clue {
    std::string when;    // as src/steer/clues.cpp names the facts of a log
    double factor = 1;   // of the weight
    std::string says;
  };
  std::vector<Clue> clues;

  const Supposition& supposition(std::string_view what) const;  // throws std::out_of_range
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
  // Parses and checks the TOML texts (file names are used in errors only). No fish_toml: no fish are known;
  // no causes_toml: no causes.
  static tl::expected<Handbook, Error> load(std::string_view reagents_toml, std::string_view priors_toml,
                                            std::string_view limits_toml, std::string_view sources_bib,
                                            std::string_view fish_toml = {}, std::string_view causes_toml = {});

  // Null if unknown. The name is matched with case and a trailing bracket ignored.
  const Reagent* reagent(std::string_view name) const;
  const std::vector<Reagent>& reagents() const { return reagents_; }
  // Throws std::out_of_range with the name: a missing prior is our own mistake.
  const Prior& prior(std::string_view name) const;
  const std::vector<Prior>& priors() const { return priors_; }
  const Limit& limit(std::string_view name) const;
  const std::vector<Limit>& limits() const { return limits_; }
  // By name or alias, or by a name that is a word of what was written ("young tilapia"). Null if unknown.
  const Fish* fish(std::string_view name) const;
  const std::vector<Fish>& all_fish() const { return fish_; }
  const Cause& cause(std::string_view name) const;
  const std::vector<Cause>& causes() const { return causes_; }
  const Limit& threshold(std::string_view name) const;  // of naming a cause

 private:
  std::vector<Reagent> reagents_;
  std::vector<Prior> priors_;
  std::vector<Limit> limits_;
  std::vector<Fish> fish_;
  std::vector<Cause> causes_;
  std::vector<Limit> thresholds_;
};

}  // namespace helmwater::handbook
