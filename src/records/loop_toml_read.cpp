// SPDX-License-Identifier: Apache-2.0
// Reading loop.toml: every key checked for its type and range, unknown keys refused.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <exception>
#include <sstream>
#include <toml++/toml.h>
#include <utility>

#include "records/loop_folder.hpp"
#include "records/loop_keys.hpp"
#include "records/words.hpp"

namespace helmwater::records {
namespace {

const std::vector<std::string> kTopKeys{"name",      "volume_l", "time_zone",    "started", "start",        "seed_area_m2",
                                        "seed_note", "typical_temperature_c", "bed", "bed_area_m2", "turnover_per_h", "air",
                                        "media",     "source_water", "kit", "plan"};
const std::vector<std::string> kVolumeKeys{"value", "sd"};
const std::vector<std::string> kMediaKeys{"volume_l", "specific_surface_m2_m3"};
const std::vector<std::string> kSourceKeys{"ph", "alkalinity_mg_l_caco3", "nitrate_mg_l", "disinfectant",
                                           "disinfectant_mg_l_cl2"};
const std::vector<std::string> kKitKeys{"test", "basis", "steps", "id", "lot", "from", "until"};
const std::vector<std::string> kPlanKeys{"redose", "redose_to_mg_l", "redose_below_mg_l", "redose_while_nitrite_below_mg_l",
                                         "buffer_below_mg_l_caco3", "buffer_to_mg_l_caco3", "feed_g_per_day",
                                         "protein_percent", "ready_load_mg_l"};

struct Range {
  double low;
  double high;
  bool above_low = false;  // low itself is not allowed
};

template <class Enum, std::size_t N>
using Choices = std::array<Enum, N>;

class LoopReader {
 public:
  explicit LoopReader(std::string_view file) : file_(file) {}

  tl::expected<Loop, Error> read(std::string_view text) {
    if (text.find('\0') != std::string_view::npos) {
      const auto before = text.substr(0, text.find('\0'));
      error_ = Error{};
      error_->file = file_;
      error_->line = 1 + static_cast<int>(std::count(before.begin(), before.end(), '\n'));
      error_->column = static_cast<int>(before.size() - (before.rfind('\n') + 1)) + 1;
      error_->message = "a NUL byte; this is not a plain text file, save it again as text in UTF-8";
      return tl::unexpected(std::move(*error_));
    }
    try {
      const toml::table root = toml::parse(text, file_);
      read_root(root);
    } catch (const toml::parse_error& problem) {
      fail(problem.source(), fmt::format("not valid TOML: {}; write key = value, with text in double quotes",
                                         in_quotes(problem.description())));
    }
    if (error_) return tl::unexpected(std::move(*error_));
    return std::move(loop_);
  }

 private:
  // The first problem stands; later ones are often its consequences.
  void fail(const toml::source_region& where, std::string message) {
    if (error_) return;
    error_ = Error{};
    error_->file = file_;
    error_->line = static_cast<int>(where.begin.line);
    error_->column = static_cast<int>(where.begin.column);
    error_->message = std::move(message);
  }
  void fail(const toml::node& node, std::string message) { fail(node.source(), std::move(message)); }
  void fail_whole(std::string message) { fail(toml::source_region{}, std::move(message)); }

  void check_keys(const toml::table& table, const std::vector<std::string>& allowed, std::string_view place) {
    // In file order, so that the first mistake is the one reported.
    const toml::key* first = nullptr;
    for (const auto& [key, node] : table) {
      if (std::find(allowed.begin(), allowed.end(), key.str()) != allowed.end()) continue;
      const auto& begin = key.source().begin;
      if (first == nullptr || std::pair(begin.line, begin.column) <
                                  std::pair(first->source().begin.line, first->source().begin.column))
        first = &key;
    }
    if (first == nullptr) return;
    const std::string name(first->str());
    const bool top_level_key = !place.empty() && std::find(kTopKeys.begin(), kTopKeys.end(), name) != kTopKeys.end();
    fail(first->source(), fmt::format("unknown key {}{}{}; allowed{}: {}", in_quotes(name), place.empty() ? "" : " under ", place,
                                      place.empty() ? "" : " there", listed(allowed)) +
                              (top_level_key ? "; it belongs above the first [section]" : did_you_mean(name, allowed)));
  }

