// SPDX-License-Identifier: Apache-2.0
#include "outlook_page.hpp"

#include <fmt/format.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <string_view>

#include "text_graph.hpp"

namespace helmwater::app {
namespace {

using infer::Forecast;
using infer::Milestone;
using infer::Outlook;
using infer::Quantiles;
using infer::Stage;
using records::Instant;

constexpr int kLabel = 7;            // columns left of the graphs
constexpr double kTooWideDays = 21;  // a date with a wider 9-in-10 range is no date

// Two significant digits.
std::string number(double value) {
  if (value >= 9.95) return fmt::format("{:.0f}", value);
  if (value >= 0.995) return fmt::format("{:.1f}", value);
  if (value >= 0.095) return fmt::format("{:.2f}", value);
  if (value < 0.005) return "0";
  return fmt::format("{:.2f}", value);
}

// "8 in 10", never certainty.
std::string chance(double p) {
  if (p >= 0.975) return "49 in 50";
  if (p >= 0.93) return "19 in 20";
  if (p <= 0.025) return "1 in 50";
  if (p <= 0.07) return "1 in 20";
  return fmt::format("{:.0f} in 10", std::clamp(std::round(10 * p), 1.0, 9.0));
}
const char* chance_word(double p) {
  if (p >= 0.97) return "almost certainly";
  if (p >= 0.9) return "very likely";
  if (p >= 0.7) return "likely";
  if (p >= 0.55) return "more likely than not";
  return "perhaps";
}

class Page {
 public:
  Page(const Outlook& outlook, const records::LoopLog& log, const PageStyle& style) : o_(outlook), log_(log), style_(style) {}

  std::string all() {
    head();
    next_act();
    water();
    dates();
    graphs();
    doubts();
    rests_on();
    return text_;
  }

 private:
  // ---- writing

  void line(const std::string& text = "") {
    std::string trimmed = text;
    while (!trimmed.empty() && trimmed.back() == ' ') trimmed.pop_back();
    text_ += trimmed + "\n";
  }
  std::string strong(const std::string& text) const { return style_.colour ? "\x1b[1m" + text + "\x1b[0m" : text; }
  std::string rule() const {
    std::string r;
    for (int i = 0; i < style_.columns; ++i) r += style_.utf8 ? "─" : "-";
    return r;
  }
  void section(const std::string& title) {
    line();
    line(strong(title));
    line(rule());
  }
  // Words wrapped to the page, the first line after `first`, the others after `rest`.
  void paragraph(const std::string& text, const std::string& first = "", const std::string& rest = "", bool bold = false) {
    std::string current = first;
    bool fresh = true;
    std::size_t at = 0;
    const auto flush = [&] { line(bold ? strong(current) : current); };
    while (at < text.size()) {
      std::size_t end = text.find(' ', at);
      if (end == std::string::npos) end = text.size();
      const std::string word = text.substr(at, end - at);
      at = end + 1;
      if (word.empty()) continue;
      if (!fresh && shown_width(current) + 1 + shown_width(word) > style_.columns) {
        flush();
        current = rest;
        fresh = true;
      }
      if (!fresh) current += ' ';
      current += word;
      fresh = false;
    }
    flush();
  }
  const char* dash() const { return style_.utf8 ? "–" : "-"; }

  // ---- words

  double days_from_now(Instant t) const { return records::days_between(o_.as_of, t); }
  // "Fri 27 Mar" near, "about 16 Apr" further off; the year only where it differs.
  std::string day(Instant t, bool about = true) const {
    std::string date = records::local_date_text(t, o_.zone);
    const std::string today = records::local_date_text(o_.as_of, o_.zone);
    if (date.size() > 5 && today.size() > 5 && date.substr(date.size() - 5) == today.substr(today.size() - 5)) {
      date = date.substr(0, date.size() - 5);
    }
    const double away = days_from_now(t);
    if (std::abs(away) <= 10) {
      const std::string time = records::local_time_text(t, o_.zone);  // "Thu 12 Mar, 08:00"
      return time.substr(0, 3) + " " + date;
    }
    return (about ? "about " : "") + date;
  }
  std::string plain_day(Instant t) const {
    const std::string text = day(t, false);
    return text.size() > 4 && !(text[0] >= '0' && text[0] <= '9') ? text.substr(4) : text;  // without the weekday
  }
  std::string span(const Milestone& m) const { return plain_day(*m.p05) + " " + dash() + " " + plain_day(*m.p95); }

