// SPDX-License-Identifier: Apache-2.0
#include "outlook_sheet.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "text_graph.hpp"

namespace helmwater::app {
namespace {

using infer::Forecast;
using infer::Milestone;
using infer::Outlook;
using infer::Quantiles;
using records::Instant;
using records::Test;

constexpr int kLabel = 6;                                // columns left of the graphs, one of them blank
constexpr double kBack = 60, kAhead = 30;                // days of a start-up on the sheet
constexpr double kBackRunning = 28, kAheadRunning = 28;  // and of a loop with fish
constexpr double kNoPh = 2;                              // a pH interval reaching below this has no lower end

// One panel. The colours are of the terminal's 256; on black and on white each has a contrast of 3.7:1 or
// better.
struct Panel {
  Forecast::Quantity quantity;
  Test test;
  const char* name;
  const char* unit;
  records::Basis basis;  // of `unit`
  int rows;
  bool root;
  const char* code;
};
constexpr Panel kPanels[] = {
    {Forecast::kAmmonia, Test::ammonia, "ammonia", "mg/L as NH₃", records::Basis::nh3, 5, true, "38;5;63"},
    {Forecast::kNitrite, Test::nitrite, "nitrite", "mg/L as NO₂⁻", records::Basis::no2, 7, true, "38;5;130"},
    {Forecast::kNitrate, Test::nitrate, "nitrate", "mg/L as NO₃⁻", records::Basis::no3, 5, true, "38;5;29"},
    {Forecast::kPh, Test::ph, "pH", "", records::Basis::none, 5, false, "38;5;133"},
    {Forecast::kAlkalinity, Test::alkalinity, "alkalinity", "mg/L as CaCO₃", records::Basis::caco3, 5, false,
     "38;5;101"},
};

class Sheet {
 public:
  Sheet(PageText& page, const Outlook& outlook, const records::LoopLog& log, const std::vector<Note>& notes,
        const Calendar& calendar)
      : page_(page), o_(outlook), log_(log), notes_(notes), calendar_(calendar) {
    const double now = day_of(o_.as_of);
    axis_.now_day = now;
    axis_.first_day = std::max(0.0, now - (o_.fish ? kBackRunning : kBack));
    axis_.last_day =
        std::max(std::min(day_of(o_.end), now + (o_.fish ? kAheadRunning : kAhead)), axis_.first_day + 1);
    axis_.columns = page.style().columns - kLabel;
  }

  void write() {
    key();
    deeds();
    for (const Panel& panel : kPanels) draw(panel);
    ruler();
    dates();
  }

 private:
  double day_of(Instant t) const { return records::days_between(o_.started, t); }
  int now_column() const { return axis_.now_column(); }

  void print(const Canvas& canvas, int row, const std::string& label, const std::string& code = "") {
    const std::optional<std::string> codes = page_.style().colour ? std::optional(code) : std::nullopt;
    page_.line(fmt::format("{:>{}} ", label, kLabel - 1) + canvas.row(row, codes));
  }

  void key() {
    std::vector<std::string> items{"▒ 1 in 2", "░ 9 in 10", "─ the middle, dotted ahead", "│ now"};
    if (any_reading([](const records::Entry&, const records::Reading&) { return true; })) {
      items.push_back("┃ a reading, drawn as its range");
    }
    if (any_reading(
            [](const records::Entry&, const records::Reading& r) { return !std::isfinite(r.seen.high); })) {
      items.push_back("↑ beyond the chart");
    }
    if (any_reading([&](const records::Entry& e, const records::Reading& r) { return is_doubted(e, r); }))
      items.push_back("┇ in doubt");
    page_.items(items, "");
  }

  bool is_doubted(const records::Entry& e, const records::Reading& r) const {
    return r.seen.doubted || !letter_of(notes_, e.line).empty();
  }

