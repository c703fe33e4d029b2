// SPDX-License-Identifier: Apache-2.0
#include "server/brought.hpp"

#include <fmt/format.h>

#include <cmath>
#include <map>

#include "records/loop_folder.hpp"
#include "records/loop_keys.hpp"
#include "records/words.hpp"
#include "server/multipart.hpp"
#include "server/unzip.hpp"
#include "units/parse.hpp"

namespace helmwater::server {
namespace {

tl::unexpected<Problem> refused(std::string code, std::string message, std::string field = {}) {
  return tl::unexpected(Problem{422, std::move(code), std::move(message), std::move(field)});
}

tl::expected<Brought, Problem> from_texts(std::string kind, std::string_view toml, std::string_view csv) {
  const auto loop = records::parse_loop_toml(toml, "loop.toml");
  if (!loop) return refused("bad_loop", loop.error().to_text());
  auto log = records::parse_log_csv(*loop, csv, "log.csv");
  if (!log) return refused("bad_loop", log.error().to_text());
  Brought brought;
  brought.kind = std::move(kind);
  brought.log = std::move(*log);
  return brought;
}

tl::expected<Brought, Problem> from_zip(std::string_view bytes) {
  const auto texts = unzip_loop(bytes);
  if (!texts) return refused("bad_zip", texts.error());
  return from_texts("zip", texts->loop_toml, texts->log_csv);
}

std::string_view base_name(std::string_view path) { return path.substr(path.find_last_of("/\\") + 1); }

bool ends_with_letters(std::string_view name, std::string_view ending) {
  return records::lower_case(name).ends_with(ending);
}

using Fields = std::map<std::string, std::string>;

tl::expected<Brought, Problem> from_sheet(std::string_view text, const std::string& file_name, const Fields& fields,
                                          const std::string& name) {
  const auto field = [&](const char* key) {
    const auto found = fields.find(key);
    return found == fields.end() ? std::string{} : std::string(records::trimmed(found->second));
  };
  Brought brought;
  brought.kind = "wide";
  for (const char* key : {"start", "volume_l", "basis"}) {
    if (field(key).empty()) brought.needs.emplace_back(key);
  }
  if (!brought.needs.empty()) return brought;
  records::Loop loop;
  loop.name = !name.empty() ? name : file_name.substr(0, file_name.rfind('.'));
  if (loop.name.empty()) loop.name = "imported";
  loop.time_zone = "UTC";
  const auto start = records::parse_instant(field("start"), "UTC");
  if (!start || !start->date_only) {
    return refused("bad_date", "start must be the date of day 0, for example 2026-03-01.", "start");
  }
  loop.started = start->when;
  loop.started_is_date = true;
  const auto volume = units::parse_number(field("volume_l"));
  if (!volume || !(*volume > 0 && *volume <= 1e7)) {
    return refused("out_of_range", "volume_l must be litres above 0 and at most 10,000,000.", "volume_l");
  }
  loop.volume = units::Litres{*volume};
  loop.volume_sd = loop.volume * 0.1;
  const std::string basis = records::key_word(field("basis"));
  if (basis != "ion" && basis != "n") {
    return refused("unknown_word", "basis must be ion (NH3, NO2, NO3) or N; the kit's leaflet says which.", "basis");
  }
  if (!field("begin").empty()) {
    const auto begin = start_from(field("begin"));
    if (!begin) return refused("unknown_word", "begin must be unseeded, bottled culture, fish or seeded media.", "begin");
    loop.start = *begin;
  }
  if (!field("temperature_c").empty()) {
    const auto temperature = units::parse_number(field("temperature_c"));
    if (!temperature || !(*temperature >= 0 && *temperature <= 45)) {
      return refused("out_of_range", "temperature_c must be 0 to 45.", "temperature_c");
    }
    loop.typical_temperature = units::Celsius{*temperature};
  }
  auto sheet = records::read_wide_sheet(loop, basis == "n", text, file_name);
  if (!sheet) return refused("bad_sheet", sheet.error().to_text());
  brought.log = std::move(sheet->log);
  brought.unread = std::move(sheet->unread);
  return brought;
}

tl::expected<Brought, Problem> from_form(const Request& request, const std::string& name) {
  const auto parts = parse_form(request.body, boundary_of(request.header("content-type")));
  if (!parts) return tl::unexpected(Problem{400, "bad_form", parts.error(), ""});
  const FormPart *toml = nullptr, *csv = nullptr, *sheet = nullptr, *zip = nullptr;
  Fields fields;
  const auto only = [](const FormPart*& place, const FormPart& part) {
    if (place != nullptr) return false;
    place = &part;
    return true;
  };
  for (const FormPart& part : *parts) {
    bool first = true;
    if (part.file_name.empty()) {
      first = part.body.size() <= 200 && fields.emplace(part.name, std::string(part.body)).second;
    } else {
      const std::string_view file = base_name(part.file_name);
      if (file == "loop.toml") first = only(toml, part);
      else if (file == "log.csv") first = only(csv, part);
      else if (ends_with_letters(file, ".zip")) first = only(zip, part);
      else if (ends_with_letters(file, ".csv") || ends_with_letters(file, ".txt")) first = only(sheet, part);
      // Other files of a folder are none of the loop's and are left aside.
    }
    if (!first) return refused("twice", "A file or answer came twice; send one loop at a time.", part.name);
  }
  if (zip != nullptr && toml == nullptr && csv == nullptr && sheet == nullptr) return from_zip(zip->body);
  if (toml != nullptr && csv != nullptr && zip == nullptr) return from_texts("folder", toml->body, csv->body);
  if (toml == nullptr && zip == nullptr) {
    const FormPart* wide = sheet != nullptr ? sheet : csv;
    if (wide != nullptr && (sheet == nullptr || csv == nullptr)) {
      // A log alone can be told from a sheet by its header.
      std::string_view text = wide->body;
      if (text.starts_with("\xef\xbb\xbf")) text.remove_prefix(3);
      if (records::lower_case(records::trimmed(text.substr(0, 20))).starts_with("when,what")) {
        return refused("loop_toml_missing", "This log came without its loop.toml; send both files of the folder together.", "loop.toml");
      }
      return from_sheet(wide->body, std::string(base_name(wide->file_name)), fields, name);
    }
  }
  return refused("nothing_to_read", "Send loop.toml together with log.csv, one zip of a loop folder, or one sheet as .csv.");
}

}  // namespace

std::optional<records::Start> start_from(std::string_view word) {
  for (const auto start : {records::Start::unseeded, records::Start::bottled_culture, records::Start::fish, records::Start::seeded_media}) {
    if (records::key_word(word) == records::to_text(start)) return start;
  }
  return std::nullopt;
}

tl::expected<Brought, Problem> read_brought(const Request& request, const std::string& name) {
  const std::string type = records::lower_case(request.header("content-type"));
  if (type.starts_with("application/zip") || type.starts_with("application/x-zip-compressed")) return from_zip(request.body);
  if (type.starts_with("multipart/form-data")) return from_form(request, name);
  return tl::unexpected(Problem{415, "wrong_type", "Send a zip as application/zip, or files as multipart/form-data.", "Content-Type"});
}

}  // namespace helmwater::server
