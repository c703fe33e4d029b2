// SPDX-License-Identifier: Apache-2.0
// helmwater explain: what was assumed about a loop and what each line of its log was taken for.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iostream>
#include <memory>
#include <nlohmann/json.hpp>

#include "commands.hpp"
#include "records/entry_text.hpp"
#include "records/loop_folder.hpp"
#include "records/loop_keys.hpp"
#include "records/words.hpp"
#include "steer/minerals.hpp"
#include "units/parse.hpp"

namespace helmwater::app {
namespace {

using namespace records;
using nlohmann::ordered_json;

std::string number(double value) { return units::number_text(value, 3); }

struct Assumption {
  std::string what;
  std::string text;
  bool stated = true;
};

bool is_written(const Loop& loop, std::string_view key) {
  return std::find(loop.written.begin(), loop.written.end(), key) != loop.written.end();
}

std::vector<Assumption> assumptions(const LoopLog& log) {
  const Loop& loop = log.loop;
  std::vector<Assumption> out;
  const bool default_sd = loop.volume_sd.value() == 0.1 * loop.volume.value();
  out.push_back({"water", fmt::format("{} L +- {} L{}", number(loop.volume.value()), number(loop.volume_sd.value()),
                                      default_sd ? " (10 %)" : ""),
                 true});
  out.push_back({"time zone", loop.zone(), loop.time_zone.has_value()});
  if (loop.started)
    out.push_back({"started", local_date_text(*loop.started, loop.zone()) + "  (" + local_time_text(*loop.started, loop.zone()) + ")",
                   true});
  else if (!log.entries.empty())
    out.push_back({"started", local_date_text(log.entries.front().when, loop.zone()) + ", the first entry", false});
  else
    out.push_back({"started", "not known: the log is empty", false});
  out.push_back({"start", std::string(to_text(loop.start)), is_written(loop, "start")});
  if (loop.seed_area) out.push_back({"seed area", fmt::format("{} m2", number(loop.seed_area->value())), true});
  out.push_back({"temperature", fmt::format("{} degC where none was read within 7 days", number(loop.typical_temperature.value())),
                 is_written(loop, "typical_temperature_c")});
  out.push_back({"bed", fmt::format("{}, {} m2", to_text(loop.bed), number(loop.bed_area.value())), is_written(loop, "bed")});
  out.push_back({"turnover", fmt::format("{} per hour", number(loop.turnover_per_h)), is_written(loop, "turnover_per_h")});
  out.push_back({"air", std::string(to_text(loop.air)), is_written(loop, "air")});
  if (loop.media.volume || loop.media.specific_surface_m2_m3) {
    std::string text;
    if (loop.media.volume) text = fmt::format("{} L", number(loop.media.volume->value()));
    if (loop.media.specific_surface_m2_m3)
      text += fmt::format("{}{} m2/m3", text.empty() ? "" : ", ", number(*loop.media.specific_surface_m2_m3));
    out.push_back({"media", text, true});
  } else {
    out.push_back({"media", "not described: a wide range", false});
  }
  const SourceWater& water = loop.source_water;
  out.push_back({"source pH", water.ph ? number(*water.ph) : "not stated: a wide range", water.ph.has_value()});
  out.push_back({"source alkalinity",
                 water.alkalinity ? fmt::format("{} mg/L as CaCO3", number(water.alkalinity->value())) : "not stated: a wide range",
                 water.alkalinity.has_value()});
  out.push_back({"source nitrate",
                 water.nitrate ? fmt::format("{} mg/L as NO3", number(water.nitrate->value())) : "not stated: a wide range",
                 water.nitrate.has_value()});
  if (water.disinfectant) {
    std::string text(to_text(*water.disinfectant));
    if (water.disinfectant_dose) text += fmt::format(", {} mg/L as Cl2", number(water.disinfectant_dose->value()));
    out.push_back({"source disinfectant", text, true});
  } else {
    out.push_back({"source disinfectant", "not stated", false});
  }
  return out;
}

std::string kit_text(const Kit& kit, std::string_view zone) {
  std::string out = kit.basis == Basis::none ? std::string{} : fmt::format("as {}, ", to_text(kit.basis));
  if (kit.steps.empty()) {
    out += "steps not known";
  } else {
    out += "steps";
    for (double step : kit.steps) out += " " + units::number_text(step, 6);
  }
  if (kit.id) out += fmt::format(", id {}", *kit.id);
  if (kit.lot) out += fmt::format(", lot {}", *kit.lot);
  if (kit.from) out += fmt::format(", from {}", local_time_text(*kit.from, zone));
  if (kit.until) out += fmt::format(", before {}", local_time_text(*kit.until, zone));
  return out;
}

std::vector<std::string> plan_lines(const LoopLog& log) {
  const Plan plan = effective_plan(log);
  std::vector<std::string> lines;
  if (plan.redose == Redose::to_target)
    lines.push_back(fmt::format("dose ammonia to {} mg/L as NH3 whenever it is below {} and nitrite is below {} mg/L as NO2",
                                number(plan.redose_to.value()), number(plan.redose_below.value()),
                                number(plan.redose_while_nitrite_below.value())));
  else
    lines.emplace_back("no ammonia is dosed");
  if (plan.buffer_below && plan.buffer_to)
    lines.push_back(fmt::format("raise alkalinity to {} whenever it is below {} mg/L as CaCO3", number(plan.buffer_to->value()),
                                number(plan.buffer_below->value())));
  else
    lines.emplace_back("no buffer is added");
  if (plan.feed_g_per_day)
    lines.push_back(fmt::format("feed {} g a day with {} % protein", number(*plan.feed_g_per_day), number(plan.protein_percent)));
  else if (has_fish(log, log.entries.empty() ? log.loop.started.value_or(Instant{}) : log.entries.back().when))
    lines.emplace_back("feed was never logged: an unknown constant load is assumed; log the feed");
  else
    lines.emplace_back("nothing is fed");
  lines.push_back(fmt::format("ready for fish: {} mg/L of ammonia as NH3 gone within 24 hours", number(plan.ready_load.value())));
  return lines;
}

std::string plan_heading(const LoopLog& log) {
  const bool fish = has_fish(log, log.entries.empty() ? log.loop.started.value_or(Instant{}) : log.entries.back().when);
  if (log.loop.plan) return "Plan after the last entry, at 08:00 each day (what loop.toml leaves out is the default)";
  return fmt::format("Plan after the last entry, at 08:00 each day (none written: the default {})",
                     fish ? "with fish in" : "without fish");
}

// Columns of text, each as wide as its widest cell but no wider than its limit.
void print_columns(const std::vector<std::vector<std::string>>& rows) {
  std::vector<std::size_t> widths;
  constexpr std::size_t kWidest = 28;
  const auto letters = [](const std::string& text) {
    return static_cast<std::size_t>(
        std::count_if(text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
  };
  for (const auto& row : rows) {
    widths.resize(std::max(widths.size(), row.size()), 0);
    for (std::size_t i = 0; i + 1 < row.size(); ++i) widths[i] = std::max(widths[i], std::min(letters(row[i]), kWidest));
  }
  for (const auto& row : rows) {
    std::string line = " ";
    for (std::size_t i = 0; i < row.size(); ++i) {
      line += ' ';
      line += row[i];
      if (i + 1 < row.size() && letters(row[i]) < widths[i]) line.append(widths[i] - letters(row[i]), ' ');
      if (i + 1 < row.size()) line += ' ';
    }
    line.erase(line.find_last_not_of(' ') + 1);
    std::cout << line << '\n';
  }
}

// A cell of the log on one line.
std::string on_one_line(std::string_view text) {
  std::string out(trimmed(text));
  std::replace_if(out.begin(), out.end(), [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7f; }, ' ');
  return out;
}

std::string written_text(const Entry& entry) {
  std::string out = on_one_line(entry.value_text);
  if (const std::string unit = on_one_line(entry.unit_text); !unit.empty()) out += (out.empty() ? "" : " ") + unit;
  return out;
}

struct Line {
  const Entry* entry;
  std::string taken_for;
  bool used;
};

// Every row of the log, in file order.
std::vector<Line> lines_of(const LoopLog& log) {
  std::vector<Line> lines;
  for (const Entry& e : log.entries) lines.push_back({&e, said_of(e, log.loop), is_used(e, log.loop)});
  for (const Entry& e : log.dropped_duplicates) lines.push_back({&e, "the same line again, counted once", false});
  for (const Entry& e : log.not_in_force) lines.push_back({&e, "withdrawn or replaced by another line", false});
  std::stable_sort(lines.begin(), lines.end(), [](const Line& a, const Line& b) { return a.entry->line < b.entry->line; });
  return lines;
}

std::string range_text(const steer::MineralRange& range) {
  if (!std::isfinite(range.high)) return fmt::format("{}, at least {}", number(range.middle), number(range.low));
  if (range.low == range.high) return number(range.middle);
  return fmt::format("{} ({} to {})", number(range.middle), number(range.low), number(range.high));
}

// What a course's number counts.
std::string counted_text(const steer::MineralCourse& course, std::string_view zone) {
  if (!course.read) return "from doses alone";
  return fmt::format("read {}, and doses since{}", local_date_text(*course.read, zone),
                     course.whole ? "" : "; what new water has brought since is not known");
}

void print_minerals(const LoopLog& log) {
  const steer::MineralLedger ledger = steer::mineral_ledger(log);
  std::vector<std::vector<std::string>> rows;
  bool doses_alone = false;
  for (const steer::MineralCourse& course : ledger.courses) {
    if (course.empty()) continue;
    doses_alone = doses_alone || !course.read;
    rows.push_back({std::string(to_text(course.mineral)), range_text(course.at_end()), counted_text(course, log.loop.zone())});
  }
  std::cout << "\nWhat doses and water have brought, mg/L at the last entry (9 in 10, as sure as the volume and the readings are)\n";
  if (rows.empty()) rows.push_back({"no dose has brought any of the ions that are counted, and none was read"});
  print_columns(rows);
  if (doses_alone) std::cout << "  From doses alone: what the source water brings is not known, and comes on top.\n";
  std::cout << "  Feed, plants and what falls out are not counted.\n";
  for (const auto& line : ledger.not_counted) std::cout << fmt::format("  line {}: not counted, {}\n", line.line, line.why);
}

void print_for_people(const LoopLog& log) {
  const std::string zone = log.loop.zone();
  std::cout << log.loop.name << "\n\nThe loop\n";
  std::vector<std::vector<std::string>> rows;
  for (const Assumption& a : assumptions(log)) rows.push_back({a.what, a.text + (a.stated ? "" : "  (not stated, assumed)")});
  print_columns(rows);

  std::cout << "\nKits\n";
  rows.clear();
  for (const Kit& kit : log.loop.kits) rows.push_back({std::string(to_text(kit.test)), kit_text(kit, zone)});
  if (rows.empty()) rows.push_back({"none described: readings need their basis in the unit and are taken as rough numbers"});
  print_columns(rows);

  std::cout << '\n' << plan_heading(log) << '\n';
  for (const std::string& line : plan_lines(log)) std::cout << "  " << line << '\n';

  print_minerals(log);

  std::cout << "\nThe log, times in " << zone << '\n';
  rows.clear();
  rows.push_back({"line", "when", "what", "written", "taken for"});
  const bool long_log = !log.entries.empty() && days_between(log.entries.front().when, log.entries.back().when) > 300;
  const auto when_text = [&](Instant when) {
    return long_log ? local_date_iso(when, zone) + local_time_text(when, zone).substr(local_time_text(when, zone).find(','))
                    : local_time_text(when, zone);
  };
  for (const Line& line : lines_of(log)) {
    const Entry& e = *line.entry;
    const bool dated = e.when != Instant{};
    rows.push_back({fmt::format("{:>4}", e.line), dated ? when_text(e.when) : on_one_line(e.when_text),
                    on_one_line(e.what_text), written_text(e), (line.used ? "" : "not used: ") + line.taken_for});
  }
  if (rows.size() == 1) rows.push_back({"", "no lines yet"});
  print_columns(rows);

  if (log.doubts.empty()) {
    std::cout << "\nNo doubts.\n";
    return;
  }
  std::cout << "\nDoubts\n";
  for (const Doubt& doubt : log.doubts)
    std::cout << "  " << (doubt.entry ? fmt::format("line {}: ", *doubt.entry) : std::string{}) << doubt.text << '\n';
}

ordered_json finite(double value) { return std::isfinite(value) ? ordered_json(value) : ordered_json(nullptr); }

ordered_json taken_json(const Entry& entry, const Reading& reading) {
  const Seen& seen = reading.seen;
  ordered_json out;
  out["shape"] = seen.shape == Seen::Shape::interval ? "interval" : seen.shape == Seen::Shape::normal ? "normal" : "lognormal";
  const std::string unit = unit_of(entry, reading);
  out["unit"] = unit.empty() ? ordered_json(nullptr) : ordered_json(unit);
  out["basis"] = reading.basis == Basis::none ? ordered_json(nullptr) : ordered_json(to_text(reading.basis));
  out["low"] = finite(seen.low);
  out["high"] = finite(seen.high);
  if (seen.shape != Seen::Shape::interval) {
    out["centre"] = seen.centre;
    out["sd"] = seen.sd;
  }
  if (counts_nitrogen(reading.test)) {
    const double factor = to_standard_factor(reading.test, reading.basis);
    out["low_mg_l_n"] = finite(seen.low * factor);
    out["high_mg_l_n"] = finite(seen.high * factor);
  }
  out["kit"] = reading.kit < 0 ? ordered_json(nullptr) : ordered_json(reading.kit);
  out["meter"] = reading.meter;
  out["kit_noise"] = seen.kit_noise;
  out["misread_doubted"] = seen.doubted;
  return out;
}

ordered_json plan_json(const LoopLog& log) {
  const Plan plan = effective_plan(log);
  ordered_json out;
  out["stated"] = log.loop.plan.has_value();
  out["redose"] = to_text(plan.redose);
  out["redose_to_mg_l"] = plan.redose_to.value();
  out["redose_below_mg_l"] = plan.redose_below.value();
  out["redose_while_nitrite_below_mg_l"] = plan.redose_while_nitrite_below.value();
  out["buffer_below_mg_l_caco3"] = plan.buffer_below ? ordered_json(plan.buffer_below->value()) : ordered_json(nullptr);
  out["buffer_to_mg_l_caco3"] = plan.buffer_to ? ordered_json(plan.buffer_to->value()) : ordered_json(nullptr);
  out["feed_g_per_day"] = plan.feed_g_per_day ? ordered_json(*plan.feed_g_per_day) : ordered_json(nullptr);
  out["protein_percent"] = plan.protein_percent;
  out["ready_load_mg_l"] = plan.ready_load.value();
  return out;
}

const char* why_text(steer::MineralPoint::Why why) {
  using Why = steer::MineralPoint::Why;
  switch (why) {
    case Why::start: return "start";
    case Why::dose: return "dose";
    case Why::water_change: return "water change";
    case Why::top_up: return "top-up";
    case Why::reading: return "reading";
    case Why::end: return "end";
  }
  return "";
}

ordered_json minerals_json(const LoopLog& log) {
  const steer::MineralLedger ledger = steer::mineral_ledger(log);
  ordered_json out;
  out["unit"] = "mg/L";
  out["source_water_known"] = false;  // no key of loop.toml says what ions it holds
  out["ions"] = ordered_json::array();
  for (const steer::MineralCourse& course : ledger.courses) {
    if (course.empty()) continue;
    ordered_json ion;
    ion["ion"] = to_text(course.mineral);
    const steer::MineralRange& now = course.at_end();
    ion["low"] = now.low;
    ion["middle"] = now.middle;
    ion["high"] = finite(now.high);
    ion["counts"] = course.whole ? "all" : course.read ? "reading_and_doses" : "doses_alone";
    ion["read"] = course.read ? ordered_json(to_utc_text(*course.read)) : ordered_json(nullptr);
    ion["course"] = ordered_json::array();
    for (const steer::MineralPoint& p : course.points) {
      ion["course"].push_back({{"when", to_utc_text(p.when)},
                               {"day", p.day},
                               {"entry", p.line > 0 ? ordered_json(p.line) : ordered_json(nullptr)},
                               {"why", why_text(p.why)},
                               {"low", p.mg_l.low},
                               {"middle", p.mg_l.middle},
                               {"high", finite(p.mg_l.high)}});
    }
    out["ions"].push_back(std::move(ion));
  }
  out["not_counted"] = ordered_json::array();
  for (const auto& line : ledger.not_counted) out["not_counted"].push_back({{"entry", line.line}, {"reason", line.why}});
  return out;
}

void print_json(const LoopLog& log) {
  ordered_json out;
  out["loop"] = log.loop.name;
  out["time_zone"] = log.loop.zone();
  out["assumed"] = ordered_json::array();
  for (const Assumption& a : assumptions(log)) out["assumed"].push_back({{"what", a.what}, {"text", a.text}, {"stated", a.stated}});
  out["kits"] = ordered_json::array();
  for (const Kit& kit : log.loop.kits) {
    ordered_json k;
    k["test"] = to_text(kit.test);
    k["basis"] = kit.basis == Basis::none ? ordered_json(nullptr) : ordered_json(to_text(kit.basis));
    k["steps"] = kit.steps;
    k["id"] = kit.id ? ordered_json(*kit.id) : ordered_json(nullptr);
    k["from"] = kit.from ? ordered_json(to_utc_text(*kit.from)) : ordered_json(nullptr);
    k["until"] = kit.until ? ordered_json(to_utc_text(*kit.until)) : ordered_json(nullptr);
    out["kits"].push_back(std::move(k));
  }
  out["plan"] = plan_json(log);
  out["minerals"] = minerals_json(log);
  out["lines"] = ordered_json::array();
  for (const Line& line : lines_of(log)) {
    const Entry& e = *line.entry;
    ordered_json l;
    l["entry"] = e.line;
    l["when"] = e.when == Instant{} ? ordered_json(nullptr) : ordered_json(to_utc_text(e.when));
    l["what"] = key_word(e.what_text);
    l["value"] = e.value_text;
    l["unit"] = e.unit_text;
    l["detail"] = e.detail_text;
    l["used"] = line.used;
    l["taken_for"] = line.taken_for;
    if (const auto* reading = std::get_if<Reading>(&e.body)) l["reading"] = taken_json(e, *reading);
    out["lines"].push_back(std::move(l));
  }
  out["doubts"] = ordered_json::array();
  for (const Doubt& doubt : log.doubts)
    out["doubts"].push_back({{"entry", doubt.entry ? ordered_json(*doubt.entry) : ordered_json(nullptr)},
                             {"code", doubt.code},
                             {"text", doubt.text}});
  std::cout << out.dump() << '\n';
}

}  // namespace

Command add_explain(CLI::App& program) {
  CLI::App* sub = program.add_subcommand("explain", "Say what is assumed about a loop and what each line of its log means");
  struct Options {
    std::string folder;
    bool json = false;
  };
  auto options = std::make_shared<Options>();
  sub->add_option("LOOP", options->folder, "the loop's folder, with loop.toml and log.csv")->required();
  sub->add_flag("--json", options->json, "print as JSON");
  return {sub, [options] {
            const auto log = read_loop_folder(options->folder);
            if (!log) {
              std::cerr << log.error().to_text() << '\n';
              return log.error().kind == Error::Kind::bad_input ? 2 : 1;
            }
            options->json ? print_json(*log) : print_for_people(*log);
            return 0;
          }};
}

}  // namespace helmwater::app