  template <class Is>
  bool any_reading(const Is& is) const {
    return std::any_of(log_.entries.begin(), log_.entries.end(), [&](const records::Entry& e) {
      const auto* r = std::get_if<records::Reading>(&e.body);
      if (r == nullptr || e.when > o_.as_of || !axis_.column_of(day_of(e.when))) return false;
      return std::any_of(std::begin(kPanels), std::end(kPanels),
                         [&](const Panel& p) { return p.test == r->test; }) &&
             is(e, *r);
    });
  }

  // ---- deeds

  struct Deed {
    int column = 0;
    const char* mark = "";
    std::string amount;
    std::string letter;
  };

  static std::string dose_amount(const records::Dose& d) {
    switch (d.how) {
      case records::Dose::Amount::grams: return fmt::format("{:g} g", d.amount);
      case records::Dose::Amount::millilitres: return fmt::format("{:g} mL", d.amount);
      case records::Dose::Amount::raise_by: return fmt::format("+{:g} mg/L", d.amount);
      case records::Dose::Amount::raise_to: return fmt::format("to {:g} mg/L", d.amount);
    }
    return {};
  }
  static std::string water_amount(const std::optional<double>& share,
                                  const std::optional<units::Litres>& litres) {
    if (share) return fmt::format("{:.0f} %", 100 * *share);
    return litres ? fmt::format("{:g} L", litres->value()) : std::string();
  }

  void deeds() {
    std::vector<Deed> deeds;
    std::vector<std::string> key;
    const auto explain = [&](const std::string& text) {
      if (std::find(key.begin(), key.end(), text) == key.end()) key.push_back(text);
    };
    for (const records::Entry& e : log_.entries) {
      const auto column = axis_.column_of(day_of(e.when));
      if (!column) continue;
      const bool ahead = e.when > o_.as_of;
      Deed deed{*column, "", "", letter_of(notes_, e.line)};
      if (!ahead && now_column() > 0) deed.column = std::min(deed.column, now_column() - 1);
      if (const auto* d = std::get_if<records::Dose>(&e.body)) {
        const bool feeds =
            d->how != records::Dose::Amount::raise_by && d->how != records::Dose::Amount::raise_to;
        deed.mark = ahead ? "▽" : "▼";
        deed.amount = dose_amount(*d) + (feeds || d->basis == records::Basis::none
                                             ? ""
                                             : " as " + std::string(records::to_text(d->basis)));
        explain(ahead ? "▽ dose to come" : "▼ dose");
      } else if (const auto* w = std::get_if<records::WaterChange>(&e.body)) {
        deed.mark = ahead ? "◇" : "◆";
        deed.amount = water_amount(w->share, w->litres);
        explain(ahead ? "◇ water change to come" : "◆ water change");
      } else if (const auto* t = std::get_if<records::TopUp>(&e.body)) {
        deed.mark = "↓";
        deed.amount = water_amount(t->share, t->litres);
        explain("↓ top-up");
      } else if (const auto* f = std::get_if<records::FishMove>(&e.body)) {
        deed.mark = f->in ? "▶" : "◀";
        deed.amount = fmt::format("{:g} fish", f->count);
        explain(f->in ? "▶ fish in" : "◀ fish out");
      } else {
        continue;
      }
      deeds.push_back(deed);
    }
    if (deeds.empty()) return;
    Canvas canvas(1, axis_.columns);
    for (const Deed& d : deeds) canvas.put(0, d.column, d.mark, Ink::strong);
    for (const Deed& d : deeds) {
      if (!d.letter.empty() && canvas.is_free(0, d.column + 1, 1) && d.column + 1 != now_column())
        canvas.put(0, d.column + 1, d.letter, Ink::strong);
    }
    draw_now(canvas, axis_);
    for (const Deed& d : deeds) {
      const std::string text = with_formulas(d.amount);
      if (!text.empty() && canvas.is_free(0, d.column + 1, 2 + shown_width(text)))
        canvas.write(0, d.column + 2, text);
    }
    page_.items(key, "");
    page_.line();
    print(canvas, 0, "done");
  }