  std::optional<double> number(const toml::table& table, std::string_view key, Range range, std::string_view unit) {
    const toml::node* node = table.get(key);
    if (node == nullptr) return std::nullopt;
    return number(*node, key, range, unit);
  }

  std::optional<double> number(const toml::node& node, std::string_view key, Range range, std::string_view unit) {
    if (!node.is_number()) {
      fail(node, fmt::format("{} must be a number{}{}{}", key, unit.empty() ? "" : " in ", unit,
                             node.is_string() ? ", without quotes and with a decimal point" : ""));
      return std::nullopt;
    }
    const double value = node.value<double>().value_or(0);
    const bool ok = std::isfinite(value) && value <= range.high && (range.above_low ? value > range.low : value >= range.low);
    if (!ok) {
      fail(node, fmt::format("{} = {} is out of range; allowed: {} {} to {}{}{}", key, value,
                             range.above_low ? "above" : "from", range.low, range.high, unit.empty() ? "" : " ", unit));
      return std::nullopt;
    }
    return value;
  }

  std::optional<std::string> text(const toml::table& table, std::string_view key) {
    const toml::node* node = table.get(key);
    if (node == nullptr) return std::nullopt;
    if (!node->is_string()) {
      fail(*node, fmt::format("{} must be text in double quotes", key));
      return std::nullopt;
    }
    return node->value<std::string>();
  }

  template <class Enum, std::size_t N>
  std::optional<Enum> choice(const toml::table& table, std::string_view key, const Choices<Enum, N>& choices) {
    const auto written = text(table, key);
    if (!written) return std::nullopt;
    std::vector<std::string> allowed;
    for (Enum value : choices) {
      if (key_word(*written) == to_text(value)) return value;
      allowed.emplace_back(to_text(value));
    }
    fail(*table.get(key), fmt::format("{} = {} is not known{}; allowed: {}", key, in_quotes(*written),
                                      did_you_mean(*written, allowed), listed(allowed)));
    return std::nullopt;
  }

  const toml::table* section(const toml::table& root, std::string_view key) {
    const toml::node* node = root.get(key);
    if (node == nullptr) return nullptr;
    if (const toml::table* table = node->as_table()) return table;
    fail(*node, fmt::format("{0} must be a section; write [{0}] on a line of its own and its keys below", key));
    return nullptr;
  }

  // A date or time as TOML writes it, or as a log would in quotes.
  std::optional<ParsedInstant> instant(const toml::table& table, std::string_view key) {
    const toml::node* node = table.get(key);
    if (node == nullptr) return std::nullopt;
    std::string written;
    if (const auto* string = node->as_string()) {
      written = string->get();
    } else if (node->is_date() || node->is_date_time()) {
      std::ostringstream stream;
      if (const auto* date = node->as_date()) stream << date->get();
      if (const auto* time = node->as_date_time()) stream << time->get();
      written = stream.str();
    } else {
      fail(*node, fmt::format("{} must be a date or time; write {} = 2026-03-01 or {} = 2026-03-01T08:00:00", key, key, key));
      return std::nullopt;
    }
    const auto parsed = parse_instant(written, loop_.zone());
    if (!parsed)
      fail(*node, fmt::format("{} = {} is not a date or time of the years 1900 to 2200; write {} = 2026-03-01 or {} = "
                              "2026-03-01T08:00:00",
                              key, in_quotes(written), key, key));
    return parsed;
  }

  void read_volume(const toml::table& root) {
    const toml::node* node = root.get("volume_l");
    if (node == nullptr) {
      fail_whole("volume_l is missing; write all water in circulation in litres, for example volume_l = 500");
      return;
    }
    constexpr Range kVolume{0, 1e9, true};
    const toml::table* table = node->as_table();
    std::optional<double> value;
    std::optional<double> sd;
    if (table != nullptr) {
      check_keys(*table, kVolumeKeys, "volume_l");
      value = number(*table, "value", kVolume, "L");
      sd = number(*table, "sd", {0, 1e9}, "L");
      if (!value) fail(*node, "volume_l has no value; write volume_l = { value = 500, sd = 25 }");
    } else {
      value = number(*node, "volume_l", kVolume, "L");
    }
    if (!value) return;
    loop_.volume = units::Litres{*value};
    loop_.volume_sd = units::Litres{sd.value_or(0.1 * *value)};
  }