  bool can_tell(const Milestone& m) const {
    return m.p05 && m.p50 && m.p95 && records::days_between(*m.p05, *m.p95) <= kTooWideDays;
  }

  std::string sentence() const {
    std::string s;
    const Stage stage = o_.stage;
    if (o_.readings_used == 0 && stage == Stage::empty) {
      s = "This is what to expect before any reading.";
    } else if (stage == Stage::empty) {
      s = "There is no ammonia in the water yet, so nothing has begun.";
    } else if (stage == Stage::waiting) {
      s = "The bacteria have not visibly begun; ammonia stands.";
    } else if (stage == Stage::ammonia_falling) {
      s = "Ammonia is falling.";
    } else if (stage == Stage::nitrite_rising) {
      s = "Nitrite is rising.";
    } else if (stage == Stage::nitrite_falling) {
      s = "Nitrite has turned and is coming down.";
    } else if (stage == Stage::stalled) {
      s = "The start-up has stalled: what the bacteria need besides ammonia has run out.";
    } else if (stage == Stage::ready) {
      s = "The loop looks able to carry fish.";
    } else if (stage == Stage::running) {
      s = "Ammonia and nitrite are low with fish in.";
    } else {
      s = "It cannot be told yet where this start-up stands.";
    }
    if (o_.fish) {
      const double risk = std::max(o_.risk_free_ammonia.within_24_h, o_.risk_nitrite.within_24_h);
      if (risk > 0.1) s += " The fish are at risk within a day (" + chance(risk) + ").";
      return s;
    }
    if (stage == Stage::nitrite_rising && can_tell(o_.nitrite_peak) && !o_.nitrite_peak.reached) {
      s += " It will " + std::string(chance_word(0.8)) + " be highest " + day(*o_.nitrite_peak.p50) + ".";
    }
    if (stage == Stage::nitrite_rising || stage == Stage::nitrite_falling || stage == Stage::ammonia_falling) {
      const Milestone& clear = o_.nitrite_first_clear;
      if (!clear.reached && clear.p75) s += " Nitrite will likely be clear by " + day(*clear.p75, false) + " (3 in 4).";
    }
    if (stage != Stage::ready) {
      const Milestone& ready = o_.ready_for_fish;
      if (can_tell(ready) && ready.p75) {
        s += " Fish can likely go in from " + day(*ready.p75, false) + " (3 in 4).";
      } else if (ready.p05) {
        s += " It is too early to name a day for fish; not before " + day(*ready.p05, false) + ".";
      } else {
        s += " No day for fish is in sight.";
      }
    }
    return s;
  }

  // ---- parts

  void head() {
    const int day_number = static_cast<int>(std::floor(records::days_between(o_.started, o_.as_of))) + 1;
    line(o_.loop + fmt::format(", day {}, {}", day_number, records::local_time_text(o_.as_of, o_.zone)) +
         (o_.zone == "UTC" ? " UTC" : ""));
    line(rule());
    paragraph(sentence(), "", "", true);
  }

  void next_act() {
    section("Next");
    bool first = true;
    for (const infer::Advice& a : o_.advice) {
      if (!first) line();
      first = false;
      const std::string when = a.urgency == "now" ? "Now: " : a.urgency == "today" ? "Today: " : a.urgency == "this_week" ? "This week: " : "";
      paragraph(when + a.text, "", "  ", true);
      for (const std::string& b : a.because) paragraph("because " + b, "  ", "    ");
      if (a.caution.empty()) continue;
      line(style_.utf8 ? "  ┌ Before you begin" : "  + Before you begin");
      const std::string edge = style_.utf8 ? "  │ " : "  | ";
      for (const std::string& c : a.caution) paragraph(c, edge, edge + "  ");
    }
  }

  // paragraph() folds blanks; rows are set as they are.
  void row(const std::string& text) { line(text); }

