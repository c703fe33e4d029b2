// SPDX-License-Identifier: Apache-2.0
#include "server/fish_json.hpp"

#include <cmath>
#include <nlohmann/json.hpp>

#include "handbook/handbook.hpp"

namespace helmwater::server {
namespace {

using nlohmann::ordered_json;

double rounded(double value, double step) { return std::round(value / step) * step; }
// Feed is a most: never rounded up. Whole hundredths of a gram.
double feed(double grams) { return std::floor(grams * 100 + 1e-6) / 100; }
// Never up to a threshold it has not reached.
double probability(double p) { return std::floor(p * 1000 + 1e-6) / 1000; }

template <class T>
ordered_json or_null(const std::optional<T>& value) {
  return value ? ordered_json(*value) : ordered_json(nullptr);
}

ordered_json kept(const steer::Kept& k) {
  return {{"probability", probability(k.all)}, {"ammonia", probability(k.ammonia)}, {"free_ammonia", probability(k.free_ammonia)},
          {"nitrite", probability(k.nitrite)}, {"oxygen", probability(k.oxygen)},   {"ph", probability(k.ph)}};
}

ordered_json limit(const handbook::Limit& l) {
  return {{"value", l.fact.value}, {"unit", l.fact.unit}, {"source", l.fact.source}, {"confidence", handbook::to_text(l.fact.confidence)}, {"says", l.says}};
}

}  // namespace

ordered_json to_json(const steer::FishPlan& plan) {
  ordered_json j;
  j["loop"] = plan.loop;
  j["as_of"] = records::to_utc_text(plan.as_of);
  j["members"] = plan.members;
  j["effective_members"] = rounded(plan.effective_members, 1);
  j["fish"] = plan.with_fish;
  j["verdict"] = steer::to_text(plan.verdict);
  j["part_now"] = plan.part_now;
  j["headline"] = plan.headline;
  j["because"] = plan.because;
  j["steps"] = plan.steps;
  j["asked"] = {{"count", or_null(plan.count)},
                {"weight_g", or_null(plan.weight_g)},
                {"species", plan.species.empty() ? ordered_json(nullptr) : ordered_json(plan.species)},
                {"known_as", plan.fish == nullptr ? ordered_json(nullptr) : ordered_json(plan.fish->name)},
                {"feed_g_per_day", feed(plan.feed_g)},
                {"feed_from", plan.feed_from},
                {"protein_percent", plan.protein_percent},
                {"ammonia_mg_n_l_d", {{"p05", rounded(plan.load.p05, 0.001)}, {"p50", rounded(plan.load.p50, 0.001)}, {"p95", rounded(plan.load.p95, 0.001)}}}};
  j["aim"] = steer::kAim;
  j["judged_days"] = steer::kJudgedDays;
  j["water"] = plan.limits.warm_water ? "warm" : "cold";
  j["limits"] = {{"ammonia", limit(*plan.limits.ammonia)}, {"free_ammonia", limit(*plan.limits.free_ammonia)},
                 {"nitrite", limit(*plan.limits.nitrite)}, {"oxygen", limit(*plan.limits.oxygen)}, {"ph", limit(*plan.limits.ph_low)}};
  j["after"] = ordered_json::array();
  for (const auto& a : plan.after) {
    j["after"].push_back({{"days", a.days},
                          {"when", records::to_utc_text(a.when)},
                          {"full", kept(a.full)},
                          {"ramp", kept(a.ramp.first_days)},
                          {"ramp_first_share", a.ramp.weeks.front().share},
                          {"ramp_holds", a.ramp.holds()}});
  }
  const auto days_of = [&](const std::optional<std::size_t>& at) { return at ? ordered_json(plan.after[*at].days) : ordered_json(nullptr); };
  j["first_full_days"] = days_of(plan.first_full);
  j["first_ramp_days"] = days_of(plan.first_ramp);
  j["full_now_if_alkalinity_held"] = plan.held ? ordered_json(probability(*plan.held)) : ordered_json(nullptr);
  j["challenge"] = nullptr;
  j["last_challenge"] = nullptr;
  if (!plan.with_fish) {
    const auto& c = plan.challenge;
    j["challenge"] = {{"ammonia_mg_l", rounded(c.ammonia, 0.01)}, {"ammonium_chloride_g", rounded(c.grams, 0.01)}, {"now", c.now},
                      {"would_pass", probability(c.would_pass)},  {"capped", c.capped},                            {"test_after_hours", 24},
                      {"cautions", c.cautions}};
    const auto& l = plan.last_challenge;
    const bool any = l.verdict != steer::ChallengeResult::Verdict::none;
    j["last_challenge"] = {{"verdict", steer::to_text(l.verdict)},
                           {"dosed", any ? ordered_json(records::to_utc_text(l.dosed)) : ordered_json(nullptr)},
                           {"ammonia_mg_l", any ? ordered_json(rounded(l.ammonia, 0.01)) : ordered_json(nullptr)},
                           {"probability", any ? ordered_json(probability(l.probability)) : ordered_json(nullptr)},
                           {"read", l.read},
                           {"text", l.text}};
  }
  j["feed_and_water"] = nullptr;
  if (plan.feed_and_water) {
    const auto& f = *plan.feed_and_water;
    j["feed_and_water"] = {{"meets_aim", f.meets_aim},
                           {"feed_g_per_day", feed(f.care.feed_g_per_day)},
                           {"feed_share", f.share},
                           {"change_share", f.care.change_share},
                           {"change_every_days", f.care.change_share > 0 ? ordered_json(f.care.change_every_days) : ordered_json(nullptr)},
                           {"kept", kept(f.kept)},
                           {"kept_from_day_4", kept(f.kept_later)},
                           {"now", kept(plan.now)}};
  }
  j["without_change"] = nullptr;
  if (plan.without_change) {
    j["without_change"] = {{"feed_g_per_day", feed(plan.without_change->care.feed_g_per_day)}, {"probability", probability(plan.without_change->kept.all)}};
  }
  j["salt"] = nullptr;
  if (plan.salt) j["salt"] = {{"chloride_mg_l", rounded(plan.salt->chloride_mg_l, 0.1)}, {"sodium_chloride_g", rounded(plan.salt->grams, 0.1)}, {"cautions", plan.salt->cautions}};
  j["weeks"] = ordered_json::array();
  for (const auto& w : plan.weeks) {
    j["weeks"].push_back({{"from", records::to_utc_text(w.from)}, {"share", w.share}, {"fish", plan.count ? ordered_json(w.fish) : ordered_json(nullptr)},
                          {"feed_g_per_day", feed(w.feed_g)},     {"probability", probability(w.probability)}, {"tests", w.tests}});
  }
  j["hold_rules"] = plan.hold_rules;
  j["emergency"] = plan.emergency;
  j["cautions"] = plan.cautions;
  return j;
}

}  // namespace helmwater::server
