// SPDX-License-Identifier: Apache-2.0
#include "steer/fish_course.hpp"

#include <algorithm>
#include <cmath>
#include <cstring>

#include "handbook/handbook.hpp"
#include "infer/block_of.hpp"
#include "infer/forecast.hpp"
#include "infer/parallel.hpp"
#include "infer/random.hpp"
#include "infer/timeline_from_log.hpp"
#include "loop/charge_balance.hpp"
#include "loop/feed_load.hpp"
#include "loop/grid.hpp"

namespace helmwater::steer {
namespace {

using infer::kBlockLanes;

constexpr double kLookEvery = 0.25;   // d
constexpr double kFarthest = 150;     // d after as_of that anything here looks
constexpr double kWithinDay = 2;      // a day's feed is excreted in a day over this
constexpr double kMoment = 1e-4;      // d; a deed never falls on a stretch's border
constexpr std::uint32_t kExcretionStream = 0xf15f0001u;

double per(records::Test test, records::Basis basis) { return records::to_standard_factor(test, basis); }

records::LoopLog up_to(const records::LoopLog& log, records::Instant as_of) {
  records::LoopLog cut = log;
  cut.loop.plan = records::effective_plan(log);
  cut.loop.plan->written.clear();
  std::erase_if(cut.entries, [&](const records::Entry& e) { return e.when > as_of; });
  return cut;
}

double fed(const loop::Loads& loads) { return loads.feed_protein_mg_l_d; }

}  // namespace

void Extremes::add(const Extremes& other) {
  // A member whose numbers are lost has passed every limit.
  constexpr float kLost = 1e9f;
  const auto higher = [](float& mine, float theirs) { mine = std::isnan(theirs) ? kLost : std::max(mine, theirs); };
  const auto lower = [](float& mine, float theirs) { mine = std::isnan(theirs) ? -kLost : std::min(mine, theirs); };
  higher(ammonia, other.ammonia);
  higher(free_ammonia, other.free_ammonia);
  higher(nitrite, other.nitrite);
  lower(oxygen, other.oxygen);
  lower(ph, other.ph);
}

FishCourse::FishCourse(const records::LoopLog& log, const infer::Posterior& posterior) {
  const records::LoopLog cut = up_to(log, posterior.as_of);
  const infer::Forecast forecast = infer::forecast(cut, posterior, 0.01, false);
  as_of_day_ = forecast.as_of_day;
  steps_ = posterior.steps();
  weight_ = forecast.weight;
  water_ = forecast.water;
  for (const float ln_h : forecast.ln_h) ln_h_.push_back(ln_h);

  const auto& names = posterior.priors->names();
  const bool fed_before = std::find(names.begin(), names.end(), "f_tan") != names.end();
  const handbook::Prior& f_tan = handbook::Handbook::built_in().prior("f_tan");
  const infer::Draws random(1, kExcretionStream);
  for (std::size_t m = 0; m < weight_.size(); ++m) {
    members_.push_back(posterior.priors->member(posterior.draws.z.col(static_cast<Eigen::Index>(m)).data()));
    if (fed_before) continue;
    // A loop that never had fish: what they will give off is as unknown as ever.
    auto& q = members_.back().parameters;
    q.f_tan = std::min(f_tan.a * std::exp(f_tan.b * random.normal(static_cast<std::uint32_t>(m), 0)),
                       loop::kNitrogenInProtein * (1 - q.f_sol));
  }

  litres_ = records::volume_at(log, posterior.as_of).value();
  infer::Imposed imposed;
  imposed.plan_from = posterior.as_of;
  // The plan gives the looks and what is done at them; its feed is not wanted here.
  records::LoopLog unfed = cut;
  unfed.loop.plan->feed_g_per_day = 0;
  plan_buffers_ = unfed.loop.plan->buffer_below && unfed.loop.plan->buffer_to;
  if (!plan_buffers_) {
    unfed.loop.plan->buffer_below = units::AlkalinityCaCO3{kHeldAlkalinity};
    unfed.loop.plan->buffer_to = units::AlkalinityCaCO3{kHeldAlkalinityTo};
  }
  timeline_ = infer::timeline_from_log(unfed, posterior.start, posterior.as_of, as_of_day_ + kFarthest, true, imposed,
                                       infer::window_start(posterior.start, posterior.carried.get()));
  policy_ = timeline_.policy;
  looks_ = timeline_.look_days;
  timeline_.policy = {};
  timeline_.look_days.clear();
  // What was done is in the water already; a changed volume also tells how much surface there is.
  std::erase_if(timeline_.events, [&](const loop::Event& e) { return as_of_day_ <= 0 || !std::holds_alternative<loop::VolumeEvent>(e.what); });
  const bool fish = records::has_fish(cut, posterior.as_of);
  for (loop::LoadPiece& piece : timeline_.loads) {
    if (fish && piece.loads.unknown_feed > 0) piece.to = std::min(piece.to, as_of_day_);
  }
  std::erase_if(timeline_.loads, [&](const loop::LoadPiece& piece) { return piece.to <= as_of_day_; });
  timeline_.organic = true;
  pack();
}

FishCourse FishCourse::some(int members) const {
  FishCourse few = *this;
  few.members_.clear();
  few.weight_.assign(static_cast<std::size_t>(members), 1.0 / members);
  few.water_.clear();
  few.ln_h_.clear();
  std::size_t m = 0;
  double reached = weight_.front();
  for (int i = 0; i < members; ++i) {
    const double wanted = (i + 0.5) / members;
    while (reached < wanted && m + 1 < weight_.size()) reached += weight_[++m];
    few.members_.push_back(members_[m]);
    few.water_.push_back(water_[m]);
    few.ln_h_.push_back(ln_h_[m]);
  }
  few.pack();
  return few;
}

void FishCourse::pack() {
  blocks_.clear();
  now_ = {};
  now_.day = as_of_day_;
  for (std::size_t first = 0; first < members_.size(); first += kBlockLanes) {
    const std::size_t lanes = std::min<std::size_t>(kBlockLanes, members_.size() - first);
    for (std::size_t lane = 0; lane < lanes; ++lane) {
      members_[first + lane].start = water_[first + lane];
      members_[first + lane].ln_h = ln_h_[first + lane];
    }
    blocks_.push_back(infer::block_of(members_.data() + first, static_cast<int>(lanes)));
    now_.blocks.push_back({blocks_.back().start, blocks_.back().ln_h});
  }
}

double FishCourse::temperature_c() const { return timeline_.environment(as_of_day_).temperature_c; }

double FishCourse::ammonia_per_protein(std::size_t member) const {
  const auto& q = members_[member].parameters;
  return q.f_tan / q.volume_factor * 1000 / litres_;
}

double FishCourse::part(const Waters& waters, std::size_t member, double loop::State<double>::* which) const {
  const infer::BlockWater& block = waters.blocks[member / kBlockLanes];
  loop::State<double> y;
  double* to = reinterpret_cast<double*>(&y);
  const auto* from = reinterpret_cast<const infer::Lanes*>(&block.y);
  for (std::size_t k = 0; k < sizeof y / sizeof(double); ++k) to[k] = static_cast<double>(from[k].v[member % kBlockLanes]);
  return y.*which;
}

Waters FishCourse::dosed(const Waters& from, double ammonia_n) const {
  Waters to = from;
  for (std::size_t b = 0; b < to.blocks.size(); ++b) {
    for (std::size_t lane = 0; lane < kBlockLanes; ++lane) {
      to.blocks[b].y.tan.v[lane] += static_cast<float>(ammonia_n) / blocks_[b].parameters.volume_factor.v[lane];
    }
  }
  return to;
}

Stretch FishCourse::follow(const Waters& from, double days, const Care& care) const {
  const double end = from.day + days;
  loop::Timeline timeline = timeline_;
  loop::Loads feed;
  // A day's feed is given off within half a day, at twice the rate: excretion peaks six to twelve hours after a meal
  // (ESTIMATE of the share; docs/model/feed_load.md spreads it over the day, which would hide the peak).
  const double mg_l_d = kWithinDay * 1000 * care.feed_g_per_day / litres_;
  feed.feed_protein_mg_l_d = mg_l_d * care.protein_percent / 100;
  feed.fish_oxygen_mg_l_d = mg_l_d * handbook::Handbook::built_in().prior("fish_oxygen").a;
  // The last meals are still being digested: the ration takes their place if it is larger, else it follows them.
  double digesting = 0, digested = from.day;
  for (const loop::LoadPiece& piece : timeline.loads) {
    if (fed(piece.loads) <= 0 || piece.from > from.day || piece.to <= from.day) continue;
    digesting += fed(piece.loads);
    digested = std::max(digested, piece.to);
  }
  if (fed(feed) >= kWithinDay * digesting && fed(feed) > 0) {
    std::erase_if(timeline.loads, [](const loop::LoadPiece& piece) { return fed(piece.loads) > 0; });
    digested = from.day;
  }
  for (double day = digested; fed(feed) > 0 && day < end - kMoment; day += 1) timeline.loads.push_back({day, day + 1 / kWithinDay, feed});

  for (double day = care.change_from_day + kMoment; care.change_share > 0 && day < end; day += care.change_every_days) {
    if (day <= from.day) continue;
    loop::WaterEvent change;
    change.share = care.change_share;
    change.exact_share = true;
    change.source_tan = care.source_ammonia;
    timeline.events.push_back({day, change});
  }
  timeline.policy = policy_;
  timeline.policy.redose = policy_.redose && care.plan_doses;
  timeline.policy.buffer = plan_buffers_ || care.hold_alkalinity;
  if (timeline.policy.redose || timeline.policy.buffer) {
    for (const double look : looks_) {
      if (look > from.day + kMoment && look < end) timeline.look_days.push_back(look);
    }
  }

  std::vector<double> observe;
  std::vector<loop::Environment> environment;
  for (int k = 1; k * kLookEvery <= days + 1e-9; ++k) {
    observe.push_back(from.day + k * kLookEvery);
    environment.push_back(timeline.environment(observe.back()));
  }
  const loop::Grid grid = loop::make_grid(timeline, observe, {}, end, steps_, from.day);

  Stretch out;
  out.after.day = end;
  out.after.blocks.resize(blocks_.size());
  out.worst.resize(members_.size());
  const auto as_nh3 = static_cast<float>(1 / per(records::Test::ammonia, records::Basis::nh3));
  const auto as_no2 = static_cast<float>(1 / per(records::Test::nitrite, records::Basis::no2));
  const infer::MemberBlockFunctions& run = infer::member_block_functions();
  infer::parallel_for(static_cast<int>(blocks_.size()), [&](int b) {
    const auto block = static_cast<std::size_t>(b);
    infer::MemberBlock members = blocks_[block];
    members.start = from.blocks[block].y;
    members.ln_h = from.blocks[block].ln_h;
    std::vector<infer::BlockWater> seen(observe.size());
    run.water_at_readings(timeline, grid, members, seen.data());
    out.after.blocks[block] = seen.back();
    const std::size_t first = block * kBlockLanes;
    for (std::size_t lane = 0; lane < kBlockLanes && first + lane < members_.size(); ++lane) {
      Extremes& worst = out.worst[first + lane];
      for (std::size_t k = 0; k < seen.size(); ++k) {
        const auto at = [&](const infer::Lanes& lanes) { return static_cast<double>(lanes.v[lane]); };
        const loop::State<double> y{at(seen[k].y.tan), at(seen[k].y.no2), at(seen[k].y.no3),   at(seen[k].y.alk),
                                    at(seen[k].y.dic), at(seen[k].y.r_a), at(seen[k].y.r_n),   at(seen[k].y.org_n),
                                    at(seen[k].y.urea_n), at(seen[k].y.p), at(seen[k].y.o2)};
        const auto e = loop::equilibrium_at(environment[k], y, at(seen[k].ln_h));
        worst.add({static_cast<float>(y.tan) * as_nh3, static_cast<float>(e.free_ammonia), static_cast<float>(y.no2) * as_no2,
                   static_cast<float>(y.o2), static_cast<float>(-e.ln_h / loop::kLn10)});
      }
    }
  });
  return out;
}

}  // namespace helmwater::steer
