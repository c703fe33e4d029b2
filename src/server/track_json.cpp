// SPDX-License-Identifier: Apache-2.0
#include "server/track_json.hpp"

#include <cmath>
#include <nlohmann/json.hpp>

namespace helmwater::server {
namespace {

using nlohmann::ordered_json;

ordered_json number(double value) {
  if (!std::isfinite(value)) return nullptr;
  const double scale = value == 0 ? 1 : std::pow(10.0, 5 - std::floor(std::log10(std::abs(value))));
  return std::round(value * scale) / scale;
}
ordered_json number(const std::optional<double>& value) { return value ? number(*value) : ordered_json(nullptr); }

ordered_json tally(const steer::TrackTally& t) {
  ordered_json j;
  j["n"] = t.n;
  j["in_50"] = t.in_50;
  j["in_90"] = t.in_90;
  j["share_50"] = {number(t.share_50.low), number(t.share_50.high)};
  j["share_90"] = {number(t.share_90.low), number(t.share_90.high)};
  j["compared"] = t.compared;
  j["log_score"] = number(t.log_score);
  j["persistence_log_score"] = number(t.persistence_log_score);
  return j;
}

}  // namespace

ordered_json to_json(const steer::TrackRecord& r) {
  ordered_json j;
  j["text"] = r.text;
  j["loops"] = r.loops;
  j["since"] = r.since ? ordered_json(records::to_utc_text(*r.since)) : ordered_json(nullptr);
  j["cases_all"] = r.cases.size();
  j["near"] = tally(r.near);
  j["near"]["by_test"] = ordered_json::object();
  for (const auto& [test, t] : r.near_by_test) j["near"]["by_test"][test] = tally(t);
  j["far"] = tally(r.far);
  j["far"]["by_test"] = ordered_json::object();
  for (const auto& [test, t] : r.far_by_test) j["far"]["by_test"][test] = tally(t);
  j["cases"] = ordered_json::array();
  const std::size_t first = r.cases.size() > steer::kTrackGraph ? r.cases.size() - steer::kTrackGraph : 0;
  for (std::size_t i = first; i < r.cases.size(); ++i) {
    const infer::HindcastCase& h = r.cases[i].hindcast;
    const infer::Quantiles& q = h.predicted;
    j["cases"].push_back({{"loop", r.cases[i].loop}, {"when", records::to_utc_text(h.when)}, {"as_of", records::to_utc_text(h.as_of)},
                          {"entry", h.line}, {"test", h.what}, {"value", h.value}, {"lead_days", number(h.lead_days)},
                          {"low", number(h.low)}, {"high", number(h.high)}, {"p05", number(q.p05)}, {"p25", number(q.p25)},
                          {"p50", number(q.p50)}, {"p75", number(q.p75)}, {"p95", number(q.p95)}, {"rank", number(h.rank)}});
  }
  return j;
}

}  // namespace helmwater::server