  void read_root(const toml::table& root) {
    check_keys(root, kTopKeys, "");
    const auto name = text(root, "name");
    if (!name && root.get("name") == nullptr) fail_whole("name is missing; write for example name = \"North bench\"");
    if (name && trimmed(*name).empty()) fail(*root.get("name"), "name is empty; write for example name = \"North bench\"");
    loop_.name = name.value_or("");
    for (const std::string& key : kTopKeys)
      if (root.get(key) != nullptr) loop_.written.push_back(key);
    read_volume(root);

    if (const auto zone = text(root, "time_zone")) {
      if (is_known_zone(*zone)) {
        loop_.time_zone = *zone;
      } else {
        fail(*root.get("time_zone"), fmt::format("time_zone = {} is not a zone this machine knows; write an IANA name such as "
                                                 "\"Europe/Vienna\", \"America/Chicago\" or \"UTC\"",
                                                 in_quotes(*zone)));
      }
    }
    if (const auto started = instant(root, "started")) {
      loop_.started = started->when;
      loop_.started_is_date = started->date_only;
    }
    if (const auto start = choice(root, "start", Choices<Start, 4>{Start::unseeded, Start::bottled_culture, Start::fish,
                                                                   Start::seeded_media}))
      loop_.start = *start;
    if (const auto area = number(root, "seed_area_m2", {0, 1e7}, "m2")) loop_.seed_area = units::SquareMetres{*area};
    loop_.seed_note = text(root, "seed_note");
    if (const auto t = number(root, "typical_temperature_c", {0, 45}, "degC")) loop_.typical_temperature = units::Celsius{*t};
    if (const auto bed = choice(root, "bed", Choices<Bed, 4>{Bed::media, Bed::raft, Bed::film, Bed::mixed})) loop_.bed = *bed;
    if (const auto area = number(root, "bed_area_m2", {0, 1e7}, "m2")) loop_.bed_area = units::SquareMetres{*area};
    if (const auto turnover = number(root, "turnover_per_h", {0, 1000}, "1/h")) loop_.turnover_per_h = *turnover;
    if (const auto air = choice(root, "air", Choices<Air, 3>{Air::none, Air::gentle, Air::strong})) loop_.air = *air;
    if (const toml::table* media = section(root, "media")) read_media(*media);
    if (const toml::table* source = section(root, "source_water")) read_source(*source);
    read_kits(root);
    if (const toml::table* plan = section(root, "plan")) read_plan(*plan);
  }

  void read_media(const toml::table& media) {
    check_keys(media, kMediaKeys, "[media]");
    if (const auto v = number(media, "volume_l", {0, 1e9}, "L")) loop_.media.volume = units::Litres{*v};
    loop_.media.specific_surface_m2_m3 = number(media, "specific_surface_m2_m3", {0, 1e5}, "m2/m3");
  }

  void read_source(const toml::table& source) {
    check_keys(source, kSourceKeys, "[source_water]");
    SourceWater& water = loop_.source_water;
    water.ph = number(source, "ph", {0, 14}, "");
    if (const auto a = number(source, "alkalinity_mg_l_caco3", {0, 5000}, "mg/L as CaCO3"))
      water.alkalinity = units::AlkalinityCaCO3{*a};
    if (const auto n = number(source, "nitrate_mg_l", {0, 5000}, "mg/L as NO3")) water.nitrate = units::NitrateIon{*n};
    water.disinfectant = choice(source, "disinfectant",
                                Choices<Disinfectant, 3>{Disinfectant::none, Disinfectant::chlorine, Disinfectant::chloramine});
    if (const auto d = number(source, "disinfectant_mg_l_cl2", {0, 100}, "mg/L as Cl2"))
      water.disinfectant_dose = units::ChlorineCl2{*d};
  }

  void read_kits(const toml::table& root) {
    const toml::node* node = root.get("kit");
    if (node == nullptr) return;
    const toml::array* kits = node->as_array();
    if (kits == nullptr) {
      fail(*node, "kit must be a list of kits; write [[kit]] with two brackets before each");
      return;
    }
    std::vector<std::pair<std::string, std::string>> dates;  // from and until where written as a date alone
    for (const toml::node& element : *kits) {
      const toml::table* table = element.as_table();
      if (table == nullptr) {
        fail(element, "each kit must be a section; write [[kit]] and its keys below");
        return;
      }
      read_kit(*table, dates);
    }
    // On the day one kit hands over to the next, the next one counts.
    for (std::size_t i = 0; i < loop_.kits.size() && i < dates.size(); ++i)
      for (std::size_t j = 0; j < loop_.kits.size() && j < dates.size(); ++j)
        if (i != j && loop_.kits[i].test == loop_.kits[j].test && !dates[i].second.empty() && dates[i].second == dates[j].first)
          loop_.kits[i].until = loop_.kits[j].from;
  }