  void water() {
    section("The water now (middle; 9 in 10 lie between)");
    const auto put = [&](const char* name, const Quantiles& q, const char* unit) {
      row(fmt::format("  {:<19}{:>6}   {:>6} to {:<6} {}", name, number(q.p50), number(q.p05), number(q.p95), unit));
    };
    put("ammonia", o_.ammonia, style_.utf8 ? "mg/L as NH₃" : "mg/L as NH3");
    put("nitrite", o_.nitrite, style_.utf8 ? "mg/L as NO₂⁻" : "mg/L as NO2-");
    put("nitrate", o_.nitrate, style_.utf8 ? "mg/L as NO₃⁻" : "mg/L as NO3-");
    row(fmt::format("  {:<19}{:>6.1f}   {:>6.1f} to {:<6.1f}", "pH", o_.ph.p50, o_.ph.p05, o_.ph.p95));
    put("alkalinity", o_.alkalinity, style_.utf8 ? "mg/L as CaCO₃" : "mg/L as CaCO3");
    const auto fine = [](double value) { return value < 0.0005 ? std::string("0") : fmt::format("{:.3f}", value); };
    row(fmt::format("  {:<19}{:>6}   {:>6} to {:<6} mg/L as N", "free ammonia", fine(o_.free_ammonia.p50), fine(o_.free_ammonia.p05),
                    fine(o_.free_ammonia.p95)));
    put("ammonia capacity", o_.ammonia_capacity, "mg/L a day as N, at 20 degC");
    put("nitrite capacity", o_.nitrite_capacity, "mg/L a day as N, at 20 degC");
    if (o_.fish) {
      line();
      paragraph(fmt::format("Free ammonia above {} mg/L (as N) within a day: {}; within three days: {}.", number(o_.risk_free_ammonia.limit),
                            chance(o_.risk_free_ammonia.within_24_h), chance(o_.risk_free_ammonia.within_72_h)), "  ", "  ");
      paragraph(fmt::format("Nitrite above {} mg/L (as ion) within a day: {}; within three days: {}.", number(o_.risk_nitrite.limit),
                            chance(o_.risk_nitrite.within_24_h), chance(o_.risk_nitrite.within_72_h)), "  ", "  ");
      paragraph(o_.risk_species.empty() ? "No species is logged, so the strictest limits hold." : "Limits for " + o_.risk_species + "; sources stand in the handbook.", "  ", "  ");
    }
  }

  void date_row(const char* name, const Milestone& m, const std::string& remark = "") {
    std::string text;
    if (!m.p05) {
      text = fmt::format("not within this outlook ({} that it happens)", chance(m.probability_within_days));
    } else if (m.reached) {
      text = m.p50 ? "happened " + day(*m.p50, false) : "happened";
      if (m.p95 && records::days_between(*m.p05, *m.p95) > 1) text += " (" + span(m) + ")";
    } else if (can_tell(m)) {
      text = day(*m.p50) + " (" + span(m) + ")";
    } else {
      text = "cannot tell yet; not before " + day(*m.p05, false);
      if (!m.p95) text += fmt::format("; by {} {}", day(o_.end, false), chance(m.probability_within_days));
    }
    if (!remark.empty()) text += ", " + remark;
    paragraph(text, fmt::format("  {:<24}", name), std::string(26, ' '));
  }

  void dates() {
    section("Dates (9 in 10 lie in the range)");
    date_row("ammonia clear", o_.ammonia_first_clear);
    date_row("nitrite at its highest", o_.nitrite_peak,
             fmt::format("near {} mg/L as ion ({} to {})", number(o_.nitrite_peak_height.p50), number(o_.nitrite_peak_height.p05),
                         number(o_.nitrite_peak_height.p95)));
    date_row("nitrite clear", o_.nitrite_first_clear);
    if (!o_.fish) date_row("able to carry fish", o_.ready_for_fish);
    if (o_.alkalinity_runs_out.p05) date_row("alkalinity used up", o_.alkalinity_runs_out);
    if (!o_.fish) {
      paragraph(fmt::format("Able to carry fish: {} mg/L of ammonia (as NH3) given at once is gone a day later, and nitrite with it.",
                            number(o_.plan.ready_load.value())), "  ", "  ");
    }
  }

