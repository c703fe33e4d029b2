// SPDX-License-Identifier: Apache-2.0
// What is believed about a loop before any reading: a list of independent standard normal numbers, each turned into
// one unknown of the model. Which unknowns there are depends on the loop (docs/model/priors.md).
#pragma once
#include <memory>
#include <string>
#include <vector>

#include "chem/constants.hpp"
#include "infer/alteration.hpp"
#include "infer/carried.hpp"
#include "infer/learned.hpp"
#include "infer/observation.hpp"
#include "loop/parameters.hpp"
#include "loop/state.hpp"
#include "records/entry.hpp"

namespace helmwater::infer {

// One member: everything unknown about the loop, as numbers.
struct Member {
  loop::Parameters<double> parameters{};
  loop::State<double> start{};           // the water on day 0
  double ln_h = -17;                     // of that water, a first guess
  std::vector<double> kit_bias;          // per Evidence::slots
  std::vector<double> person_bias;       // per Evidence::people
  double nitrate_efficiency = 0.4;
  double oxygen_held = -1;               // mg/L: what an oxygen test meets whatever the model says; below zero: the model's
};

// Of kit and reader together: ln, or pH units.
inline double bias_of(const Observation& o, const Member& m) {
  const double kit = o.kit_slot < 0 ? 0 : m.kit_bias[static_cast<std::size_t>(o.kit_slot)];
  return o.person_slot < 0 ? kit : kit + m.person_bias[static_cast<std::size_t>(o.person_slot)];
}

class Priors {
 public:
  // `log` decides which unknowns matter: all deeds count, whenever they were done, readings only up to as_of.
  // `carried`: the window begins where that one ended; then the water comes from there, and the unknowns it knows.
  Priors(const records::LoopLog& log, const Evidence& evidence, records::Instant as_of = records::Instant::max(),
         std::shared_ptr<const Carried> carried = nullptr, std::shared_ptr<const Alteration> altered = nullptr,
         std::shared_ptr<const Learned> learned = nullptr);

  // The last of them are rates of weeks no reading up to as_of speaks of: readings condition the first `known()` only.
  int dimensions() const { return static_cast<int>(names_.size()); }
  int known() const { return known_; }
  const std::vector<std::string>& names() const { return names_; }
  // z: `dimensions()` standard normal numbers.
  Member member(const double* z) const { return member(z, dimensions()); }
  // z: the first `count` of them; the others are taken as 0.
  Member member(const double* z, int count) const;

  // The same numbers as unknowns by name, each a standard normal number of its plain prior (the water on its scale): what
  // is carried or learnt from earlier loops put in.
  std::vector<double> unknowns(const double* z) const { return unknowns(z, dimensions()); }
  // Learnt from earlier loops and in use here.
  const std::vector<LearnedUnknown>& learnt() const { return learned_places_.unknowns(); }

 private:
  std::vector<double> unknowns(const double* z, int count) const;
  int add(std::string name);
  void add_carried();
  void add_knots(double last_reading_day);

  std::vector<std::string> names_;
  std::shared_ptr<const Carried> carried_;
  std::shared_ptr<const Alteration> altered_;
  int first_altered_ = 0;  // of its unknowns
  LearnedPlaces learned_places_;
  std::vector<int> carried_place_;  // of each carried quantity in names_
  int known_ = 0;
  int first_knot_ = 0;  // in names_: of the first week of the window, ammonia step and nitrite step in turn
  bool supply_suspected_ = false;
  std::vector<bool> unlogged_;  // of each suspected deed: it is certain
  records::Loop loop_;
  std::vector<KitSlot> slots_;
  std::vector<PersonSlot> people_;
  double start_oxygen_ = 0;  // mg/L
  chem::ConditionalConstants constants_;  // of the source water
  int r_a_, r_n_, survival_, mu_a_, mu_n_, theta_a_, theta_n_, b_a_, b_n_, k_a_, k_n_, ki_n_fa_, theta_ph_, ph_high_,
      k_alk_, r_max_, k_la_, co2_, sink_, trickle_, phosphate_, volume_, source_no3_, source_alk_, source_ph_;
  int effect_, kill_, k_min_, k_urea_, f_tan_, f_sol_, f_den_, feed_unknown_, seed_a_, seed_n_, u_crop_, first_unlogged_, efficiency_, first_kit_, first_person_;
};

// Rates wander from knot to knot (docs/model/wandering_rates.md): the knot of a day since the loop's start, and their
// distance, d. Unknowns of theirs are named kKnotName "a_<knot>" and kKnotName "n_<knot>".
inline constexpr const char kKnotName[] = "wander_";
int knot_of(double day);
double knot_days();

// The moment a window begins; without a carried posterior the beginning of time.
records::Instant window_start(records::Instant start, const Carried* carried);

}  // namespace helmwater::infer
