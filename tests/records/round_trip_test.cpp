// SPDX-License-Identifier: Apache-2.0
// What is written reads back as what it was, for generated loops and logs; and nothing is left half-written.
#include <gtest/gtest.h>
#include <unistd.h>

#include <array>
#include <filesystem>
#include <fstream>
// Only after GoogleTest.
#include <rapidcheck/gtest.h>

#include "loop_text.hpp"

namespace helmwater::records {
namespace {

namespace fs = std::filesystem;

class Folder {
 public:
  Folder() : path_(fs::temp_directory_path() / ("helmwater-records-" + std::to_string(::getpid()))) { fs::remove_all(path_); }
  ~Folder() { fs::remove_all(path_); }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  const fs::path& path() const { return path_; }

 private:
  fs::path path_;
};

// Text with everything a cell may hold that has to be escaped.
rc::Gen<std::string> cell_text() {
  return rc::gen::map(rc::gen::container<std::vector<std::string>>(rc::gen::element<std::string>(
                          "a", "Z", "7", " ", ",", "\"", "\n", ";", "'", "\\", "\t", "#", "=", "\xC3\xA4", "\xE2\x82\xAC", "[")),
                      [](const std::vector<std::string>& parts) {
                        std::string out;
                        for (const std::string& part : parts) out += part;
                        return out;
                      });
}
rc::Gen<double> positive() {
  return rc::gen::map(rc::gen::pair(rc::gen::inRange(1, 1000000), rc::gen::element(1e-3, 1.0, 1.0 / 3)),
                      [](const std::pair<int, double>& p) { return p.first * p.second; });
}
rc::Gen<Instant> instant() {
  return rc::gen::map(rc::gen::inRange<std::int64_t>(0, 4000000000LL),
                      [](std::int64_t s) { return Instant{std::chrono::seconds{s}}; });
}
template <class T>
rc::Gen<std::optional<T>> maybe(rc::Gen<T> gen) {
  return rc::gen::oneOf(rc::gen::just(std::optional<T>{}), rc::gen::map(std::move(gen), [](T v) { return std::optional<T>{std::move(v)}; }));
}

Kit generated_kit() {
  Kit kit;
  kit.test = *rc::gen::map(rc::gen::element<std::string>("ammonia", "nitrite", "nitrate", "ph", "alkalinity", "iron", "phosphate"),
                           [](const std::string& name) { return *test_from(name); });
  if (!bases_of(kit.test).empty()) kit.basis = *rc::gen::elementOf(bases_of(kit.test));
  if (*rc::gen::arbitrary<bool>()) {
    double step = *rc::gen::element(0.0, 0.1);
    for (int i = *rc::gen::inRange(1, 8); i > 0; --i) {
      kit.steps.push_back(step);
      step += *rc::gen::element(0.1, 0.25, 1.0 / 3, 1.0);
    }
  }
  kit.id = *maybe<std::string>(rc::gen::map(cell_text(), [](std::string s) { return "k" + s; }));
  kit.lot = *maybe<std::string>(cell_text());
  kit.from = *maybe<Instant>(instant());
  if (kit.from && *rc::gen::arbitrary<bool>()) kit.until = *kit.from + std::chrono::hours{*rc::gen::inRange(1, 10000)};
  return kit;
}

Loop generated_loop() {
  Loop loop;
  loop.name = "n" + *cell_text();
  loop.volume = units::Litres{*positive()};
  loop.volume_sd = *rc::gen::arbitrary<bool>() ? loop.volume * 0.1 : units::Litres{*positive()};
  loop.time_zone = *rc::gen::element<std::string>("UTC", "Europe/Vienna", "America/Chicago", "Australia/Lord_Howe");
  loop.started = *maybe<Instant>(instant());
  if (loop.started && *rc::gen::arbitrary<bool>()) {
    loop.started = parse_instant(local_date_iso(*loop.started, loop.zone()), loop.zone())->when;
    loop.started_is_date = true;
  }
  loop.start = *rc::gen::element(Start::unseeded, Start::bottled_culture, Start::fish, Start::seeded_media);
  if (*rc::gen::arbitrary<bool>()) loop.seed_area = units::SquareMetres{*positive()};
  loop.seed_note = *maybe<std::string>(cell_text());
  loop.typical_temperature = units::Celsius{*rc::gen::inRange(0, 450) / 10.0};
  loop.bed = *rc::gen::element(Bed::media, Bed::raft, Bed::film, Bed::mixed);
  loop.bed_area = units::SquareMetres{*positive()};
  loop.turnover_per_h = *rc::gen::inRange(0, 100) / 7.0;
  loop.air = *rc::gen::element(Air::none, Air::gentle, Air::strong);
  if (*rc::gen::arbitrary<bool>()) loop.media.volume = units::Litres{*positive()};
  if (*rc::gen::arbitrary<bool>()) loop.media.specific_surface_m2_m3 = *rc::gen::inRange(0, 90000) / 7.0;
  SourceWater& water = loop.source_water;
  if (*rc::gen::arbitrary<bool>()) water.ph = *rc::gen::inRange(0, 140) / 10.0;
  if (*rc::gen::arbitrary<bool>()) water.alkalinity = units::AlkalinityCaCO3{*rc::gen::inRange(0, 5000) / 3.0};
  if (*rc::gen::arbitrary<bool>()) water.nitrate = units::NitrateIon{*rc::gen::inRange(0, 5000) / 3.0};
  water.disinfectant = *maybe<Disinfectant>(rc::gen::element(Disinfectant::none, Disinfectant::chlorine, Disinfectant::chloramine));
  if (*rc::gen::arbitrary<bool>()) water.disinfectant_dose = units::ChlorineCl2{*rc::gen::inRange(0, 300) / 7.0};
  for (int i = *rc::gen::inRange(0, 4); i > 0; --i) loop.kits.push_back(generated_kit());
  if (*rc::gen::arbitrary<bool>()) {
    Plan plan;
    plan.redose = *rc::gen::element(Redose::none, Redose::to_target);
    plan.redose_to = units::AmmoniaNH3{0.3 + *rc::gen::inRange(0, 50) / 7.0};
    if (*rc::gen::arbitrary<bool>()) {
      plan.buffer_below = units::AlkalinityCaCO3{40.0 / 3};
      plan.buffer_to = units::AlkalinityCaCO3{80.0 / 3};
    }
    if (*rc::gen::arbitrary<bool>()) plan.feed_g_per_day = *positive();
    loop.plan = plan;
  }
  return loop;
}

template <class T>
void same(const std::optional<T>& a, const std::optional<T>& b) {
  RC_ASSERT(a.has_value() == b.has_value());
  if (a) RC_ASSERT(*a == *b);
}

void expect_same(const Loop& a, const Loop& b) {
  RC_ASSERT(a.name == b.name);
  RC_ASSERT(a.volume == b.volume);
  RC_ASSERT(a.volume_sd == b.volume_sd);
  RC_ASSERT(a.zone() == b.zone());
  same(a.started, b.started);
  RC_ASSERT(a.started_is_date == b.started_is_date);
  RC_ASSERT(a.start == b.start);
  same(a.seed_area, b.seed_area);
  same(a.seed_note, b.seed_note);
  RC_ASSERT(a.typical_temperature == b.typical_temperature);
  RC_ASSERT(a.bed == b.bed);
  RC_ASSERT(a.bed_area == b.bed_area);
  RC_ASSERT(a.turnover_per_h == b.turnover_per_h);
  RC_ASSERT(a.air == b.air);
  same(a.media.volume, b.media.volume);
  same(a.media.specific_surface_m2_m3, b.media.specific_surface_m2_m3);
  same(a.source_water.ph, b.source_water.ph);
  same(a.source_water.alkalinity, b.source_water.alkalinity);
  same(a.source_water.nitrate, b.source_water.nitrate);
  same(a.source_water.disinfectant, b.source_water.disinfectant);
  same(a.source_water.disinfectant_dose, b.source_water.disinfectant_dose);
  RC_ASSERT(a.kits.size() == b.kits.size());
  for (std::size_t i = 0; i < a.kits.size(); ++i) {
    RC_ASSERT(a.kits[i].test == b.kits[i].test);
    RC_ASSERT(a.kits[i].basis == b.kits[i].basis);
    RC_ASSERT(a.kits[i].steps == b.kits[i].steps);
    same(a.kits[i].id, b.kits[i].id);
    same(a.kits[i].lot, b.kits[i].lot);
    same(a.kits[i].from, b.kits[i].from);
    same(a.kits[i].until, b.kits[i].until);
  }
  RC_ASSERT(a.plan.has_value() == b.plan.has_value());
  if (!a.plan) return;
  RC_ASSERT(a.plan->redose == b.plan->redose);
  RC_ASSERT(a.plan->redose_to == b.plan->redose_to);
  RC_ASSERT(a.plan->redose_below == b.plan->redose_below);
  RC_ASSERT(a.plan->redose_while_nitrite_below == b.plan->redose_while_nitrite_below);
  same(a.plan->buffer_below, b.plan->buffer_below);
  same(a.plan->buffer_to, b.plan->buffer_to);
  same(a.plan->feed_g_per_day, b.plan->feed_g_per_day);
  RC_ASSERT(a.plan->protein_percent == b.plan->protein_percent);
  RC_ASSERT(a.plan->ready_load == b.plan->ready_load);
}

RC_GTEST_PROP(RoundTrip, loop_toml, ()) {
  const Loop loop = generated_loop();
  const std::string text = to_loop_toml(loop);
  const auto again = parse_loop_toml(text, "loop.toml");
  if (!again) RC_FAIL(again.error().to_text() + "\n" + text);
  expect_same(loop, *again);
  RC_ASSERT(to_loop_toml(*again) == text);
}

struct RowText {
  std::string when, what, value, unit, detail;
  std::vector<std::string> more;
};

RowText generated_row(std::size_t further) {
  RowText row;
  static const std::vector<std::array<const char*, 4>> kRows{
      {"ammonia", "~0.5", "mg/L as N", ""},    {"nitrite", "0.3..0.9?", "ppm as NO2", ""},
      {" Nitrate ", ">40*2", "mg/L as ion", "a"}, {"ph", "7.4\xC2\xB1" "0.1", "", ""},
      {"temperature", "77", "degF", ""},       {"dose", "+2", "mg/L as N", "ammonium chloride"},
      {"dose", "5", "mL", "Ammonia Solution 10%"}, {"water change", "25", "%", "tap"},
      {"feed", "12", "g", "32 % protein"},     {"fish in", "3", "", "tilapia, 5 g"},
      {"pump", "off", "", ""},                 {"medication", "x", "drops", ""}};
  if (*rc::gen::inRange(0, 3) == 0) {
    row.what = "note";
    row.value = *cell_text();
    row.unit = *cell_text();
    row.detail = *cell_text();
  } else {
    const auto chosen = *rc::gen::elementOf(kRows);
    row.what = chosen[0];
    row.value = chosen[1];
    row.unit = chosen[2];
    row.detail = chosen[3];
  }
  row.when = *rc::gen::element<std::string>("2026-03-01", "2026-03-01T08:00", "2026-03-29 02:30", "2026-10-25T02:30", "2026-01-01T00:00Z",
                                            " 2026-03-02T10:00:30+05:30");
  for (std::size_t i = 0; i < further; ++i) row.more.push_back(*cell_text());
  return row;
}

std::vector<const Entry*> in_file_order(const LoopLog& log) {
  std::vector<const Entry*> rows;
  for (const auto* part : {&log.entries, &log.dropped_duplicates, &log.not_in_force})
    for (const Entry& entry : *part) rows.push_back(&entry);
  std::sort(rows.begin(), rows.end(), [](const Entry* a, const Entry* b) { return a->line < b->line; });
  return rows;
}

RC_GTEST_PROP(RoundTrip, log_csv, ()) {
  const Loop loop = loop_from("time_zone = \"Europe/Vienna\"\n");
  LoopLog log;
  log.loop = loop;
  log.columns = {"when", "what", "value", "unit", "detail"};
  const std::vector<std::string> further = *rc::gen::element(std::vector<std::string>{}, std::vector<std::string>{"author"},
                                                            std::vector<std::string>{"id", "withdrawn", "na\"m,e"});
  log.columns.insert(log.columns.end(), further.begin(), further.end());
  const int count = *rc::gen::inRange(0, 12);
  for (int i = 0; i < count; ++i) {
    const RowText row = generated_row(further.size());
    Entry entry;
    entry.line = i + 2;
    entry.when_text = row.when;
    entry.what_text = row.what;
    entry.value_text = row.value;
    entry.unit_text = row.unit;
    entry.detail_text = row.detail;
    for (std::size_t k = 0; k < further.size(); ++k)
      if (!row.more[k].empty()) entry.more[further[k]] = row.more[k];
    log.entries.push_back(entry);
  }
  const std::string text = to_log_csv(log);
  const auto again = parse_log_csv(loop, text, "log.csv");
  if (!again) RC_FAIL(again.error().to_text() + "\n" + text);
  const auto rows = in_file_order(*again);
  RC_ASSERT(rows.size() == log.entries.size());
  for (std::size_t i = 0; i < rows.size(); ++i) {
    RC_ASSERT(rows[i]->when_text == log.entries[i].when_text);
    RC_ASSERT(rows[i]->what_text == log.entries[i].what_text);
    RC_ASSERT(rows[i]->value_text == log.entries[i].value_text);
    RC_ASSERT(rows[i]->unit_text == log.entries[i].unit_text);
    RC_ASSERT(rows[i]->detail_text == log.entries[i].detail_text);
    RC_ASSERT(rows[i]->more == log.entries[i].more);
  }
  RC_ASSERT(again->columns == log.columns);
  RC_ASSERT(to_log_csv(*again) == text);
}

TEST(LoopFolder, writes_both_files_and_leaves_nothing_else) {
  const Folder folder;
  LoopLog log = log_from(loop_from("started = 2026-03-01\n"), "2026-03-01T08:00,ph,7,,\n2026-03-01T08:00,ph,7,,\n");
  ASSERT_TRUE(write_loop_folder(log, folder.path()));
  ASSERT_TRUE(write_loop_folder(log, folder.path()));  // over an older one
  int files = 0;
  for ([[maybe_unused]] const auto& file : fs::directory_iterator(folder.path())) ++files;
  EXPECT_EQ(files, 2);
  const auto again = read_loop_folder(folder.path());
  ASSERT_TRUE(again) << again.error().to_text();
  EXPECT_EQ(again->entries.size(), 1U);
  EXPECT_EQ(again->dropped_duplicates.size(), 1U);
  EXPECT_EQ(to_log_csv(*again), to_log_csv(log));
  EXPECT_TRUE(again->loop.started_is_date);
}
TEST(LoopFolder, says_what_is_missing) {
  const Folder folder;
  const auto none = read_loop_folder(folder.path());
  ASSERT_FALSE(none);
  EXPECT_TRUE(says(none.error().to_text(), {"is not a folder", "loop.toml and log.csv"}));
  EXPECT_EQ(none.error().kind, Error::Kind::bad_input);
  fs::create_directories(folder.path());
  EXPECT_TRUE(says(read_loop_folder(folder.path()).error().to_text(), {"loop.toml", "is missing"}));
  std::ofstream(folder.path() / "loop.toml") << kHead;
  EXPECT_TRUE(says(read_loop_folder(folder.path()).error().to_text(), {"log.csv", "is missing", "when,what,value,unit,detail"}));
}
TEST(LoopFolder, a_folder_that_cannot_be_made_is_no_bad_input) {
  const auto written = write_loop_folder(log_from(loop_from(), ""), "/dev/null/loop");
  ASSERT_FALSE(written);
  EXPECT_EQ(written.error().kind, Error::Kind::unavailable);
}

}  // namespace
}  // namespace helmwater::records
