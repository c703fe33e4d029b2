// SPDX-License-Identifier: Apache-2.0
#include "server/sheet_json.hpp"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "records/entry_text.hpp"
#include "records/loop_keys.hpp"
#include "records/words.hpp"
#include "units/parse.hpp"

namespace helmwater::server {
namespace {

using namespace records;
using nlohmann::ordered_json;

Basis page_basis(Test test) {
  switch (test) {
    case Test::ammonia: return Basis::nh3;
    case Test::nitrite: return Basis::no2;
    case Test::nitrate: return Basis::no3;
    case Test::alkalinity: return Basis::caco3;
    case Test::phosphate: return Basis::p;
    default: return Basis::none;
  }
}

double page_factor(Test test, Basis basis) {
  return to_standard_factor(test, basis) / to_standard_factor(test, page_basis(test));
}

// Open ends are null; six digits are more than a reading holds.
ordered_json number(double value) {
  if (!std::isfinite(value)) return nullptr;
  const double scale = value == 0 ? 1 : std::pow(10.0, 5 - std::floor(std::log10(std::abs(value))));
  return std::round(value * scale) / scale;
}

const char* shape_word(Seen::Shape shape) {
  switch (shape) {
    case Seen::Shape::interval: return "interval";
    case Seen::Shape::normal: return "normal";
    case Seen::Shape::lognormal: return "lognormal";
  }
  return "interval";
}

// How the owner wrote it, which the drawing shows.
const char* form_word(const Reading& r, const Loop& loop) {
  std::string text(trimmed(r.value_text));
  if (text.find("±") != std::string::npos || text.find("+-") != std::string::npos || r.meter) return "metered";
  if (text.find("hint") != std::string::npos) return "hint";
  if (text.find("..") != std::string::npos) return "between";
  if (text.starts_with('>')) return "off_top";
  if (text.starts_with('~')) return "about";
  if (r.seen.shape != Seen::Shape::interval) return "number";
  const auto value = units::parse_number(text.substr(0, text.find_first_of("?*")));
  if (!value || r.kit < 0) return "other";
  const auto& steps = loop.kits[static_cast<std::size_t>(r.kit)].steps;
  const bool on_step = std::any_of(steps.begin(), steps.end(), [&](double s) { return std::abs(s - *value) < 1e-9; });
  return on_step ? "step" : "between";
}

struct Kind {
  const char* operator()(const Reading&) const { return "reading"; }
  const char* operator()(const Dose&) const { return "dose"; }
  const char* operator()(const WaterChange&) const { return "water_change"; }
  const char* operator()(const TopUp&) const { return "top_up"; }
  const char* operator()(const Feed&) const { return "feed"; }
  const char* operator()(const FishMove&) const { return "fish"; }
  const char* operator()(const PlantMove&) const { return "plants"; }
  const char* operator()(const Seed&) const { return "seed"; }
  const char* operator()(const VolumeChange&) const { return "volume"; }
  const char* operator()(const Medication&) const { return "medication"; }
  const char* operator()(const Switch&) const { return "switch"; }
  const char* operator()(const Note&) const { return "note"; }
};

ordered_json reading_json(const Reading& r, const Loop& loop) {
  const double factor = page_factor(r.test, r.basis);
  ordered_json j;
  j["test"] = to_text(r.test);
  j["low"] = number(r.seen.low * factor);
  j["high"] = number(r.seen.high * factor);
  j["centre"] = r.seen.shape == Seen::Shape::interval ? ordered_json(nullptr) : number(r.seen.centre * factor);
  j["shape"] = shape_word(r.seen.shape);
  j["form"] = form_word(r, loop);
  j["doubted"] = r.seen.doubted;
  return j;
}

ordered_json entry_json(const Entry& e, const Loop& loop) {
  ordered_json j;
  j["line"] = e.line;
  j["when"] = to_utc_text(e.when);
  j["what"] = e.what_text;
  j["value"] = e.value_text;
  j["unit"] = e.unit_text;
  j["detail"] = e.detail_text;
  const auto author = e.more.find("author");
  j["author"] = author == e.more.end() || author->second.empty() ? ordered_json(nullptr) : ordered_json(author->second);
  j["kind"] = std::visit(Kind{}, e.body);
  j["used"] = is_used(e, loop);
  const auto* reading = std::get_if<Reading>(&e.body);
  j["reading"] = reading == nullptr ? ordered_json(nullptr) : reading_json(*reading, loop);
  j["label"] = said_of(e, loop);
  return j;
}

ordered_json kit_json(const Kit& kit) {
  ordered_json j;
  j["test"] = to_text(kit.test);
  j["basis"] = kit.basis == Basis::none ? ordered_json(nullptr) : ordered_json(to_text(kit.basis));
  j["steps"] = kit.steps;
  j["steps_page"] = ordered_json::array();
  for (const double step : kit.steps) j["steps_page"].push_back(number(step * page_factor(kit.test, kit.basis)));
  j["id"] = kit.id ? ordered_json(*kit.id) : ordered_json(nullptr);
  j["lot"] = kit.lot ? ordered_json(*kit.lot) : ordered_json(nullptr);
  return j;
}

}  // namespace

ordered_json sheet_json(const std::string& id, const LoopLog& log) {
  ordered_json j;
  j["id"] = id;
  ordered_json& loop = j["loop"];
  loop["name"] = log.loop.name;
  loop["volume_l"] = number(log.loop.volume.value());
  loop["time_zone"] = log.loop.zone();
  loop["start"] = to_text(log.loop.start);
  loop["typical_temperature_c"] = number(log.loop.typical_temperature.value());
  loop["kits"] = ordered_json::array();
  for (const Kit& kit : log.loop.kits) loop["kits"].push_back(kit_json(kit));
  j["entries"] = ordered_json::array();
  for (const Entry& e : log.entries) j["entries"].push_back(entry_json(e, log.loop));
  j["doubts"] = ordered_json::array();
  for (const Doubt& d : log.doubts) {
    j["doubts"].push_back({{"entry", d.entry ? ordered_json(*d.entry) : ordered_json(nullptr)}, {"code", d.code}, {"text", d.text}});
  }
  return j;
}

ordered_json line_json(const std::string& id, const LoopLog& log) {
  ordered_json j;
  j["id"] = id;
  j["name"] = log.loop.name;
  std::optional<Instant> started = log.loop.started, last;
  if (!log.entries.empty()) {
    last = log.entries.back().when;
    if (!started) started = log.entries.front().when;
  }
  j["started"] = started ? ordered_json(to_utc_text(*started)) : ordered_json(nullptr);
  j["last_entry"] = last ? ordered_json(to_utc_text(*last)) : ordered_json(nullptr);
  j["entries"] = log.entries.size();
  j["fish"] = last ? has_fish(log, *last) : log.loop.start == Start::fish;
  j["error"] = nullptr;
  return j;
}

}  // namespace helmwater::server