  // Readings of a test in the page's units.
  std::vector<ReadingBar> bars(records::Test test, double from_standard) const {
    std::vector<ReadingBar> list;
    for (const records::Entry& e : log_.entries) {
      const auto* r = std::get_if<records::Reading>(&e.body);
      if (r == nullptr || r->test != test || e.when > o_.as_of) continue;
      const double factor = records::to_standard_factor(test, r->basis) * from_standard;
      list.push_back({records::days_between(o_.started, e.when), r->seen.low * factor, r->seen.high * factor});
    }
    return list;
  }

  void graphs() {
    if (o_.series.empty()) return;
    section(style_.utf8 ? "Course (░ 9 in 10, ▒ 1 in 2, ─ middle, ┃ reading as its range, │ now)"
                        : "Course (. 9 in 10, : 1 in 2, - middle, | reading as its range, ! now)");
    TextGraph frame;
    frame.first_day = 0;
    frame.now_day = records::days_between(o_.started, o_.as_of);
    frame.last_day = std::max(std::min(records::days_between(o_.started, o_.end), frame.now_day + 30), 1.0);
    frame.columns = style_.columns - kLabel;
    frame.utf8 = style_.utf8;
    const double n_to_nh3 = 1 / records::to_standard_factor(records::Test::ammonia, records::Basis::nh3);
    const double n_to_no2 = 1 / records::to_standard_factor(records::Test::nitrite, records::Basis::no2);
    const double n_to_no3 = 1 / records::to_standard_factor(records::Test::nitrate, records::Basis::no3);
    const double meq_to_caco3 = 1 / records::to_standard_factor(records::Test::alkalinity, records::Basis::caco3);
    deeds(frame);
    panel(frame, "ammonia, mg/L as NH3", Forecast::kAmmonia, bars(records::Test::ammonia, n_to_nh3), 5, true);
    panel(frame, "nitrite, mg/L as ion", Forecast::kNitrite, bars(records::Test::nitrite, n_to_no2), 7, true);
    panel(frame, "nitrate, mg/L as ion", Forecast::kNitrate, bars(records::Test::nitrate, n_to_no3), 4, true);
    panel(frame, "pH", Forecast::kPh, bars(records::Test::ph, 1), 4, false);
    panel(frame, "alkalinity, mg/L as CaCO3", Forecast::kAlkalinity, bars(records::Test::alkalinity, meq_to_caco3), 4, true);
    ruler(frame);
  }

  void panel(TextGraph frame, const std::string& title, Forecast::Quantity quantity, std::vector<ReadingBar> readings, int rows, bool root) {
    frame.rows = rows;
    frame.root_scale = root;
    frame.readings = std::move(readings);
    for (const Outlook::Moment& m : o_.series) {
      const Quantiles& q = m.of[quantity];
      frame.band.push_back({records::days_between(o_.started, m.when), q.p05, q.p25, q.p50, q.p75, q.p95});
    }
    line(std::string(kLabel, ' ') + strong(title));
    for (const std::string& l : frame.draw(kLabel)) line(l);
  }

  // Doses and water changes over the graphs.
  void deeds(const TextGraph& frame) {
    std::vector<std::string> marks(static_cast<std::size_t>(frame.columns), " ");
    bool any = false;
    for (const records::Entry& e : log_.entries) {
      const char* mark = nullptr;
      if (std::holds_alternative<records::Dose>(e.body)) mark = style_.utf8 ? "▼" : "v";
      if (std::holds_alternative<records::WaterChange>(e.body)) mark = style_.utf8 ? "◆" : "w";
      const int c = frame.column_of(records::days_between(o_.started, e.when));
      if (mark == nullptr || c < 0) continue;
      marks[static_cast<std::size_t>(c)] = mark;
      any = true;
    }
    if (!any) return;
    std::string text = fmt::format("{:<{}}", "done", kLabel);
    for (const std::string& m : marks) text += m;
    line(text);
    line(std::string(kLabel, ' ') + (style_.utf8 ? "▼ dose  ◆ water change" : "v dose  w water change"));
  }

