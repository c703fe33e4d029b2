// SPDX-License-Identifier: Apache-2.0
// The members of a posterior followed from now on with fish that are fed and water that is changed as asked, and what each
// of them has to stand meanwhile (docs/model/fish_plan.md).
#pragma once
#include <vector>

#include "infer/member_block.hpp"
#include "infer/posterior.hpp"
#include "loop/timeline.hpp"
#include "records/entry.hpp"

namespace helmwater::steer {

// The water of all members at one moment.
struct Waters {
  double day = 0;                        // from the loop's start
  std::vector<infer::BlockWater> blocks;
};

// With Care::hold_alkalinity, mg/L CaCO3: below the first it is raised to the second. 45 holds bacteria back (limits.toml);
// the room above it is ours (ESTIMATE).
inline constexpr double kHeldAlkalinity = 60, kHeldAlkalinityTo = 100;

// What is done with the loop for a while.
struct Care {
  double feed_g_per_day = 0;
  double protein_percent = 32;
  double change_share = 0;        // of the water, each time; 0: none
  double change_every_days = 1;
  double change_from_day = 0;     // of the first, from the loop's start
  double source_ammonia = 0;      // of the new water, mg N/L
  bool plan_doses = false;        // the plan's ammonia goes on (no fish in)
  bool hold_alkalinity = false;   // where the plan does not buffer, the keeper does all the same
};

// The worst one member meets, looked at every six hours.
struct Extremes {
  float ammonia = 0;        // mg/L as NH3
  float free_ammonia = 0;   // mg N/L
  float nitrite = 0;        // mg/L as ion
  float oxygen = 1e9f;      // mg/L, lowest
  float ph = 99;            // lowest
  void add(const Extremes& other);
};

struct Stretch {
  Waters after;
  std::vector<Extremes> worst;  // by member
};

class FishCourse {
 public:
  // Entries later than the posterior's as_of are left out: nobody knew of them.
  FishCourse(const records::LoopLog& log, const infer::Posterior& posterior);
  // Fewer members of equal weight, for a search.
  FishCourse some(int members) const;

  const Waters& now() const { return now_; }
  double litres() const { return litres_; }          // stated, at as_of
  double temperature_c() const;                      // of the water at as_of
  bool plan_buffers() const { return plan_buffers_; }
  const std::vector<double>& weight() const { return weight_; }  // sums to 1
  std::size_t members() const { return members_.size(); }
  // Total ammonia the fish of one member give off, mg N per litre of its water and g of protein fed.
  double ammonia_per_protein(std::size_t member) const;
  double part(const Waters& waters, std::size_t member, double loop::State<double>::* which) const;

  // `days` a multiple of a quarter.
  Stretch follow(const Waters& from, double days, const Care& care) const;
  // The same water with more total ammonia in it, mg N/L, of a dose meant for the stated volume.
  Waters dosed(const Waters& from, double ammonia_n) const;

 private:
  FishCourse() = default;
  void pack();

  loop::Timeline timeline_;      // of the log and the weather, without deeds to come
  loop::Policy policy_;
  bool plan_buffers_ = false;
  std::vector<double> looks_;    // days of the plan's daily looks
  loop::GridSteps steps_;
  std::vector<infer::Member> members_;
  std::vector<double> weight_;
  std::vector<infer::MemberBlock> blocks_;
  std::vector<loop::State<double>> water_;
  std::vector<double> ln_h_;
  Waters now_;
  double as_of_day_ = 0;
  double litres_ = 0;
};

}  // namespace helmwater::steer
