// SPDX-License-Identifier: Apache-2.0
#include "steer/clues.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>

#include "handbook/handbook.hpp"
#include "records/words.hpp"

namespace helmwater::steer {
namespace {

using records::Entry;
using records::Test;

constexpr double kPauseDays = 7;
// Ammonia at least this high, mg N/L, is more than any start needs (estimate).
constexpr double kMuchAmmonia = 4;
// Phosphate that bacteria can grow on, and too little, mg P/L: around five times the half-saturation, and a half of it.
constexpr double kAmplePhosphate = 0.1, kLowPhosphate = 0.01;

// Whole words of a text, letter case ignored.
bool speaks_of(const std::string& text, std::initializer_list<const char*> words) {
  std::string padded = " ";
  for (const char c : records::lower_case(text)) padded += (c >= 'a' && c <= 'z') ? c : ' ';
  padded += ' ';
  return std::any_of(words.begin(), words.end(),
                     [&](const char* word) { return padded.find(fmt::format(" {} ", word)) != std::string::npos; });
}
bool is_pure_water(const std::string& text) {
  return speaks_of(text, {"rain", "rainwater", "ro", "osmosis", "rodi", "distilled", "deionised", "deionized",
                          "demineralised", "demineralized", "purified"});
}

// Fed again within the last week after a week or more with nothing. Doses alone: who keeps fish feeds them.
bool paused(const records::LoopLog& log, records::Instant as_of) {
  std::optional<records::Instant> before;
  bool again = false;
  for (const Entry& e : log.entries) {
    if (e.when > as_of) break;
    if (std::holds_alternative<records::Feed>(e.body)) return false;
    const auto* dose = std::get_if<records::Dose>(&e.body);
    if (dose == nullptr) continue;
    const handbook::Reagent* reagent = handbook::Handbook::built_in().reagent(dose->substance);
    if (reagent == nullptr || reagent->ammonia_n_mol_per_mol <= 0) continue;
    const bool lately = records::days_between(e.when, as_of) <= kPauseDays;
    again = lately && (again || (before && records::days_between(*before, e.when) >= kPauseDays));
    before = e.when;
  }
  return again;
}

}  // namespace

const std::set<std::string>& clue_names() {
  static const std::set<std::string> names{
      "pure_water", "other_water", "fed", "phosphate_read_low", "phosphate_read_ample", "temperature_never_read", "air_none",
      "air_strong", "air_was_off", "struck", "not_struck", "light_logged", "start_seeded_media", "start_bottled",
      "after_a_pause", "much_ammonia_read"};
  return names;
}

std::set<std::string> clues_of(const records::LoopLog& log, records::Instant start, records::Instant as_of) {
  std::set<std::string> found;
  bool temperature = false, struck = false;
  double phosphate_low = std::numeric_limits<double>::infinity(), phosphate_high = -1;  // of the last reading, mg P/L
  if (log.loop.start == records::Start::fish) found.insert("fed");
  if (log.loop.start == records::Start::seeded_media) found.insert("start_seeded_media");
  if (log.loop.start == records::Start::bottled_culture) found.insert("start_bottled");
  if (log.loop.air == records::Air::none) found.insert("air_none");
  if (log.loop.air == records::Air::strong) found.insert("air_strong");
  for (const Entry& e : log.entries) {
    if (e.when > as_of) break;
    const std::string words = fmt::format("{} {}", e.value_text, e.detail_text);
    if (const auto* change = std::get_if<records::WaterChange>(&e.body)) {
      struck = struck || e.when > start;
      found.insert(is_pure_water(fmt::format("{} {}", change->source, words)) ? "pure_water" : "other_water");
    } else if (const auto* top_up = std::get_if<records::TopUp>(&e.body)) {
      found.insert(is_pure_water(fmt::format("{} {}", top_up->source, words)) ? "pure_water" : "other_water");
    } else if (std::holds_alternative<records::Medication>(e.body)) {
      struck = true;
    } else if (std::holds_alternative<records::Feed>(e.body)) {
      found.insert("fed");
    } else if (const auto* move = std::get_if<records::FishMove>(&e.body)) {
      if (move->in) found.insert("fed");
    } else if (const auto* device = std::get_if<records::Switch>(&e.body)) {
      using Device = records::Switch::Device;
      if (!device->on && (device->device == Device::air || device->device == Device::pump)) found.insert("air_was_off");
      if (device->on && device->device == Device::light) found.insert("light_logged");
    } else if (std::holds_alternative<records::Note>(e.body)) {
      if (speaks_of(words, {"sun", "sunlight", "sunny", "algae", "uv"})) found.insert("light_logged");
      if (is_pure_water(words)) found.insert("pure_water");
    } else if (const auto* reading = std::get_if<records::Reading>(&e.body)) {
      temperature = temperature || reading->test == Test::temperature;
      if (reading->test == Test::ammonia &&
          records::to_standard_factor(reading->test, reading->basis) * reading->seen.low > kMuchAmmonia) {
        found.insert("much_ammonia_read");
      }
      if (reading->test == Test::phosphate) {
        const double factor = records::to_standard_factor(reading->test, reading->basis);
        const bool interval = reading->seen.shape == records::Seen::Shape::interval;
        phosphate_low = factor * (interval ? reading->seen.low : reading->seen.centre);
        phosphate_high = factor * (interval ? reading->seen.high : reading->seen.centre);
      }
    }
  }
  if (found.contains("pure_water")) found.erase("other_water");
  if (paused(log, as_of)) found.insert("after_a_pause");
  if (!temperature) found.insert("temperature_never_read");
  found.insert(struck ? "struck" : "not_struck");
  if (phosphate_high >= 0) {
    if (phosphate_low >= kAmplePhosphate) found.insert("phosphate_read_ample");
    if (phosphate_high <= kLowPhosphate) found.insert("phosphate_read_low");
  }
  return found;
}

}  // namespace helmwater::steer
