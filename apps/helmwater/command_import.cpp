// SPDX-License-Identifier: Apache-2.0
// helmwater import: an old sheet with one row a day becomes a loop folder.
#include <fmt/format.h>

#include <cerrno>
#include <cmath>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <iterator>
#include <memory>
#include <nlohmann/json.hpp>

#include "commands.hpp"
#include "records/loop_keys.hpp"
#include "records/wide_sheet.hpp"
#include "records/words.hpp"
#include "units/parse.hpp"

namespace helmwater::app {
namespace {

namespace fs = std::filesystem;

struct ImportOptions {
  std::string file;
  bool wide = false;
  std::string start;
  std::string volume;
  std::string basis;
  std::string begin = "unseeded";
  std::string temperature;
  std::string out;
  bool json = false;
};

int wrong_use(const std::string& message) {
  std::cerr << "helmwater import: " << message << '\n';
  return 2;
}

tl::expected<records::Loop, std::string> loop_from(const ImportOptions& options) {
  records::Loop loop;
  loop.name = fs::path(options.file).stem().string();
  if (loop.name.empty()) loop.name = "imported";
  loop.time_zone = "UTC";
  const auto start = records::parse_instant(options.start, "UTC");
  if (!start || !start->date_only)
    return tl::unexpected(fmt::format("--start {} is not a date of the years 1900 to 2200; write the date of day 0, for example "
                                      "--start 2026-03-01",
                                      records::in_quotes(options.start)));
  loop.started = start->when;
  loop.started_is_date = true;

  const auto plain = units::parse_number(options.volume);
  const auto volume = plain ? units::volume_from(*plain, "L") : units::parse_volume(options.volume);
  if (!volume) return tl::unexpected(fmt::format("--volume: {}", volume.error()));
  if (!(volume->value() > 0))
    return tl::unexpected(std::string("--volume must be above 0; write for example --volume 500L or --volume \"5 gal(US)\""));
  // A gallon has many digits; a tank's volume has not.
  loop.volume = units::Litres{volume->value() < 1 ? volume->value() : std::round(volume->value() * 1000) / 1000};
  loop.volume_sd = loop.volume * 0.1;

  std::vector<std::string> begins;
  bool found = false;
  for (records::Start begin : {records::Start::unseeded, records::Start::bottled_culture, records::Start::fish,
                               records::Start::seeded_media}) {
    begins.emplace_back(records::to_text(begin));
    if (records::key_word(options.begin) != begins.back()) continue;
    loop.start = begin;
    found = true;
  }
  if (!found)
    return tl::unexpected(fmt::format("--begin {} is not known{}; allowed: {}", records::in_quotes(options.begin),
                                      records::did_you_mean(options.begin, begins), records::listed(begins)));
  if (!options.temperature.empty()) {
    const auto temperature = units::parse_temperature(options.temperature);
    if (!temperature) return tl::unexpected(fmt::format("--temperature: {}", temperature.error()));
    if (temperature->value() < 0 || temperature->value() > 45)
      return tl::unexpected(fmt::format("--temperature {} is out of range; allowed: 0 to 45 degC", options.temperature));
    loop.typical_temperature = *temperature;
  }
  return loop;
}

void print_result(const ImportOptions& options, const records::WideSheet& sheet) {
  if (options.json) {
    nlohmann::ordered_json out;
    out["out"] = options.out;
    out["entries"] = sheet.log.entries.size();
    out["unread"] = nlohmann::ordered_json::array();
    for (const records::UnreadCell& cell : sheet.unread)
      out["unread"].push_back({{"line", cell.line},
                               {"column", cell.column},
                               {"name", cell.name},
                               {"text", cell.text},
                               {"reason", cell.reason}});
    std::cout << out.dump() << '\n';
    return;
  }
  std::cout << fmt::format("{}: {} entries written to {}\n", options.file, sheet.log.entries.size(), options.out);
  if (!sheet.unread.empty()) std::cout << fmt::format("{} cells could not be read and were left out:\n", sheet.unread.size());
  for (const records::UnreadCell& cell : sheet.unread)
    std::cout << fmt::format("  line {}, {}: {} ({})\n", cell.line, cell.name.empty() ? "no heading" : cell.name,
                             records::in_quotes(cell.text), cell.reason);
  std::cout << fmt::format("Next: helmwater explain {}\n", options.out);
}

int run_import(const ImportOptions& options) {
  if (!options.wide) return wrong_use("say how the sheet is laid out: --wide for one row a day (day,ammonia,nitrite,...)");
  const std::string basis = records::key_word(options.basis);
  if (basis != "ion" && basis != "n")
    return wrong_use(fmt::format("--basis {} is not known; allowed: ion (NH3, NO2, NO3) or N; the kit's leaflet says which",
                                 records::in_quotes(options.basis)));
  const auto loop = loop_from(options);
  if (!loop) return wrong_use(loop.error());
  const fs::path out = options.out;
  std::error_code ignored;
  for (const char* name : {"loop.toml", "log.csv"})
    if (fs::exists(out / name, ignored))
      return wrong_use(fmt::format("{} exists already and is not overwritten; give --out another folder, or move the old one away",
                                   (out / name).string()));
  if (fs::exists(out, ignored) && !fs::is_directory(out, ignored))
    return wrong_use(fmt::format("--out {} is a file; give the name of a folder", options.out));

  std::ifstream stream(options.file, std::ios::binary);
  if (!stream || fs::is_directory(options.file, ignored)) {
    std::cerr << fmt::format("helmwater import: {} cannot be opened ({}); check the name and its permissions\n", options.file,
                             fs::is_directory(options.file, ignored) ? "it is a folder" : std::strerror(errno));
    return 1;
  }
  const std::string text{std::istreambuf_iterator<char>(stream), {}};
  const auto sheet = records::read_wide_sheet(*loop, basis == "n", text, options.file);
  if (!sheet) {
    std::cerr << sheet.error().to_text() << '\n';
    return 2;
  }
  const auto written = records::write_loop_folder(sheet->log, out);
  if (!written) {
    std::cerr << written.error().to_text() << '\n';
    return written.error().kind == records::Error::Kind::bad_input ? 2 : 1;
  }
  print_result(options, *sheet);
  return 0;
}

}  // namespace

Command add_import(CLI::App& program) {
  CLI::App* sub = program.add_subcommand("import", "Turn an old sheet with one row a day into a loop folder");
  auto options = std::make_shared<ImportOptions>();
  sub->add_option("FILE", options->file, "the sheet: CSV with the columns day,ammonia,nitrite,nitrate,ph,temp_c,event")
      ->required();
  sub->add_flag("--wide", options->wide, "one row a day, one column a test");
  sub->add_option("--start", options->start, "the date of day 0, for example 2026-03-01")->required();
  sub->add_option("--volume", options->volume, "all water in circulation: 500L, \"5 gal(US)\"; a number alone is litres")
      ->required();
  sub->add_option("--basis", options->basis, "what ammonia, nitrite and nitrate are counted as: ion or N")->required();
  sub->add_option("--begin", options->begin, "unseeded, \"bottled culture\", fish, \"seeded media\"")->capture_default_str();
  sub->add_option("--temperature", options->temperature, "usual water temperature, degC or for example 77degF");
  sub->add_option("--out", options->out, "the folder to write; must not hold a loop yet")->required();
  sub->add_flag("--json", options->json, "print the result as JSON");
  return {sub, [options] { return run_import(*options); }};
}

}  // namespace helmwater::app
