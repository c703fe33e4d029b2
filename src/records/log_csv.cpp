// SPDX-License-Identifier: Apache-2.0
// log.csv as a whole: header, rows, which rows are in force, their order.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <map>
#include <set>
#include <utility>

#include "records/csv.hpp"
#include "records/log_doubts.hpp"
#include "records/log_row.hpp"
#include "records/loop_folder.hpp"
#include "records/words.hpp"

namespace helmwater::records {
namespace {

constexpr std::array<std::string_view, 5> kColumns{"when", "what", "value", "unit", "detail"};
constexpr std::string_view kHeader = "when,what,value,unit,detail";

bool is_true(std::string_view text) {
  const std::string word = key_word(text);
  return !word.empty() && word != "0" && word != "no" && word != "false" && word != "n";
}

bool is_decimal_comma(std::string_view text) {
  const auto comma = text.find(',');
  const auto digits = [](std::string_view part) {
    return !part.empty() && part.find_first_not_of("0123456789") == std::string_view::npos;
  };
  const std::string_view plain = trimmed(text);
  const auto at = plain.find(',');
  return comma != std::string_view::npos && digits(plain.substr(0, at)) && digits(plain.substr(at + 1));
}

class LogReader {
 public:
  LogReader(const Loop& loop, std::string_view file) : file_(file) { log_.loop = loop; }

  tl::expected<LoopLog, Error> read(std::string_view text) {
    auto rows = parse_csv(text, file_);
    if (!rows) return tl::unexpected(std::move(rows.error()));
    if (auto error = read_header(*rows)) return tl::unexpected(std::move(*error));
    for (std::size_t i = 1; i < rows->size(); ++i)
      if (auto error = take_row((*rows)[i])) return tl::unexpected(std::move(*error));
    choose_rows_in_force();
    settle_start();
    for (Kept& kept : kept_)
      if (auto error = understand(kept)) return tl::unexpected(std::move(*error));
    std::stable_sort(log_.entries.begin(), log_.entries.end(), [](const Entry& a, const Entry& b) {
      if (a.when != b.when) return a.when < b.when;
      return std::holds_alternative<Reading>(a.body) && !std::holds_alternative<Reading>(b.body);
    });
    add_doubts_of_the_whole(log_);
    std::stable_sort(log_.doubts.begin(), log_.doubts.end(),
                     [](const Doubt& a, const Doubt& b) { return a.entry.value_or(0) < b.entry.value_or(0); });
    return std::move(log_);
  }

 private:
  struct Kept {
    Entry entry;
    std::vector<CsvCell> cells;
    bool in_force = true;
  };

  Error at(const CsvCell& cell, std::string message) const { return at(cell.line, cell.column, std::move(message)); }
  Error at(int line, int column, std::string message) const {
    Error error;
    error.file = file_;
    error.line = line;
    error.column = column;
    error.message = std::move(message);
    return error;
  }

  std::optional<Error> read_header(const std::vector<CsvRow>& rows) {
    if (rows.empty())
      return at(1, 1, fmt::format("the file has no header; its first line must be {}", kHeader));
    const CsvRow& header = rows.front();
    if (header.cells.size() == 1) {
      const std::string& only = header.cells.front().text;
      if (only.find(';') != std::string::npos)
        return at(header.cells.front(),
                  fmt::format("the columns are separated by semicolons; separate them by commas and write decimal points, the "
                              "header is {}",
                              kHeader));
      if (only.find('\t') != std::string::npos)
        return at(header.cells.front(), fmt::format("the columns are separated by tabs; separate them by commas, the header is {}",
                                                    kHeader));
    }
    for (std::size_t i = 0; i < kColumns.size(); ++i) {
      if (i < header.cells.size() && key_word(header.cells[i].text) == kColumns[i]) continue;
      const CsvCell& cell = header.cells[std::min(i, header.cells.size() - 1)];
      return at(cell, fmt::format("column {} of the header must be \"{}\"{}; the first line of a log is {}, with any further "
                                  "columns after these",
                                  i + 1, kColumns[i],
                                  i < header.cells.size() ? ", seen " + in_quotes(cell.text) : ", but the header ends before it",
                                  kHeader));
    }
    std::set<std::string> seen(kColumns.begin(), kColumns.end());
    for (std::size_t i = 0; i < header.cells.size(); ++i) {
      const std::string name(trimmed(header.cells[i].text));
      if (i >= kColumns.size() && !name.empty() && !seen.insert(name).second)
        return at(header.cells[i], fmt::format("the column {} stands twice in the header; rename one", in_quotes(name)));
      columns_.push_back(name);
    }
    while (columns_.size() > kColumns.size() && columns_.back().empty()) columns_.pop_back();
    log_.columns = columns_;
    for (std::size_t i = 0; i < kColumns.size(); ++i) log_.columns[i] = kColumns[i];
    // A column without a name can hold nothing, so it is not written again.
    log_.columns.erase(std::remove(log_.columns.begin(), log_.columns.end(), std::string{}), log_.columns.end());
    return std::nullopt;
  }

