// SPDX-License-Identifier: Apache-2.0
#include "server/outlook_json.hpp"

#include <cmath>
#include <nlohmann/json.hpp>
#include <stdexcept>

#include "records/loop_keys.hpp"

namespace helmwater::server {
namespace {

using nlohmann::ordered_json;

// An infinite number is null on purpose; a number that is none is a mistake of ours and must not pass for null.
ordered_json number(double value) {
  if (std::isnan(value)) throw std::logic_error("a computed number is not a number; nothing was printed");
  if (std::isinf(value)) return nullptr;
  // Six digits are more than any of these numbers holds.
  const double scale = value == 0 ? 1 : std::pow(10.0, 5 - std::floor(std::log10(std::abs(value))));
  return std::round(value * scale) / scale;
}

ordered_json instant(const std::optional<records::Instant>& when) {
  if (!when) return nullptr;
  return records::to_utc_text(*when);
}

void put(ordered_json& to, const infer::Quantiles& q) {
  to["p05"] = number(q.p05);
  to["p25"] = number(q.p25);
  to["p50"] = number(q.p50);
  to["p75"] = number(q.p75);
  to["p95"] = number(q.p95);
}

ordered_json quantity(const char* unit, const char* basis, const infer::Quantiles& q) {
  ordered_json j;
  j["unit"] = unit == nullptr ? ordered_json(nullptr) : ordered_json(unit);
  j["basis"] = basis == nullptr ? ordered_json(nullptr) : ordered_json(basis);
  put(j, q);
  return j;
}

ordered_json milestone(const infer::Milestone& m) {
  ordered_json j;
  j["p05"] = instant(m.p05);
  j["p25"] = instant(m.p25);
  j["p50"] = instant(m.p50);
  j["p75"] = instant(m.p75);
  j["p95"] = instant(m.p95);
  j["probability_within_days"] = number(m.probability_within_days);
  j["reached"] = m.reached;
  return j;
}

template <class Amount>
ordered_json optional_number(const std::optional<Amount>& amount) {
  if (!amount) return nullptr;
  if constexpr (std::is_same_v<Amount, double>) {
    return number(*amount);
  } else {
    return number(amount->value());
  }
}

ordered_json plan(const records::Plan& p, bool in_force) {
  ordered_json j;
  j["in_force"] = in_force;
  j["redose"] = p.redose == records::Redose::to_target ? "to_target" : "none";
  j["redose_to_mg_l"] = number(p.redose_to.value());
  j["redose_below_mg_l"] = number(p.redose_below.value());
  j["redose_while_nitrite_below_mg_l"] = number(p.redose_while_nitrite_below.value());
  j["buffer_below_mg_l_caco3"] = optional_number(p.buffer_below);
  j["buffer_to_mg_l_caco3"] = optional_number(p.buffer_to);
  j["feed_g_per_day"] = optional_number(p.feed_g_per_day);
  j["protein_percent"] = number(p.protein_percent);
  j["ready_load_mg_l"] = number(p.ready_load.value());
  return j;
}

ordered_json scores(const infer::HindcastScores& s) {
  ordered_json j;
  j["n"] = s.n;
  j["coverage_50"] = optional_number(s.coverage_50);
  j["coverage_90"] = optional_number(s.coverage_90);
  j["mean_log_score"] = optional_number(s.mean_log_score);
  return j;
}

ordered_json words_of(const std::vector<records::Test>& tests) {
  ordered_json j = ordered_json::array();
  for (const records::Test t : tests) j.push_back(records::to_text(t));
  return j;
}

}  // namespace

ordered_json to_json(const infer::NextTest& n, records::Instant as_of) {
  ordered_json j;
  j["text"] = n.text;
  j["decision"] = n.decision.empty() ? ordered_json(nullptr) : ordered_json(n.decision);
  j["because"] = n.because.empty() ? ordered_json(nullptr) : ordered_json(n.because);
  j["advised"] = {{"tests", words_of(n.advised)},
                  {"in_hours", number(n.advised_in_hours)},
                  {"when", instant(records::plus_days(as_of, n.advised_in_hours / 24))},
                  {"after_challenge", n.challenge},
                  {"for_safety", n.for_safety}};
  j["tests"] = ordered_json::array();
  for (const infer::TestGain& t : n.tests) {
    j["tests"].push_back({{"tests", words_of(t.tests)},
                          {"after_challenge", t.after_challenge},
                          {"in_hours", number(t.in_hours)},
                          {"when", instant(t.when)},
                          {"gain", number(t.gain)},
                          {"cost", number(t.cost)},
                          {"decides", t.decides.empty() ? ordered_json(nullptr) : ordered_json(t.decides)},
                          {"would_change", t.would_change}});
  }
  j["can_wait"] = ordered_json::array();
  for (const infer::CanWait& w : n.can_wait) {
    j["can_wait"].push_back({{"test", records::to_text(w.test)}, {"until", instant(w.until)}});
  }
  return j;
}

ordered_json to_json(const infer::Outlook& o) {
  ordered_json j;
  j["loop"] = o.loop;
  j["as_of"] = instant(o.as_of);
  j["started"] = instant(o.started);
  j["readings_used"] = o.readings_used;
  j["members"] = o.members;
  j["effective_members"] = number(o.effective_members);
  j["seed"] = o.seed;
  j["engine"] = o.engine;
  j["plan"] = plan(o.plan, o.with_plan);

  j["conflict"] = {{"p", number(o.conflict.p)}, {"said", o.conflict.said()}, {"kind", infer::to_text(o.conflict.kind)},
                   {"text", o.conflict.text.empty() ? ordered_json(nullptr) : ordered_json(o.conflict.text)}};

  ordered_json& now = j["now"];
  now["ammonia"] = quantity("mg/L", "ion", o.ammonia);
  now["nitrite"] = quantity("mg/L", "ion", o.nitrite);
  now["nitrate"] = quantity("mg/L", "ion", o.nitrate);
  now["ph"] = quantity(nullptr, nullptr, o.ph);
  now["alkalinity"] = quantity("mg/L", "CaCO3", o.alkalinity);
  now["free_ammonia"] = quantity("mg/L", "N", o.free_ammonia);
  now["ammonia_capacity"] = quantity("mg/L/d", "N", o.ammonia_capacity);
  now["nitrite_capacity"] = quantity("mg/L/d", "N", o.nitrite_capacity);

  j["stage"] = {{"name", infer::to_text(o.stage)}, {"since", instant(o.stage_since)}, {"probability", number(o.stage_probability)}};

  ordered_json& dates = j["milestones"];
  dates["ammonia_first_clear"] = milestone(o.ammonia_first_clear);
  dates["nitrite_peak"] = milestone(o.nitrite_peak);
  put(dates["nitrite_peak"]["height"], o.nitrite_peak_height);
  dates["nitrite_first_clear"] = milestone(o.nitrite_first_clear);
  dates["ready_for_fish"] = milestone(o.ready_for_fish);
  dates["ready_for_fish"]["applies"] = !o.fish;
  if (o.fish) dates["ready_for_fish"]["probability_within_days"] = nullptr;
  dates["alkalinity_runs_out"] = milestone(o.alkalinity_runs_out);

  ordered_json& risk = j["risk"];
  risk["applies"] = o.fish;
  if (o.fish) {
    risk["species"] = o.risk_species.empty() ? ordered_json(nullptr) : ordered_json(o.risk_species);
    risk["free_ammonia"] = {{"limit_mg_l_n", number(o.risk_free_ammonia.limit)},
                            {"within_24_h", number(o.risk_free_ammonia.within_24_h)},
                            {"within_72_h", number(o.risk_free_ammonia.within_72_h)}};
    risk["nitrite"] = {{"limit_mg_l_ion", number(o.risk_nitrite.limit)},
                       {"within_24_h", number(o.risk_nitrite.within_24_h)},
                       {"within_72_h", number(o.risk_nitrite.within_72_h)}};
  }

  j["series"] = ordered_json::array();
  const char* names[] = {"ammonia", "nitrite", "nitrate", "ph", "alkalinity"};
  for (const infer::Outlook::Moment& moment : o.series) {
    ordered_json m;
    m["when"] = instant(moment.when);
    for (std::size_t k = 0; k < moment.of.size(); ++k) put(m[names[k]], moment.of[k]);
    j["series"].push_back(std::move(m));
  }
  if (o.next_test) j["next_test"] = to_json(*o.next_test, o.as_of);
  j["advice"] = ordered_json::array();
  for (const infer::Advice& a : o.advice) {
    j["advice"].push_back(
        {{"code", a.code}, {"urgency", a.urgency}, {"text", a.text}, {"because", a.because}, {"caution", a.caution}});
  }
  ordered_json& history = j["history"];
  history["loops"] = o.history.of.size();
  history["text"] = o.history.text;
  history["of"] = o.history.of;
  history["learnt"] = ordered_json::array();
  for (const infer::LearnedUnknown& u : o.learnt) {
    history["learnt"].push_back({{"unknown", u.name}, {"shift", number(u.shift)}, {"scale", number(u.scale)}});
  }
  j["doubts"] = ordered_json::array();
  for (const records::Doubt& d : o.doubts) {
    j["doubts"].push_back({{"entry", d.entry ? ordered_json(*d.entry) : ordered_json(nullptr)}, {"code", d.code}, {"text", d.text}});
  }
  return j;
}

ordered_json to_json(const infer::Hindcast& h) {
  ordered_json j;
  j["loop"] = h.loop;
  j["cases"] = ordered_json::array();
  for (const infer::HindcastCase& c : h.cases) {
    ordered_json one;
    one["as_of"] = instant(c.as_of);
    one["reading"] = {{"when", instant(c.when)}, {"entry", c.line}, {"what", c.what}, {"value", c.value},
                      {"low", number(c.low)},    {"high", number(c.high)}};
    put(one["predicted"], c.predicted);
    one["probability"] = number(c.probability);
    one["lead_days"] = number(c.lead_days);
    one["rank"] = number(c.rank);
    j["cases"].push_back(std::move(one));
  }
  j["scores"] = scores(h.scores);
  j["scores"]["by_test"] = ordered_json::object();
  for (const auto& [test, s] : h.by_test) j["scores"]["by_test"][test] = scores(s);
  return j;
}

}  // namespace helmwater::server