  // First instant of a local day, or of the day after it.
  std::optional<Instant> start_of_day(const ParsedInstant& noon, bool of_next_day) const {
    const std::string zone = loop_.zone();
    const Instant first = next_local_hour(noon.when - std::chrono::hours{26}, 0, zone);
    for (Instant day = first; day < noon.when + std::chrono::hours{40}; day = next_local_hour(day, 0, zone)) {
      const bool same_day = local_date_iso(day, zone) == local_date_iso(noon.when, zone);
      if (!of_next_day && same_day) return day;
      if (of_next_day && day > noon.when) return day;
    }
    return std::nullopt;
  }

  void read_kit(const toml::table& table, std::vector<std::pair<std::string, std::string>>& dates) {
    check_keys(table, kKitKeys, "[[kit]]");
    Kit kit;
    const auto test = text(table, "test");
    if (!test) {
      if (table.get("test") == nullptr)
        fail(table, fmt::format("a kit needs its test; write for example test = \"nitrite\"; allowed: {}", listed(test_names())));
      return;
    }
    const auto known = test_from(*test);
    if (!known) {
      fail(*table.get("test"), fmt::format("test = {} is not known{}; allowed: {}", in_quotes(*test),
                                           did_you_mean(*test, test_names()), listed(test_names())));
      return;
    }
    kit.test = *known;
    read_basis(table, kit);
    read_steps(table, kit);
    kit.id = text(table, "id");
    kit.lot = text(table, "lot");
    if (kit.id && (trimmed(*kit.id).empty() || key_word(*kit.id) == "meter"))
      fail(*table.get("id"), fmt::format("id = {} cannot name a kit; allowed: any text except meter, which a log uses for meters",
                                         in_quotes(*kit.id)));
    std::pair<std::string, std::string> day;
    if (const auto from = instant(table, "from")) {
      kit.from = from->date_only ? start_of_day(*from, false) : from->when;
      if (from->date_only) day.first = local_date_iso(from->when, loop_.zone());
    }
    if (const auto until = instant(table, "until")) {
      // A date alone is the last day the kit was used.
      kit.until = until->date_only ? start_of_day(*until, true) : until->when;
      if (until->date_only) day.second = local_date_iso(until->when, loop_.zone());
    }
    if (kit.from && kit.until && *kit.until <= *kit.from)
      fail(*table.get("until"), "until is not after from; swap them, or leave one out");
    loop_.kits.push_back(std::move(kit));
    dates.push_back(std::move(day));
  }

  void read_basis(const toml::table& table, Kit& kit) {
    const std::vector<Basis>& bases = bases_of(kit.test);
    std::vector<std::string> allowed;
    for (Basis basis : bases) allowed.emplace_back(to_text(basis));
    const bool has_ion = kit.test == Test::ammonia || kit.test == Test::nitrite || kit.test == Test::nitrate;
    if (has_ion) allowed.emplace_back("ion");
    const bool required = has_ion || kit.test == Test::alkalinity;
    const auto written = text(table, "basis");
    if (!written) {
      if (required && table.get("basis") == nullptr)
        fail(table, fmt::format("this {0} kit does not say what it counts; write basis = \"{1}\" or another of: {2}; the leaflet "
                                "in the kit says which",
                                to_text(kit.test), allowed.at(has_ion ? 1 : 0), listed(allowed)));
      return;
    }
    if (bases.empty()) {
      if (!trimmed(*written).empty() && key_word(*written) != "none")
        fail(*table.get("basis"), fmt::format("a {} kit has no basis; leave the key out", to_text(kit.test)));
      return;
    }
    const std::string word = key_word(*written);
    if (word == "ion" && has_ion) {
      kit.basis = kit.test == Test::ammonia ? Basis::nh3 : kit.test == Test::nitrite ? Basis::no2 : Basis::no3;
      return;
    }
    for (Basis basis : bases)
      if (lower_case(to_text(basis)) == word) kit.basis = basis;
    if (kit.basis == Basis::none)
      fail(*table.get("basis"), fmt::format("basis = {} is not a basis of {}; allowed: {}", in_quotes(*written), to_text(kit.test),
                                            listed(allowed)));
  }