  void ruler(const TextGraph& frame) {
    std::string ticks(static_cast<std::size_t>(frame.columns), ' ');
    const double length = frame.last_day - frame.first_day;
    const int step = length > 45 ? 14 : length > 14 ? 7 : 2;
    for (int d = 0; d <= length; d += step) {
      const int c = frame.column_of(d);
      if (c < 0) continue;
      std::string date = records::local_date_text(records::plus_days(o_.started, d), o_.zone);
      date = date.substr(0, date.size() > 5 ? date.size() - 5 : date.size());
      const auto at = static_cast<std::size_t>(c);
      if (at + date.size() + 1 > ticks.size()) continue;
      ticks.replace(at, date.size(), date);
    }
    line(std::string(kLabel, ' ') + ticks);
  }

  void doubts() {
    if (o_.doubts.empty()) return;
    section("In doubt");
    char letter = 'a';
    // The same remark for several lines is said once.
    std::vector<std::pair<std::string, std::vector<int>>> grouped;
    for (const records::Doubt& d : o_.doubts) {
      auto found = std::find_if(grouped.begin(), grouped.end(), [&](const auto& g) { return g.first == d.text; });
      if (found == grouped.end()) found = grouped.insert(grouped.end(), {d.text, {}});
      if (d.entry) found->second.push_back(*d.entry);
    }
    for (const auto& [text, lines] : grouped) {
      std::string where;
      if (!lines.empty()) {
        where = lines.size() == 1 ? "line " : "lines ";
        for (std::size_t i = 0; i < lines.size(); ++i) where += (i == 0 ? "" : ", ") + std::to_string(lines[i]);
        where += ": ";
      }
      paragraph(where + text, fmt::format("  {} ", letter), "    ");
      letter = letter == 'z' ? 'z' : static_cast<char>(letter + 1);
    }
  }

  void rests_on() {
    section("What this rests on");
    std::string text = o_.readings_used == 0 ? "No reading yet: this is what loops of this kind do."
                                             : fmt::format("{} readings", o_.readings_used);
    if (o_.readings_used > 0) {
      text += fmt::format(" and everything logged; {} possible loops, worth {:.0f} independent ones.", o_.members, o_.effective_members);
    }
    paragraph(text, "  ", "  ");
    paragraph(o_.with_plan && o_.plan.redose == records::Redose::to_target && !o_.fish
                  ? fmt::format("After the log: ammonia is topped up to {} mg/L (as NH3) whenever it is gone and nitrite is below {} mg/L.",
                                number(o_.plan.redose_to.value()), number(o_.plan.redose_while_nitrite_below.value()))
                  : "After the log: nothing more is done than it says.",
              "  ", "  ");
    paragraph("The model covers a start-up; it knows your loop only through its log.", "  ", "  ");
  }

  const Outlook& o_;
  const records::LoopLog& log_;
  const PageStyle& style_;
  std::string text_;
};

bool says_utf8(const char* variable) {
  const char* value = std::getenv(variable);
  if (value == nullptr || *value == '\0') return false;
  const std::string_view text = value;
  return text.find("UTF-8") != std::string_view::npos || text.find("utf8") != std::string_view::npos || text.find("utf-8") != std::string_view::npos;
}

}  // namespace

PageStyle page_style_from_environment() {
  PageStyle style;
  const bool terminal = isatty(STDOUT_FILENO) != 0;
  int columns = 0;
  if (const char* wish = std::getenv("COLUMNS")) columns = std::atoi(wish);
  winsize size{};
  if (columns == 0 && terminal && ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0) columns = size.ws_col;
  style.columns = std::clamp(columns == 0 ? 80 : columns, 60, 120);
  style.colour = terminal && std::getenv("NO_COLOR") == nullptr;
  // Without any locale set, plain files are read as UTF-8 today; a locale that says otherwise is believed.
  const bool any = std::getenv("LC_ALL") != nullptr || std::getenv("LC_CTYPE") != nullptr || std::getenv("LANG") != nullptr;
  style.utf8 = !any || says_utf8("LC_ALL") || says_utf8("LC_CTYPE") || says_utf8("LANG");
  return style;
}

std::string outlook_page(const Outlook& outlook, const records::LoopLog& log, const PageStyle& style) {
  return Page(outlook, log, style).all();
}

}  // namespace helmwater::app