  // ---- one test

  std::vector<ReadingBar> readings(const Panel& panel) const {
    const double to_unit = 1 / records::to_standard_factor(panel.test, panel.basis);
    std::vector<ReadingBar> bars;
    for (const records::Entry& e : log_.entries) {
      const auto* r = std::get_if<records::Reading>(&e.body);
      if (r == nullptr || r->test != panel.test || e.when > o_.as_of) continue;
      const double factor = records::to_standard_factor(panel.test, r->basis) * to_unit;
      ReadingBar bar{day_of(e.when), r->seen.low * factor, r->seen.high * factor, is_doubted(e, *r),
                     letter_of(notes_, e.line)};
      if (panel.test == Test::ph && bar.low < kNoPh) bar.low = -std::numeric_limits<double>::infinity();
      bars.push_back(bar);
    }
    return bars;
  }

  const Quantiles& now_of(const Panel& panel) const {
    switch (panel.quantity) {
      case Forecast::kAmmonia: return o_.ammonia;
      case Forecast::kNitrite: return o_.nitrite;
      case Forecast::kNitrate: return o_.nitrate;
      case Forecast::kPh: return o_.ph;
      default: return o_.alkalinity;
    }
  }

  void draw(const Panel& panel) {
    std::vector<BandPoint> points;
    for (const Outlook::Moment& m : o_.series) points.push_back({day_of(m.when), m.of[panel.quantity]});
    const auto band = band_columns(axis_, points);
    const auto bars = readings(panel);
    const bool ph = panel.quantity == Forecast::kPh;

    double lowest = std::numeric_limits<double>::infinity(), highest = -lowest;
    const auto include = [&](double value) {
      if (!std::isfinite(value)) return;
      lowest = std::min(lowest, value);
      highest = std::max(highest, value);
    };
    for (const auto& q : band) {
      if (!q) continue;
      include(q->p05);
      include(q->p95);
    }
    for (const ReadingBar& bar : bars) {
      if (!axis_.column_of(bar.day)) continue;
      include(bar.low);
      include(bar.high);
    }
    if (!std::isfinite(lowest)) return;
    const ValueScale scale = ph ? ValueScale::around(lowest, highest, panel.rows)
                                : ValueScale::from_zero(std::max(highest, 0.25), panel.root, panel.rows);

    Canvas canvas(panel.rows + 1, axis_.columns);
    draw_band(canvas, axis_, scale, band);
    draw_readings(canvas, axis_, scale, bars);
    title(canvas, panel);
    draw_now(canvas, axis_);
    for (int r = canvas.rows() - 1; r >= 0; --r) {
      const bool tick = r == 0 || r == panel.rows - 1 || 2 * r == panel.rows - 1;
      std::string label;
      if (tick)
        label = ph ? fmt::format("{:.1f}", scale.value_of(r)) : fmt::format("{:g}", scale.value_of(r));
      if (shown_width(label) >= kLabel) label = fmt::format("{:.0e}", scale.value_of(r));
      print(canvas, r, label, panel.code);
    }
  }

  // The name and its unit, and right of now what the water is.
  void title(Canvas& canvas, const Panel& panel) const {
    const int row = panel.rows;
    const std::string unit = *panel.unit == '\0' ? "" : std::string(", ") + panel.unit;
    canvas.write(row, 0, panel.name, Ink::test);
    canvas.write(row, shown_width(panel.name), unit);
    const Quantiles& q = now_of(panel);
    const std::string value = panel.quantity == Forecast::kPh
                                  ? fmt::format("now {:.1f} ({:.1f} to {:.1f})", q.p50, q.p05, q.p95)
                                  : fmt::format("now {} ({})", two_digits(q.p50), range_text(q.p05, q.p95));
    const int end = shown_width(panel.name) + shown_width(unit), length = shown_width(value);
    int at = std::max(now_column() + 2, end + 2);
    if (at + length > axis_.columns) at = now_column() - 1 - length;  // near the sheet's end: left of now
    if (at >= end + 2) canvas.write(row, at, value);
  }