  void read_steps(const toml::table& table, Kit& kit) {
    const toml::node* node = table.get("steps");
    if (node == nullptr) return;
    const toml::array* steps = node->as_array();
    constexpr std::size_t kMost = 200;
    if (steps == nullptr || steps->empty() || steps->size() > kMost) {
      fail(*node, "steps must be the chart's numbers, rising; write for example steps = [0, 0.25, 0.5, 1, 2]");
      return;
    }
    const bool ph = kit.test == Test::ph;
    const Range range{kit.test == Test::temperature ? -5.0 : 0.0, ph ? 14.0 : 1e5};
    for (const toml::node& element : *steps) {
      const auto step = number(element, "a step", range, "");
      if (!step) return;
      if (!kit.steps.empty() && *step <= kit.steps.back()) {
        fail(element, fmt::format("the steps do not rise: {} comes after {}; write them from lowest to highest, each once", *step,
                                  kit.steps.back()));
        return;
      }
      kit.steps.push_back(*step);
    }
  }

  void read_plan(const toml::table& table) {
    check_keys(table, kPlanKeys, "[plan]");
    Plan plan;
    constexpr Range kMgPerL{0, 1000};
    if (const auto redose = choice(table, "redose", Choices<Redose, 2>{Redose::none, Redose::to_target})) plan.redose = *redose;
    if (const auto v = number(table, "redose_to_mg_l", {0, 1000, true}, "mg/L as NH3")) plan.redose_to = units::AmmoniaNH3{*v};
    if (const auto v = number(table, "redose_below_mg_l", kMgPerL, "mg/L as NH3")) plan.redose_below = units::AmmoniaNH3{*v};
    if (const auto v = number(table, "redose_while_nitrite_below_mg_l", kMgPerL, "mg/L as NO2"))
      plan.redose_while_nitrite_below = units::NitriteIon{*v};
    if (const auto v = number(table, "buffer_below_mg_l_caco3", {0, 5000}, "mg/L as CaCO3"))
      plan.buffer_below = units::AlkalinityCaCO3{*v};
    if (const auto v = number(table, "buffer_to_mg_l_caco3", {0, 5000}, "mg/L as CaCO3"))
      plan.buffer_to = units::AlkalinityCaCO3{*v};
    if (const auto v = number(table, "feed_g_per_day", {0, 1e7}, "g")) plan.feed_g_per_day = *v;
    if (const auto v = number(table, "protein_percent", {0, 100}, "%")) plan.protein_percent = *v;
    if (const auto v = number(table, "ready_load_mg_l", {0, 1000, true}, "mg/L as NH3")) plan.ready_load = units::AmmoniaNH3{*v};
    if (plan.buffer_below && !plan.buffer_to)
      fail(*table.get("buffer_below_mg_l_caco3"), "buffer_below_mg_l_caco3 needs buffer_to_mg_l_caco3, the level to raise to");
    if (plan.buffer_to && !plan.buffer_below)
      fail(*table.get("buffer_to_mg_l_caco3"), "buffer_to_mg_l_caco3 needs buffer_below_mg_l_caco3, the level at which to act");
    if (plan.buffer_below && plan.buffer_to && plan.buffer_to->value() <= plan.buffer_below->value())
      fail(*table.get("buffer_to_mg_l_caco3"), "buffer_to_mg_l_caco3 must be above buffer_below_mg_l_caco3");
    if (plan.redose_to.value() <= plan.redose_below.value() && !error_)
      fail(table, fmt::format("redose_to_mg_l ({}) must be above redose_below_mg_l ({})", plan.redose_to.value(),
                              plan.redose_below.value()));
    for (const std::string& key : kPlanKeys)
      if (table.get(key) != nullptr) plan.written.push_back(key);
    if (!plan.written.empty()) loop_.plan = std::move(plan);
  }

  std::string file_;
  Loop loop_;
  std::optional<Error> error_;
};

}  // namespace

tl::expected<Loop, Error> parse_loop_toml(std::string_view text, std::string_view file_name) {
  return LoopReader(file_name).read(text);
}

}  // namespace helmwater::records
