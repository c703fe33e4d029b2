// SPDX-License-Identifier: Apache-2.0
// Writing loop.toml, and the words for a loop's choices.
#include <fmt/format.h>

#include <algorithm>

#include "records/loop_folder.hpp"
#include "records/loop_keys.hpp"

namespace helmwater::records {
namespace {

std::string toml_text(std::string_view text) {
  std::string out = "\"";
  for (char c : text) {
    switch (c) {
      case '"': out += "\\\""; break;
      case '\\': out += "\\\\"; break;
      case '\n': out += "\\n"; break;
      case '\r': out += "\\r"; break;
      case '\t': out += "\\t"; break;
      default:
        if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f)
          out += fmt::format("\\u{:04X}", static_cast<unsigned char>(c));
        else
          out += c;
    }
  }
  return out + "\"";
}

std::string toml_time(Instant t) {
  const std::string whole = to_utc_text(t);
  const auto ms = (t - std::chrono::floor<std::chrono::seconds>(t)).count();
  if (ms == 0) return whole;
  return whole.substr(0, whole.size() - 1) + fmt::format(".{:03}Z", ms);
}

class Writer {
 public:
  void section(std::string_view name) { out_ += fmt::format("\n{}\n", name); }
  void key(std::string_view name, double value) { out_ += fmt::format("{} = {}\n", name, value); }
  void key(std::string_view name, std::string_view value) { out_ += fmt::format("{} = {}\n", name, toml_text(value)); }
  void bare(std::string_view name, std::string_view value) { out_ += fmt::format("{} = {}\n", name, value); }
  std::string take() { return std::move(out_); }

 private:
  std::string out_;
};

void write_kit(Writer& w, const Kit& kit) {
  w.section("[[kit]]");
  w.key("test", to_text(kit.test));
  if (kit.basis != Basis::none) w.key("basis", to_text(kit.basis));
  if (!kit.steps.empty()) w.bare("steps", fmt::format("[{}]", fmt::join(kit.steps, ", ")));
  if (kit.id) w.key("id", *kit.id);
  if (kit.lot) w.key("lot", *kit.lot);
  if (kit.from) w.bare("from", toml_time(*kit.from));
  if (kit.until) w.bare("until", toml_time(*kit.until));
}

void write_plan(Writer& w, const Plan& plan) {
  w.section("[plan]");
  const auto wanted = [&](std::string_view key) {
    return plan.written.empty() || std::find(plan.written.begin(), plan.written.end(), key) != plan.written.end();
  };
  if (wanted("redose")) w.key("redose", to_text(plan.redose));
  if (wanted("redose_to_mg_l")) w.key("redose_to_mg_l", plan.redose_to.value());
  if (wanted("redose_below_mg_l")) w.key("redose_below_mg_l", plan.redose_below.value());
  if (wanted("redose_while_nitrite_below_mg_l"))
    w.key("redose_while_nitrite_below_mg_l", plan.redose_while_nitrite_below.value());
  if (plan.buffer_below) w.key("buffer_below_mg_l_caco3", plan.buffer_below->value());
  if (plan.buffer_to) w.key("buffer_to_mg_l_caco3", plan.buffer_to->value());
  if (plan.feed_g_per_day) w.key("feed_g_per_day", *plan.feed_g_per_day);
  if (wanted("protein_percent")) w.key("protein_percent", plan.protein_percent);
  if (wanted("ready_load_mg_l")) w.key("ready_load_mg_l", plan.ready_load.value());
}

}  // namespace

std::string_view to_text(Start start) {
  switch (start) {
    case Start::unseeded: return "unseeded";
    case Start::bottled_culture: return "bottled culture";
    case Start::fish: return "fish";
    case Start::seeded_media: return "seeded media";
  }
  return "";
}
std::string_view to_text(Bed bed) {
  switch (bed) {
    case Bed::media: return "media";
    case Bed::raft: return "raft";
    case Bed::film: return "film";
    case Bed::mixed: return "mixed";
  }
  return "";
}
std::string_view to_text(Air air) {
  switch (air) {
    case Air::none: return "none";
    case Air::gentle: return "gentle";
    case Air::strong: return "strong";
  }
  return "";
}
std::string_view to_text(Disinfectant disinfectant) {
  switch (disinfectant) {
    case Disinfectant::none: return "none";
    case Disinfectant::chlorine: return "chlorine";
    case Disinfectant::chloramine: return "chloramine";
  }
  return "";
}
std::string_view to_text(Redose redose) { return redose == Redose::none ? "none" : "to_target"; }

std::string to_loop_toml(const Loop& loop) {
  Writer w;
  w.key("name", loop.name);
  if (loop.volume_sd.value() == 0.1 * loop.volume.value())
    w.key("volume_l", loop.volume.value());
  else
    w.bare("volume_l", fmt::format("{{ value = {}, sd = {} }}", loop.volume.value(), loop.volume_sd.value()));
  w.key("time_zone", loop.zone());
  if (loop.started)
    w.bare("started", loop.started_is_date ? local_date_iso(*loop.started, loop.zone()) : toml_time(*loop.started));
  w.key("start", to_text(loop.start));
  if (loop.seed_area) w.key("seed_area_m2", loop.seed_area->value());
  if (loop.seed_note) w.key("seed_note", *loop.seed_note);
  w.key("typical_temperature_c", loop.typical_temperature.value());
  w.key("bed", to_text(loop.bed));
  w.key("bed_area_m2", loop.bed_area.value());
  w.key("turnover_per_h", loop.turnover_per_h);
  w.key("air", to_text(loop.air));

  if (loop.media.volume || loop.media.specific_surface_m2_m3) {
    w.section("[media]");
    if (loop.media.volume) w.key("volume_l", loop.media.volume->value());
    if (loop.media.specific_surface_m2_m3) w.key("specific_surface_m2_m3", *loop.media.specific_surface_m2_m3);
  }
  const SourceWater& water = loop.source_water;
  if (water.ph || water.alkalinity || water.nitrate || water.disinfectant || water.disinfectant_dose) {
    w.section("[source_water]");
    if (water.ph) w.key("ph", *water.ph);
    if (water.alkalinity) w.key("alkalinity_mg_l_caco3", water.alkalinity->value());
    if (water.nitrate) w.key("nitrate_mg_l", water.nitrate->value());
    if (water.disinfectant) w.key("disinfectant", to_text(*water.disinfectant));
    if (water.disinfectant_dose) w.key("disinfectant_mg_l_cl2", water.disinfectant_dose->value());
  }
  for (const Kit& kit : loop.kits) write_kit(w, kit);
  if (loop.plan) write_plan(w, *loop.plan);
  return w.take();
}

}  // namespace helmwater::records