  // ---- days and dates

  void ruler() {
    Canvas canvas(2, axis_.columns);
    for (int c = 0; c < axis_.columns; ++c) canvas.put(1, c, "─");
    const int now = now_column();
    if (now >= 0 && now < axis_.columns) {
      canvas.put(1, now, "┼", Ink::strong);
      canvas.write(0, std::clamp(now - 1, 0, axis_.columns - 3), "now", Ink::strong);
    }
    constexpr double kLabelColumns = 9;  // "16 March" would be too wide; "16 Mar" and air
    const double per_day = 1 / axis_.days_per_column();
    const bool weekly = axis_.last_day - axis_.first_day > 14;
    const int every =
        std::max(1, static_cast<int>(std::ceil(kLabelColumns / (weekly ? 7 * per_day : per_day))));
    const auto label = [&](int column, Instant t) {
      const std::string text = calendar_.short_day(t);
      const int length = shown_width(text), from = std::max(column - 1, 0);
      if (column + length > axis_.columns) return;
      if (canvas.is_free(0, from, std::min(column + length + 1, axis_.columns) - from))
        canvas.write(0, column, text);
    };
    const Instant first = records::plus_days(o_.started, axis_.first_day),
                  last = records::plus_days(o_.started, axis_.last_day);
    label(0, first);
    int count = 0;
    for (Instant t = calendar_.next_midnight(first - std::chrono::milliseconds(1)); t <= last;
         t = calendar_.next_midnight(t)) {
      const auto column = axis_.column_of(day_of(t));
      if (!column || (weekly && !calendar_.is_monday(t))) continue;
      if (canvas.at(1, *column) != "┼") canvas.put(1, *column, "┬");
      if (count++ % every == 0) label(*column, t);
    }
    print(canvas, 1, "");
    print(canvas, 0, "");
  }

  void dates() {
    struct Named {
      const char* name;
      const Milestone* milestone;
    };
    std::vector<Named> list{{"ammonia clear", &o_.ammonia_first_clear},
                            {"nitrite highest", &o_.nitrite_peak},
                            {"nitrite clear", &o_.nitrite_first_clear}};
    if (!o_.fish) list.push_back({"fish can go in", &o_.ready_for_fish});
    if (o_.alkalinity_runs_out.p05) list.push_back({"alkalinity used up", &o_.alkalinity_runs_out});
    Canvas canvas(static_cast<int>(list.size()), axis_.columns);
    int row = canvas.rows() - 1;
    for (const Named& n : list) {
      const auto days = [&](const std::optional<Instant>& t) {
        return t ? std::optional(day_of(*t)) : std::nullopt;
      };
      const Milestone& m = *n.milestone;
      draw_dates(canvas, axis_, row--,
                 {days(m.p05), days(m.p25), days(m.p50), days(m.p75), days(m.p95), can_tell(m)}, n.name);
    }
    draw_now(canvas, axis_);
    for (int r = canvas.rows() - 1; r >= 0; --r) print(canvas, r, "");
    page_.items({"├─┤ 9 in 10", "═ 1 in 2", "╪ the middle", "╱ cannot tell yet", "→ later than this sheet"},
                "");
  }

  PageText& page_;
  const Outlook& o_;
  const records::LoopLog& log_;
  const std::vector<Note>& notes_;
  const Calendar& calendar_;
  TimeAxis axis_;
};

}  // namespace

bool can_tell(const Milestone& m) {
  return m.p05 && m.p50 && m.p95 && records::days_between(*m.p05, *m.p95) <= kTooWideDays;
}

void write_sheet(PageText& page, const Outlook& outlook, const records::LoopLog& log,
                 const std::vector<Note>& notes, const Calendar& calendar) {
  Sheet(page, outlook, log, notes, calendar).write();
}

}  // namespace helmwater::app