  std::optional<Error> take_row(const CsvRow& row) {
    if (row.cells.size() == 1 && row.cells.front().text.find(';') != std::string::npos)
      return at(row.cells.front(), "the columns are separated by semicolons; separate them by commas and write decimal points");
    for (std::size_t i = 0; i < row.cells.size(); ++i) {
      const bool named = i < columns_.size() && !columns_[i].empty();
      if (named || trimmed(row.cells[i].text).empty()) continue;
      const bool comma_inside = row.cells.size() > 3 && is_decimal_comma(row.cells[2].text + "," + row.cells[3].text);
      return at(row.cells[i], fmt::format("{} stands under no heading; {}", in_quotes(row.cells[i].text),
                                          comma_inside ? "the value seems to have a decimal comma: write a decimal point"
                                                       : "put a text that holds a comma in double quotes"));
    }
    Kept kept;
    kept.cells = row.cells;
    Entry& e = kept.entry;
    e.line = row.line;
    const auto text = [&](std::size_t i) { return i < row.cells.size() ? row.cells[i].text : std::string{}; };
    e.when_text = text(0);
    e.what_text = text(1);
    e.value_text = text(2);
    e.unit_text = text(3);
    e.detail_text = text(4);
    for (std::size_t i = kColumns.size(); i < columns_.size(); ++i)
      if (!columns_[i].empty() && !text(i).empty()) e.more[columns_[i]] = text(i);
    kept_.push_back(std::move(kept));
    return std::nullopt;
  }

  static std::string more_of(const Entry& entry, const std::string& name) {
    const auto found = entry.more.find(name);
    return found == entry.more.end() ? std::string{} : std::string(trimmed(found->second));
  }

  void choose_rows_in_force() {
    std::map<std::string, int> line_of_id;
    for (const Kept& kept : kept_)
      if (const std::string id = more_of(kept.entry, "id"); !id.empty()) line_of_id.emplace(id, kept.entry.line);
    std::set<std::string> superseded;
    for (const Kept& kept : kept_) {
      const std::string old = more_of(kept.entry, "supersedes");
      if (old.empty()) continue;
      if (line_of_id.count(old) == 0) {
        log_.doubts.push_back({kept.entry.line, "supersedes_unknown",
                               fmt::format("The line replaces entry {}, but no line has that id; check the id.", in_quotes(old))});
      } else if (old == more_of(kept.entry, "id")) {
        log_.doubts.push_back({kept.entry.line, "supersedes_itself",
                               "The line says it replaces itself, which was ignored; clear its supersedes cell."});
      } else {
        superseded.insert(old);
      }
    }
    for (Kept& kept : kept_) {
      const std::string id = more_of(kept.entry, "id");
      kept.in_force = !is_true(more_of(kept.entry, "withdrawn")) && (id.empty() || superseded.count(id) == 0);
    }
  }

  // A start written as a date alone is noon, or the first entry of that day if it is earlier.
  void settle_start() {
    Loop& loop = log_.loop;
    if (!loop.started || !loop.started_is_date) return;
    const std::string zone = loop.zone();
    const std::string day = local_date_iso(*loop.started, zone);
    for (const Kept& kept : kept_) {
      if (!kept.in_force) continue;
      const auto when = parse_instant(kept.entry.when_text, zone);
      if (when && local_date_iso(when->when, zone) == day) loop.started = std::min(*loop.started, when->when);
    }
  }

  static std::size_t place_of(Column column, const std::vector<std::string>& columns) {
    if (column != Column::kit) return static_cast<std::size_t>(column);
    return static_cast<std::size_t>(std::find(columns.begin(), columns.end(), "kit") - columns.begin());
  }

  Error at(const Kept& kept, Column column, std::string message) const {
    const std::size_t place = place_of(column, columns_);
    // A row that ends early is pointed at where it ends.
    return at(kept.cells[std::min(place, kept.cells.size() - 1)], std::move(message));
  }

