// SPDX-License-Identifier: Apache-2.0
// The page of an outlook. What it must say, in which order, is the project's own rule; conversions between
// bases are by atomic weights (IUPAC 2021 abridged: H 1.008, N 14.007) and 1 dKH = 17.85 mg/L CaCO3 (10 mg
// CaO per litre).
#include "outlook_page.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <random>

#include "hand_made.hpp"
#include "page_text.hpp"

namespace helmwater::app_test {
namespace {

using app::outlook_page;
using app::PageStyle;
using records::Basis;

std::string page(const infer::Outlook& o, const records::LoopLog& log, PageStyle style = {}) {
  return outlook_page(o, log, style);
}

// The rows of the panel whose title begins with this name; the title is the first.
std::vector<std::string> panel(const std::string& text, const std::string& name, std::size_t rows) {
  const auto lines = lines_of(text);
  const auto title = std::find_if(lines.begin(), lines.end(),
                                  [&](const std::string& l) { return l.rfind("      " + name, 0) == 0; });
  if (title == lines.end() || static_cast<std::size_t>(lines.end() - title) <= rows) return {};
  return {title, title + static_cast<std::ptrdiff_t>(rows) + 1};
}

void expect_well_set(const std::string& text, int columns) {
  for (const std::string& line : lines_of(text)) {
    EXPECT_LE(app::shown_width(line), columns) << line;
    EXPECT_FALSE(!line.empty() && line.back() == ' ') << "blank at the end: " << line;
    EXPECT_FALSE(has(line, " \x1b[0m") && line.size() >= 5 && line.substr(line.size() - 5) == " \x1b[0m")
        << line;
  }
  EXPECT_FALSE(has(text, "!"));
  EXPECT_FALSE(has(text, "100 %"));
  EXPECT_FALSE(has(text, "nan"));
  EXPECT_FALSE(has(text, "inf "));
  EXPECT_FALSE(has(text, "-0"));
}

std::vector<infer::Outlook> every_kind() {
  std::vector<infer::Outlook> all{start_up(), with_fish()};
  for (int s = 0; s < infer::kStages; ++s) {
    for (const double p : {0.55, 0.8, 0.99}) {
      infer::Outlook o = start_up();
      o.stage = static_cast<infer::Stage>(s);
      o.stage_probability = p;
      all.push_back(o);
    }
  }
  infer::Outlook open = start_up();
  open.nitrite_first_clear = open_from("2026-03-26T08:00", 0.8);
  open.ready_for_fish = open_from("2026-03-28T08:00", 0.6);
  open.alkalinity_runs_out = open_from("2026-04-28T08:00", 0.3);
  all.push_back(open);
  infer::Outlook nothing = start_up();
  nothing.readings_used = 0;
  nothing.series.clear();
  nothing.ammonia_first_clear = nothing.nitrite_peak = nothing.nitrite_first_clear = nothing.ready_for_fish =
      never(0.02);
  all.push_back(nothing);
  infer::Outlook at_start = start_up();
  at_start.as_of = at_start.started;
  all.push_back(at_start);
  infer::Outlook at_end = start_up();
  at_end.as_of = at_end.end;
  all.push_back(at_end);
  return all;
}

TEST(OutlookPage, keeps_to_its_width_at_every_width_in_every_character_set) {
  records::LoopLog log = log_of_start_up();
  log.entries.push_back(reading(9, "2026-03-12T08:00", records::Test::nitrate, Basis::no3, 20, 40, "30"));
  for (infer::Outlook o : every_kind()) {
    o.doubts = {{7, "surprising_reading", "This reading does not fit the others; it counts little."},
                {std::nullopt, "x", "About all."}};
    for (const int columns : {60, 61, 80, 100, 120}) {
      for (const bool utf8 : {true, false}) {
        for (const bool colour : {true, false}) {
          const std::string text = page(o, log, {columns, colour, utf8});
          expect_well_set(text, columns);
          if (!utf8) {
            EXPECT_TRUE(std::all_of(text.begin(), text.end(),
                                    [](char c) { return static_cast<unsigned char>(c) < 0x80; }));
          }
          if (!colour) {
            EXPECT_FALSE(has(text, "\x1b"));
          }
        }
      }
    }
  }
}

TEST(OutlookPage, says_the_same_with_and_without_colour) {
  const std::string coloured = page(start_up(), log_of_start_up(), {80, true, true});
  EXPECT_TRUE(has(coloured, "\x1b[1m"));
  EXPECT_EQ(uncoloured(coloured), page(start_up(), log_of_start_up(), {80, false, true}));
}

TEST(OutlookPage, is_the_same_each_time) {
  EXPECT_EQ(page(start_up(), log_of_start_up()), page(start_up(), log_of_start_up()));
}

TEST(OutlookPage, answers_first_then_acts_then_states_and_ends_with_doubts_and_how_sure) {
  infer::Outlook o = start_up();
  o.doubts = {{6, "surprising_reading", "This nitrite reading does not fit the others."}};
  const std::string text = page(o, log_of_start_up());
  std::size_t before = 0;
  for (const char* part :
       {"Nitrite is rising.", "Today: Test nitrite", "The water now", "between 14 and 23 March",
        "ammonia, mg/L as NH₃", "Line 6 of the log", "1200 independent"}) {
    const std::size_t where = text.find(part);
    ASSERT_NE(where, std::string::npos) << part << "\n" << text;
    EXPECT_GT(where, before) << part;
    before = where;
  }
}

TEST(OutlookPage, puts_unit_and_basis_beside_every_quantity_with_two_digits) {
  const std::string text = page(start_up(), log_of_start_up());
  const auto row = [&](const std::string& name, const std::string& middle) {
    for (const std::string& line : lines_of(text)) {
      if (line.rfind("  " + name, 0) == 0 && has(line, " " + middle + " ")) return line;
    }
    return std::string("no row for " + name);
  };
  EXPECT_TRUE(has(row("ammonia", "1.4"), "1.1 to 1.6     mg/L as NH₃")) << row("ammonia", "1.4");
  EXPECT_TRUE(has(row("nitrite", "4.3"), "3.0 to 5.5     mg/L as NO₂⁻"));
  EXPECT_TRUE(has(row("nitrate", "12"), "7.4 to 17      mg/L as NO₃⁻"));
  EXPECT_TRUE(has(row("alkalinity", "120"), "110 to 140     mg/L as CaCO₃"));
  EXPECT_TRUE(has(row("free ammonia", "0.021"), "0.017 to 0.026 mg/L as N"));
  EXPECT_TRUE(has(row("pH", "7.6"), "7.5 to 7.7"));
  EXPECT_TRUE(has(row("ammonia", "0.87"), "0.61 to 1.1    mg/L as N"));
  EXPECT_TRUE(has(row("nitrite", "0.05"), "0.03 to 0.08   mg/L as N"));
}

TEST(OutlookPage, names_dates_with_their_range_in_the_zone_of_the_loop) {
  infer::Outlook o = start_up();
  // 23:30 UTC on 22 March is 00:30 on 23 March in Vienna (winter time, UTC+1).
  o.ammonia_first_clear = between("2026-03-14T08:00", "2026-03-18T08:00", "2026-03-22T23:30");
  const std::string text = unwrapped(page(o, log_of_start_up()));
  EXPECT_TRUE(has(text, "ammonia clear between 14 and 23 March, most likely Wed 18 March")) << text;
  EXPECT_TRUE(has(text, "nitrite clear between 26 March and 9 April, most likely 1 April"));
  EXPECT_TRUE(has(text, "at about 9.1 mg/L as NO₂⁻ (6.4 to 12)"));
  EXPECT_TRUE(has(text, "Thu 12 March 2026, 09:00")) << "08:00 UTC";
}

TEST(OutlookPage, names_the_year_when_it_is_another) {
  infer::Outlook o = start_up();
  o.as_of = at("2026-12-20T08:00");
  o.started = at("2026-12-09T08:00");
  o.end = at("2027-02-18T08:00");
  o.series.clear();
  o.ammonia_first_clear = between("2026-12-28T08:00", "2026-12-31T12:00", "2027-01-04T08:00");
  o.nitrite_peak = between("2027-01-04T08:00", "2027-01-08T08:00", "2027-01-14T08:00");
  const std::string text = unwrapped(page(o, empty_log()));
  EXPECT_TRUE(has(text, "between 28 December 2026 and 4 January 2027, most likely 31 December")) << text;
  EXPECT_TRUE(has(text, "between 4 and 14 January 2027, most likely 8 January 2027"));
}

TEST(OutlookPage, does_not_name_a_date_it_cannot_tell) {
  infer::Outlook o = start_up();
  o.nitrite_first_clear =
      between("2026-03-20T08:00", "2026-04-04T08:00", "2026-04-12T08:00");  // 23 days wide
  o.ready_for_fish = open_from("2026-03-28T08:00", 0.62);
  const std::string text = unwrapped(page(o, log_of_start_up()));
  EXPECT_TRUE(has(text, "nitrite clear cannot tell yet; likely by 8 April (3 in 4), not before Fri 20 March"))
      << text;
  EXPECT_TRUE(has(
      text, "fish can go in cannot tell yet; more likely than not by 11 May (6 in 10), not before 28 March"));
  EXPECT_TRUE(has(text, "It is too early to name a day for fish; not before 28 March."));

  o.ready_for_fish = never(0.03);
  const std::string later = unwrapped(page(o, log_of_start_up()));
  EXPECT_TRUE(has(later, "fish can go in not before 11 May, where this outlook ends (49 in 50)")) << later;
}

TEST(OutlookPage, tells_what_has_happened_as_past) {
  infer::Outlook o = start_up();
  o.ammonia_first_clear = between("2026-03-07T08:00", "2026-03-08T08:00", "2026-03-10T08:00");
  o.ammonia_first_clear.reached = true;
  o.nitrite_peak = between("2026-03-10T08:00", "2026-03-11T08:00", "2026-03-13T08:00");
  o.nitrite_peak.reached = true;
  const std::string text = unwrapped(page(o, log_of_start_up()));
  EXPECT_TRUE(has(text, "ammonia clear already, between 7 and 10 March, most likely Sun 8 March")) << text;
  EXPECT_TRUE(
      has(text, "nitrite highest probably already, between 10 and 13 March, most likely Wed 11 March"))
      << text;
}

TEST(OutlookPage, turns_readings_into_its_own_units) {
  // 5 mg/L as N is 6.08 as NH3 (17.031 / 14.007), more than 6: the axis goes on to 8. As written it would end
  // at 6.
  const auto ammonia = panel(page(start_up(), log_of_start_up()), "ammonia, mg/L as NH₃", 5);
  ASSERT_EQ(ammonia.size(), 6u);
  EXPECT_TRUE(ammonia[1].rfind("    8 ", 0) == 0) << ammonia[1];
  // 8.5 dKH is 152 mg/L: the axis goes on to 160; the band alone, below 143, would too, but 8.5 as it is
  // would lie at the bottom. The bar stands in the upper two rows (120 and 160).
  const auto alkalinity = panel(page(start_up(), log_of_start_up()), "alkalinity, mg/L as CaCO₃", 5);
  ASSERT_EQ(alkalinity.size(), 6u);
  EXPECT_TRUE(alkalinity[1].rfind("  160 ", 0) == 0) << alkalinity[1];
  const auto barred = [](const std::string& row) { return has(row, "┃") || has(row, "╹") || has(row, "╻"); };
  EXPECT_TRUE(barred(alkalinity[1]) || barred(alkalinity[2]));
  EXPECT_FALSE(barred(alkalinity[4]) || barred(alkalinity[5]));
}

TEST(OutlookPage, draws_readings_only_up_to_now_and_all_of_one_test_in_its_panel) {
  records::LoopLog log = log_of_start_up();
  const auto bars = [](const std::vector<std::string>& rows) {
    int columns_with_bar = 0;
    std::vector<bool> column(200, false);
    for (std::size_t r = 1; r < rows.size(); ++r) {
      std::size_t c = 0;
      for (std::size_t i = 0; i < rows[r].size(); ++c) {
        std::size_t next = i + 1;
        while (next < rows[r].size() && (static_cast<unsigned char>(rows[r][next]) & 0xC0) == 0x80) ++next;
        const std::string mark = rows[r].substr(i, next - i);
        if (mark == "┃" || mark == "╹" || mark == "╻" || mark == "↑") column[c] = true;
        i = next;
      }
    }
    for (const bool b : column) columns_with_bar += b;
    return columns_with_bar;
  };
  EXPECT_EQ(bars(panel(page(start_up(), log), "nitrite, mg/L as NO₂⁻", 7)), 2);
  EXPECT_EQ(bars(panel(page(start_up(), log), "nitrate, mg/L as NO₃⁻", 5)), 0);
  EXPECT_EQ(bars(panel(page(start_up(), log), "pH", 5)), 1);
  log.entries.push_back(
      reading(9, "2026-03-13T08:00", records::Test::nitrite, Basis::no2, 6, 9, "after now"));
  EXPECT_EQ(bars(panel(page(start_up(), log), "nitrite, mg/L as NO₂⁻", 7)), 2);
  // Two on one day at this width share a column and are set side by side.
  records::LoopLog crowded = log_of_start_up();
  crowded.entries.insert(crowded.entries.end() - 2,
                         reading(9, "2026-03-08T09:00", records::Test::nitrite, Basis::no2, 1, 2, "1.5"));
  EXPECT_EQ(bars(panel(page(start_up(), crowded), "nitrite, mg/L as NO₂⁻", 7)), 3);
}

TEST(OutlookPage, marks_doses_and_water_changes_with_their_amounts) {
  const std::string text = page(start_up(), log_of_start_up());
  const auto lines = lines_of(text);
  const auto done =
      std::find_if(lines.begin(), lines.end(), [](const std::string& l) { return l.rfind(" done", 0) == 0; });
  ASSERT_NE(done, lines.end());
  EXPECT_TRUE(has(*done, "▼ 4.5 g")) << *done;
  EXPECT_TRUE(has(*done, "◆ 25 %")) << *done;
}

TEST(OutlookPage, links_doubts_by_letter_and_line) {
  infer::Outlook o = start_up();
  o.doubts = {{3, "sampled_before_mixed", "This ammonia reading came soon after a dose."},
              {6, "surprising_reading", "This nitrite reading does not fit."},
              {7, "surprising_reading", "This nitrite reading does not fit."},
              {std::nullopt, "feed_not_logged", "No feed was ever logged."}};
  const std::string text = page(o, log_of_start_up());
  const std::string flat = unwrapped(text);
  EXPECT_TRUE(has(
      flat, "a Line 3 of the log, ammonia 2..5 on Mon 2 March. This ammonia reading came soon after a dose."))
      << flat;
  EXPECT_TRUE(has(flat, "b Lines 6 and 7 of the log. This nitrite reading does not fit.")) << flat;
  EXPECT_TRUE(has(flat, "No feed was ever logged."));
  const auto lettered = [&](const std::vector<std::string>& rows, char letter) {
    int count = 0;
    for (std::size_t r = 1; r < rows.size(); ++r)
      count += static_cast<int>(std::count(rows[r].begin(), rows[r].end(), letter));
    return count;
  };
  EXPECT_EQ(lettered(panel(text, "ammonia, mg/L as NH₃", 5), 'a'), 1);
  EXPECT_EQ(lettered(panel(text, "nitrite, mg/L as NO₂⁻", 7), 'b'), 2);
}

TEST(OutlookPage, names_the_risk_to_fish_with_limits_and_their_source) {
  const std::string text = unwrapped(page(with_fish(), log_of_start_up()));
  EXPECT_TRUE(has(text, "Fish are at risk: nitrite above 0.1 mg/L as NO₂⁻ within a day is likely (8 in 10)."))
      << text;
  EXPECT_TRUE(has(text,
                  "Nitrite above 0.1 mg/L as NO₂⁻: likely within a day (8 in 10), very likely within three "
                  "days (19 in 20)."));
  EXPECT_TRUE(has(text,
                  "Free ammonia above 0.02 mg/L as N: very unlikely within a day (1 in 20), unlikely within "
                  "three days (1 in 10)."));
  EXPECT_TRUE(
      has(text, "Source: Small-scale aquaponic food production."));  // the handbook's limit for nitrite
  EXPECT_TRUE(has(text, "names no species, so the strictest limits hold"));
  infer::Outlook named = with_fish();
  named.risk_species = "tilapia";
  EXPECT_TRUE(has(unwrapped(page(named, log_of_start_up())), "The limits are those for tilapia."));
  named.risk_species = "moonfish";
  EXPECT_TRUE(has(unwrapped(page(named, log_of_start_up())), "The handbook does not know moonfish, so the strictest limits hold."));
  EXPECT_FALSE(has(text, "Fish can"));
  EXPECT_TRUE(has(text, "38 g of feed"));

  infer::Outlook already = with_fish();
  already.nitrite = spread(0.4, 0.3);
  EXPECT_TRUE(has(unwrapped(page(already, log_of_start_up())),
                  "Fish are at risk: nitrite is above 0.1 mg/L as NO₂⁻ already."));

  infer::Outlook calm = with_fish();
  calm.risk_nitrite = {0.1, 0.02, 0.05};
  EXPECT_TRUE(has(unwrapped(page(calm, log_of_start_up())),
                  "Passing a limit for fish within a day is very unlikely (1 in 20)."));
}

TEST(OutlookPage, says_when_nothing_has_been_read) {
  infer::Outlook o = start_up();
  o.readings_used = 0;
  const std::string text = unwrapped(page(o, empty_log()));
  EXPECT_TRUE(has(text, "This is what to expect before any reading.")) << text;
  EXPECT_TRUE(has(text, "No reading has been used."));
  EXPECT_FALSE(has(text, "a reading, drawn"));
}

TEST(OutlookPage, does_not_let_names_steer_the_terminal_or_break_the_page) {
  infer::Outlook o = start_up();
  o.loop = "Be\x1b[2Jnch \xff" + std::string(150, 'x') + " 水槽";
  for (const int columns : {60, 80}) {
    const std::string text = page(o, log_of_start_up(), {columns, false, true});
    EXPECT_FALSE(has(text, "\x1b"));
    expect_well_set(text, columns);
  }
}

TEST(OutlookPage, says_when_few_members_carry_the_answer) {
  infer::Outlook o = start_up();
  o.effective_members = 87;
  EXPECT_TRUE(has(unwrapped(page(o, log_of_start_up())),
                  "worth only 87 independent ones: the ends of the ranges are rough"));
}

// Any order of quantiles and dates must give a page that is well set: random outlooks from a fixed seed.
TEST(OutlookPage, survives_any_numbers) {
  std::mt19937 random(20260312);
  const auto uniform = [&](double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(random);
  };
  const auto quantity = [&] {
    std::vector<double> v;
    const double scale = std::pow(10, uniform(-5, 4));
    for (int i = 0; i < 5; ++i) v.push_back(uniform(0, scale));
    std::sort(v.begin(), v.end());
    return infer::Quantiles{v[0], v[1], v[2], v[3], v[4]};
  };
  for (int i = 0; i < 60; ++i) {
    infer::Outlook o = i % 3 == 0 ? with_fish() : start_up();
    for (auto* q : {&o.ammonia, &o.nitrite, &o.nitrate, &o.alkalinity, &o.free_ammonia, &o.ammonia_capacity,
                    &o.nitrite_capacity, &o.nitrite_peak_height}) {
      *q = quantity();
    }
    for (auto* m : {&o.ammonia_first_clear, &o.nitrite_peak, &o.nitrite_first_clear, &o.ready_for_fish,
                    &o.alkalinity_runs_out}) {
      std::vector<records::Instant> t;
      for (int k = 0; k < 5; ++k) t.push_back(records::plus_days(o.started, uniform(0, 71)));
      std::sort(t.begin(), t.end());
      const int known = static_cast<int>(uniform(0, 5.999));
      *m = {};
      if (known > 0) m->p05 = t[0];
      if (known > 1) m->p25 = t[1];
      if (known > 2) m->p50 = t[2];
      if (known > 3) m->p75 = t[3];
      if (known > 4) m->p95 = t[4];
      m->probability_within_days = known == 5 ? 0.97 : 0.2 * known;
      m->reached = m->p50 && *m->p50 <= o.as_of;
    }
    for (auto& moment : o.series) {
      for (auto& q : moment.of) q = quantity();
    }
    const int columns = static_cast<int>(uniform(60, 121));
    const std::string text = page(o, log_of_start_up(), {columns, false, i % 2 == 0});
    for (const std::string& line : lines_of(text)) {
      ASSERT_LE(app::shown_width(line), columns) << line;
      ASSERT_FALSE(!line.empty() && line.back() == ' ') << line;
    }
  }
}

}  // namespace
}  // namespace helmwater::app_test