  std::optional<Error> understand(Kept& kept) {
    Entry& e = kept.entry;
    const std::string zone = log_.loop.zone();
    const auto when = parse_instant(e.when_text, zone);
    if (!kept.in_force) {
      if (when) e.when = when->when;
      e.body = Note{};
      log_.not_in_force.push_back(std::move(e));
      return std::nullopt;
    }
    if (!when)
      return at(kept, Column::when,
                fmt::format("{} is not a date or time of the years 1900 to 2200; write 2026-03-01, 2026-03-01T08:00, or with an "
                            "offset 2026-03-01T08:00+01:00 or Z",
                            in_quotes(e.when_text)));
    e.when = when->when;
    e.to_the_minute = when->to_the_minute;

    LogRow row;
    row.line = e.line;
    row.when = e.when;
    row.to_the_minute = e.to_the_minute;
    row.what = key_word(e.what_text);
    row.value = trimmed(e.value_text);
    row.unit = trimmed(e.unit_text);
    row.detail = trimmed(e.detail_text);
    row.kit = more_of(e, "kit");

    const std::array<std::string, 5> line{std::string(trimmed(e.when_text)), row.what, row.value, row.unit, row.detail};
    const bool duplicate = e.to_the_minute && !timed_lines_.insert(line).second;
    std::vector<Doubt> doubts;
    if (when->oddity == LocalTimeOddity::skipped)
      doubts.push_back({e.line, "local_time_skipped",
                        fmt::format("The clock in {} skipped {}: taken as {}; write the time with its offset, for example Z.",
                                    zone, trimmed(e.when_text), to_utc_text(e.when))});
    if (when->oddity == LocalTimeOddity::repeated)
      doubts.push_back({e.line, "local_time_repeated",
                        fmt::format("The clock in {} showed {} twice: taken as the first, {}; write the time with its offset.",
                                    zone, trimmed(e.when_text), to_utc_text(e.when))});

    if (const auto test = test_from(row.what)) {
      auto reading = read_reading(log_.loop, *test, row, doubts);
      if (!reading) return at(kept, reading.error().column, with_comma_hint(row, reading.error().message));
      reading->value_text = e.value_text;
      e.body = std::move(*reading);
    } else if (is_action(row.what)) {
      auto body = read_action(log_.loop, row, doubts);
      if (!body) return at(kept, body.error().column, with_comma_hint(row, body.error().message));
      e.body = std::move(*body);
    } else {
      std::vector<std::string> allowed = test_names();
      allowed.insert(allowed.end(), action_names().begin(), action_names().end());
      return at(kept, Column::what, fmt::format("{} is not something a log can say{}; allowed: {}", in_quotes(e.what_text),
                                                did_you_mean(e.what_text, allowed), listed(allowed)));
    }
    if (duplicate) {
      log_.doubts.push_back({e.line, "duplicate_line",
                             "The line is equal to an earlier one in all five fields and was counted once; delete it, or give "
                             "the second event its own time."});
      log_.dropped_duplicates.push_back(std::move(e));
      return std::nullopt;
    }
    log_.doubts.insert(log_.doubts.end(), doubts.begin(), doubts.end());
    log_.entries.push_back(std::move(e));
    return std::nullopt;
  }

  static std::string with_comma_hint(const LogRow& row, std::string message) {
    if (!is_decimal_comma(row.value) || message.find("decimal point") != std::string::npos) return message;
    return message + "; write a decimal point instead of the comma";
  }

  std::string file_;
  std::vector<std::string> columns_;
  std::vector<Kept> kept_;
  std::set<std::array<std::string, 5>> timed_lines_;
  LoopLog log_;
};

}  // namespace

tl::expected<LoopLog, Error> parse_log_csv(const Loop& loop, std::string_view text, std::string_view file_name) {
  return LogReader(loop, file_name).read(text);
}

std::string to_log_csv(const LoopLog& log) {
  std::vector<const Entry*> rows;
  for (const auto* part : {&log.entries, &log.dropped_duplicates, &log.not_in_force})
    for (const Entry& entry : *part) rows.push_back(&entry);
  // Entries that were never written come last, in their order.
  std::stable_sort(rows.begin(), rows.end(), [](const Entry* a, const Entry* b) {
    return a->line != b->line && a->line > 0 && (b->line == 0 || a->line < b->line);
  });

  std::vector<std::string> columns(kColumns.begin(), kColumns.end());
  for (std::size_t i = kColumns.size(); i < log.columns.size(); ++i) columns.push_back(log.columns[i]);
  for (const Entry* entry : rows)
    for (const auto& [name, text] : entry->more)
      if (std::find(columns.begin(), columns.end(), name) == columns.end()) columns.push_back(name);

  std::string out;
  for (std::size_t i = 0; i < columns.size(); ++i) out += (i == 0 ? "" : ",") + csv_cell(columns[i]);
  out += '\n';
  for (const Entry* entry : rows) {
    out += csv_cell(entry->when_text) + ',' + csv_cell(entry->what_text) + ',' + csv_cell(entry->value_text) + ',' +
           csv_cell(entry->unit_text) + ',' + csv_cell(entry->detail_text);
    for (std::size_t i = kColumns.size(); i < columns.size(); ++i) {
      const auto found = entry->more.find(columns[i]);
      out += ',';
      if (found != entry->more.end()) out += csv_cell(found->second);
    }
    out += '\n';
  }
  return out;
}

}  // namespace helmwater::records
