// SPDX-License-Identifier: Apache-2.0
#include "outlook_page.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "handbook/built_in_texts.hpp"
#include "handbook/handbook.hpp"
#include "outlook_notes.hpp"
#include "outlook_sheet.hpp"
#include "page_text.hpp"
#include "page_words.hpp"

namespace helmwater::app {
namespace {

using handbook::Handbook;
using infer::Milestone;
using infer::Outlook;
using infer::Quantiles;
using infer::Stage;
using records::Instant;
using records::Test;

constexpr double kPlain = 0.9;        // from here on a stage is stated without "likely"
constexpr double kAtRisk = 0.1;       // chance of passing a fish limit that opens the page
constexpr double kClearBelow = 0.25;  // mg/L as ion, as in the dates
constexpr double kLeastFree = 0.001;  // mg/L as N: smaller free ammonia is not told apart
constexpr double kEnoughMembers =
    400;  // independent ones: with 20 in each tail of a 9-in-10 range its ends hold still
constexpr const char* kAsNh3 = "mg/L as NH₃";
constexpr const char* kAsNo2 = "mg/L as NO₂⁻";
constexpr const char* kAsNo3 = "mg/L as NO₃⁻";
constexpr const char* kAsCaCO3 = "mg/L as CaCO₃";

double limit(const char* name) { return Handbook::built_in().limit(name).fact.value; }

// Title of a source in the list of sources; the key itself if it has none.
std::string source_title(std::string_view key) {
  const std::string_view bib = handbook::kSourcesBib;
  const std::string opening = "title = {";
  const std::size_t entry = bib.find(fmt::format("{{{},", key));
  const std::size_t title = entry == std::string_view::npos ? entry : bib.find(opening, entry);
  const std::size_t end = title == std::string_view::npos ? title : bib.find('}', title);
  if (end == std::string_view::npos) return std::string(key);
  return std::string(bib.substr(title + opening.size(), end - title - opening.size()));
}

// The handbook's limit of this size among the named ones; nullptr: none.
const handbook::Limit* limit_of(double value, std::initializer_list<const char*> names) {
  for (const char* name : names) {
    const handbook::Limit& l = Handbook::built_in().limit(name);
    if (std::abs(l.fact.value - value) < 1e-9) return &l;
  }
  return nullptr;
}

class Page {
 public:
  Page(const Outlook& outlook, const records::LoopLog& log, const PageStyle& style)
      : o_(outlook),
        log_(log),
        page_(style),
        calendar_(outlook.zone, outlook.as_of),
        notes_(notes_of(outlook.doubts)) {}

  std::string all() {
    head();
    next_act();
    water();
    dates();
    course();
    doubts();
    how_sure();
    return page_.text();
  }

 private:
  // ---- the sentence

  // "is" / "is likely" with its chance at the end.
  std::string staged(const std::string& before, const std::string& after) const {
    if (o_.stage_probability >= kPlain) return before + " " + after + ".";
    return before + " " + chance_word(o_.stage_probability) + " " + after + " (" +
           chance(o_.stage_probability) + ").";
  }

  // mg/L as NO2 of the last colour of the nitrite chart in force; nullopt: no chart.
  std::optional<double> nitrite_chart_end() const {
    std::optional<double> end;
    for (const records::Kit& kit : log_.loop.kits) {
      const bool in_force = (!kit.from || *kit.from <= o_.as_of) && (!kit.until || *kit.until > o_.as_of);
      if (kit.test != Test::nitrite || kit.steps.empty() || !in_force) continue;
      end = kit.steps.back() * records::to_standard_factor(Test::nitrite, kit.basis) /
            records::to_standard_factor(Test::nitrite, records::Basis::no2);
    }
    return end;
  }
  bool nitrite_beyond_chart() const {
    const auto end = nitrite_chart_end();
    return end && o_.nitrite.p05 > *end;
  }

  std::string where() const {
    switch (o_.stage) {
      case Stage::empty: return "There is no ammonia in the water yet, so nothing has begun.";
      case Stage::waiting: return staged("The bacteria have", "not visibly begun");
      case Stage::ammonia_falling: return staged("Ammonia is", "falling");
      case Stage::nitrite_rising:
        if (nitrite_beyond_chart())
          return staged("Nitrite is past the top of your chart and", "still rising");
        return staged("Nitrite is", "rising");
      case Stage::nitrite_falling: return staged("Nitrite has", "turned and is coming down");
      case Stage::stalled:
        return staged("The start-up has", "stalled") +
               (o_.alkalinity.p50 < limit("alkalinity_low")
                    ? " The alkalinity is nearly used up."
                    : " Something the bacteria need besides ammonia is lacking.");
      case Stage::ready:
        return o_.stage_probability >= kPlain
                   ? "The loop can very likely carry fish (" + chance(o_.stage_probability) +
                         "). Prove it with one dose first."
                   : "The loop may be able to carry fish (" + chance(o_.stage_probability) +
                         "), which is not sure enough to stock it.";
      case Stage::running: return staged("Ammonia and nitrite are", "low with fish in");
      case Stage::cannot_tell: break;
    }
    return "It cannot be told yet where this start-up stands.";
  }

  std::string when() const {
    std::string text;
    const Milestone &peak = o_.nitrite_peak, &clear = o_.nitrite_first_clear, &ready = o_.ready_for_fish;
    const bool before_peak = o_.stage == Stage::waiting || o_.stage == Stage::ammonia_falling ||
                             o_.stage == Stage::nitrite_rising || o_.stage == Stage::empty;
    const bool turns = before_peak && can_tell(peak) && !peak.reached && peak.p75;
    const bool clears = (before_peak || o_.stage == Stage::nitrite_falling) && !clear.reached && clear.p75;
    if (turns || clears) {
      const bool named = o_.stage == Stage::nitrite_rising || o_.stage == Stage::nitrite_falling;
      text += named                      ? " It will likely "
              : o_.stage == Stage::empty ? " If ammonia is given as planned, nitrite will likely "
                                         : " Nitrite will likely ";
      if (turns) text += "turn by " + calendar_.day(*peak.p75);
      if (clears) text += (turns ? " and be clear by " : "be clear by ") + calendar_.day(*clear.p75);
      text += turns && clears ? " (3\u00A0in\u00A04 each)." : " (3\u00A0in\u00A04).";
    }
    if (o_.fish || ready.reached || o_.stage == Stage::ready) return text;
    if (can_tell(ready) && ready.p75) {
      text += fmt::format(" Fish can likely go in from {} (3\u00A0in\u00A04).", calendar_.day(*ready.p75));
    } else if (o_.stage == Stage::stalled) {
      text += " No day for fish can be named until that is put right.";
    } else if (ready.p05 && *ready.p05 > o_.as_of) {
      text +=
          fmt::format(" It is too early to name a day for fish; not before {}.", calendar_.day(*ready.p05));
    } else if (!ready.p05) {
      text += fmt::format(" It is too early to name a day for fish; not before {}.", calendar_.day(o_.end));
    } else {
      text += " It is too early to name a day for fish.";
    }
    return text;
  }

  std::string risk() const {
    const infer::RiskOf &free = o_.risk_free_ammonia, &nitrite = o_.risk_nitrite;
    if (std::max(free.within_24_h, nitrite.within_24_h) < kAtRisk) {
      return fmt::format("Passing a limit for fish within a day is {} ({}).",
                         chance_word(std::max(free.within_24_h, nitrite.within_24_h)),
                         chance(std::max(free.within_24_h, nitrite.within_24_h)));
    }
    std::string text = "Fish are at risk:";
    const auto add = [&](const char* what, const infer::RiskOf& r, const Quantiles& now, const char* unit) {
      if (r.within_24_h < kAtRisk) return;
      text += fmt::format("{} {} ", text.back() == ':' ? "" : ", and", what);
      text += now.p05 > r.limit ? fmt::format("is above {:g} {} already", r.limit, unit)
                                : fmt::format("above {:g} {} within a day is {} ({})", r.limit, unit,
                                              chance_word(r.within_24_h), chance(r.within_24_h));
    };
    add("free ammonia", free, o_.free_ammonia, "mg/L as N");
    add("nitrite", nitrite, o_.nitrite, kAsNo2);
    return text + ".";
  }
  bool fish_at_risk() const {
    return o_.fish && std::max(o_.risk_free_ammonia.within_24_h, o_.risk_nitrite.within_24_h) >= kAtRisk;
  }

  // "From 30 readings, the last one on Thu 19 March, 08:15."
  std::string known_from() const {
    if (o_.readings_used == 0) return "";
    std::string text =
        o_.readings_used == 1 ? "From one reading" : fmt::format("From {} readings", o_.readings_used);
    const records::Entry* last = nullptr;
    for (const records::Entry& e : log_.entries) {
      if (std::holds_alternative<records::Reading>(e.body) && e.when <= o_.as_of) last = &e;
    }
    if (last == nullptr) return text + ".";
    const int days = calendar_.days(last->when, o_.as_of);
    text += o_.readings_used == 1 ? ", taken " : ", the last one ";
    text += days == 0   ? "the same day"
            : days == 1 ? "the day before"
                        : fmt::format("{} days before this, on {}", days, calendar_.day(last->when));
    if (last->to_the_minute && days <= 1) text += " at " + calendar_.clock(last->when);
    return text + ".";
  }

  void head() {
    const std::string name = without_controls(o_.loop);
    const std::string right =
        fmt::format("day {}, {}", calendar_.days(o_.started, o_.as_of), calendar_.moment(o_.as_of));
    const int gap = page_.style().columns - shown_width(name) - shown_width(right);
    if (gap >= 2) {
      page_.line(page_.painted(name, kBold) + std::string(static_cast<std::size_t>(gap), ' ') + right);
    } else {
      page_.paragraph(name, "", "", kBold);
      page_.line(right);
    }
    page_.rule();
    if (fish_at_risk()) page_.paragraph(risk(), "", "", kDanger);
    page_.paragraph(
        fmt::format("{}{}{} {}", o_.readings_used == 0 ? "This is what to expect before any reading. " : "",
                    where(), when(), o_.fish && !fish_at_risk() ? risk() : ""),
        "", "", kBold);
    page_.paragraph(fmt::format("{} Times are those of {}.", known_from(), o_.zone));
  }

  // ---- the next act

  static std::string joined(const std::vector<std::string>& reasons) {
    std::string text = "Because ";
    for (std::size_t i = 0; i < reasons.size(); ++i) {
      if (i > 0) text += i + 1 < reasons.size() ? "; " : reasons.size() == 2 ? ", and " : "; and ";
      text += reasons[i];
    }
    if (text.back() != '.') text += '.';
    return with_formulas(text);
  }

  void next_act() {
    page_.section("Next");
    bool first = true;
    for (const infer::Advice& a : o_.advice) {
      if (!std::exchange(first, false)) page_.line();
      const std::string when = a.urgency == "now"         ? "Now: "
                               : a.urgency == "today"     ? "Today: "
                               : a.urgency == "this_week" ? "This week: "
                                                          : "";
      page_.paragraph(with_formulas(when + a.text), "", "", a.urgency == "now" && o_.fish ? kDanger : kBold);
      if (!a.because.empty()) page_.paragraph(joined(a.because), "  ", "  ");
      if (a.caution.empty()) continue;
      std::vector<std::string> cautions;
      for (const std::string& c : a.caution) cautions.push_back(with_formulas(c));
      page_.frame("Before you do", cautions, 2);
    }
    if (o_.advice.empty()) page_.line("Nothing to do.");
  }

  // ---- the water now

  void quantity(const std::string& name, const std::string& middle, const std::string& range,
                const std::string& unit, const std::string& remark = "") {
    const auto padded = [](std::string text, int width) {
      return text + std::string(static_cast<std::size_t>(std::max(0, width - shown_width(text))), ' ');
    };
    const std::string start = fmt::format("  {:<14}{:>6}   ", name, middle) + padded(range, 15);
    const std::string row = start + unit;
    if (remark.empty()) return page_.line(row);
    const std::string with_unit = start + padded(unit, 15) + remark;
    if (shown_width(with_unit) <= page_.style().columns) return page_.line(with_unit);
    page_.line(row);
    page_.paragraph(remark, "    ", "    ");
  }
  void quantity(const std::string& name, const Quantiles& q, const std::string& unit,
                const std::string& remark = "", double least = 0.01) {
    quantity(name, two_digits(q.p50, least), range_text(q.p05, q.p95, least), unit, remark);
  }

  std::string nitrite_remark() const {
    if (o_.nitrite.p95 < kClearBelow) return "clear";
    return nitrite_beyond_chart() ? "past your chart" : "";
  }
  std::string alkalinity_remark() const {
    if (o_.alkalinity.p50 < limit("alkalinity_low")) return "nearly used up";
    if (o_.alkalinity.p50 < limit("alkalinity_nitrification")) return "low for bacteria";
    return "";
  }

  void water() {
    page_.section("The water now");
    page_.line(fmt::format("  {:<14}{:>6}   {:<15}", "", "middle", "9 in 10"));
    quantity("ammonia", o_.ammonia, kAsNh3, o_.ammonia.p95 < kClearBelow ? "clear" : "");
    quantity("free ammonia", o_.free_ammonia, "mg/L as N", "", kLeastFree);
    quantity("nitrite", o_.nitrite, kAsNo2, nitrite_remark());
    quantity("nitrate", o_.nitrate, kAsNo3);
    quantity("pH", fmt::format("{:.1f}", o_.ph.p50), fmt::format("{:.1f} to {:.1f}", o_.ph.p05, o_.ph.p95),
             "");
    quantity("alkalinity", o_.alkalinity, kAsCaCO3, alkalinity_remark());
    page_.line();
    page_.paragraph("What the bacteria could turn over in a day, at 20 °C and lacking nothing:", "  ", "  ");
    quantity("ammonia", o_.ammonia_capacity, "mg/L as N");
    quantity("nitrite", o_.nitrite_capacity, "mg/L as N");
    if (o_.fish) fish_risks();
  }

  void fish_risks() {
    page_.line();
    const auto one = [&](const char* what, const infer::RiskOf& r, const char* unit,
                         const handbook::Limit* l) {
      page_.paragraph(fmt::format("{} above {:g} {}: {} within a day ({}), {} within three days ({}).", what,
                                  r.limit, unit, chance_word(r.within_24_h), chance(r.within_24_h),
                                  chance_word(r.within_72_h), chance(r.within_72_h)),
                      "  ", "  ");
      if (l != nullptr)
        page_.paragraph(with_formulas(l->says) + " Source: " + source_title(l->fact.source) + ".", "    ",
                        "    ");
    };
    one("Free ammonia", o_.risk_free_ammonia, "mg/L as N",
        limit_of(o_.risk_free_ammonia.limit, {"free_ammonia_cold", "free_ammonia_warm"}));
    one("Nitrite", o_.risk_nitrite, kAsNo2,
        limit_of(o_.risk_nitrite.limit, {"nitrite_cold", "nitrite_warm"}));
    page_.paragraph(o_.risk_species.empty()
                        ? "The log names no species, so the strictest limits hold."
                    : handbook::Handbook::built_in().fish(o_.risk_species) == nullptr
                        ? "The handbook does not know " + without_controls(o_.risk_species) + ", so the strictest limits hold."
                        : "The limits are those for " + without_controls(o_.risk_species) + ".",
                    "  ", "  ");
  }

  // ---- dates

  std::string date_text(const Milestone& m) const {
    if (!m.p05) {
      return fmt::format("not before {}, where this outlook ends ({})", calendar_.day(o_.end),
                         chance(1 - m.probability_within_days));
    }
    const std::string likeliest = m.p50 ? calendar_.day(*m.p50) : "";
    const bool past = m.p95 && *m.p95 <= o_.as_of;
    if (m.reached) {
      if (past || can_tell(m)) {
        const std::string between = calendar_.between(*m.p05, *m.p95);
        const std::string most =
            between == "on " + likeliest ? between : between + ", most likely " + likeliest;
        return (past ? "already, " : "probably already, ") + most;
      }
      return "probably already, but when cannot be told" +
             (likeliest.empty() ? std::string() : "; perhaps " + likeliest);
    }
    if (can_tell(m)) {
      const std::string between = calendar_.between(*m.p05, *m.p95);
      return between == "on " + likeliest ? between : between + ", most likely " + likeliest;
    }
    const std::string earliest = *m.p05 > o_.as_of ? ", not before " + calendar_.day(*m.p05) : "";
    if (m.p75 && *m.p75 > o_.as_of)
      return fmt::format("cannot tell yet; likely by {} (3\u00A0in\u00A04){}", calendar_.day(*m.p75),
                         earliest);
    return fmt::format("cannot tell yet; {} by {} ({}){}", chance_word(m.probability_within_days),
                       calendar_.day(o_.end), chance(m.probability_within_days), earliest);
  }

  void date_row(const std::string& name, const std::string& text) {
    page_.paragraph(text, fmt::format("  {:<19}", name), std::string(21, ' '));
  }

  void dates() {
    page_.section("Dates");
    date_row("ammonia clear", date_text(o_.ammonia_first_clear));
    date_row("nitrite highest", date_text(o_.nitrite_peak));
    if (o_.nitrite_peak.reached || o_.nitrite_peak.probability_within_days > 0.5) {
      date_row("", fmt::format("at about {} {} ({})", two_digits(o_.nitrite_peak_height.p50), kAsNo2,
                               range_text(o_.nitrite_peak_height.p05, o_.nitrite_peak_height.p95)));
    }
    date_row("nitrite clear", date_text(o_.nitrite_first_clear));
    if (!o_.fish) date_row("fish can go in", date_text(o_.ready_for_fish));
    if (o_.alkalinity_runs_out.p05) date_row("alkalinity used up", date_text(o_.alkalinity_runs_out));
    page_.line();
    std::string text = fmt::format(
        "The ranges hold 9 in 10. Clear is below {:g} mg/L (ammonia as NH₃, nitrite as NO₂⁻).", kClearBelow);
    if (!o_.fish) {
      text += fmt::format(
          " Fish can go in: from the first day on which {} mg/L of ammonia (as NH₃), given at once, would be "
          "gone a day "
          "later and its nitrite with it.",
          two_digits(o_.plan.ready_load.value()));
    }
    page_.paragraph(text, "  ", "  ");
  }

  void course() {
    if (o_.series.empty()) return;
    page_.section("Course");
    write_sheet(page_, o_, log_, notes_, calendar_);
  }

  // ---- doubts

  std::string about(const Note& note) const {
    if (note.lines.empty()) return "";
    if (note.lines.size() > 1) {
      std::string text = "Lines ";
      for (std::size_t i = 0; i < note.lines.size(); ++i) {
        text += (i == 0 ? "" : i + 1 < note.lines.size() ? ", " : " and ") + std::to_string(note.lines[i]);
      }
      return text + " of the log. ";
    }
    const std::string line = fmt::format("Line {} of the log", note.lines[0]);
    for (const records::Entry& e : log_.entries) {
      if (e.line != note.lines[0]) continue;
      std::string what = e.what_text;
      for (const std::string& part : {e.value_text, e.unit_text}) {
        if (!part.empty()) what += fmt::format(" {}", part);
      }
      what = without_controls(what);
      return fmt::format("{}, {} on {}. ", line, what, calendar_.day(e.when));
    }
    return line + ". ";
  }

  void doubts() {
    if (notes_.empty()) return;
    page_.section("In doubt");
    for (const Note& n : notes_) {
      page_.paragraph(about(n) + with_formulas(without_controls(n.text)),
                      fmt::format("  {:<3}", n.letter.empty() ? "" : n.letter), "     ");
    }
  }

  // ---- how sure

  std::string members_text() const {
    if (o_.effective_members >= kEnoughMembers) {
      return fmt::format(
          "{} possible loops were followed, worth {} independent ones; that is enough for these ranges.",
          o_.members, two_digits(o_.effective_members));
    }
    return fmt::format(
        "{} possible loops were followed, worth only {} independent ones: the ends of the ranges are rough.",
        o_.members, two_digits(o_.effective_members));
  }

  std::string plan_text() const {
    if (!o_.with_plan) return "After the log's end nothing is assumed to be done.";
    std::vector<std::string> parts;
    const records::Plan& p = o_.plan;
    if (p.redose == records::Redose::to_target && !o_.fish) {
      parts.push_back(
          fmt::format("ammonia is brought back to {} {} whenever it is below {} and nitrite below {} {}",
                      two_digits(p.redose_to.value()), kAsNh3, two_digits(p.redose_below.value()),
                      two_digits(p.redose_while_nitrite_below.value()), kAsNo2));
    }
    if (p.buffer_below && p.buffer_to) {
      parts.push_back(fmt::format("alkalinity is brought to {} {} whenever it is below {}",
                                  two_digits(p.buffer_to->value()), kAsCaCO3,
                                  two_digits(p.buffer_below->value())));
    }
    if (p.feed_g_per_day)
      parts.push_back(fmt::format("{} g of feed are given a day ({:g} % protein)",
                                  two_digits(*p.feed_g_per_day), p.protein_percent));
    if (parts.empty()) return "After the log's end nothing is assumed to be done, for the plan says so.";
    std::string text = "After the log's end the plan is assumed to be kept: ";
    for (std::size_t i = 0; i < parts.size(); ++i) text += (i == 0 ? "" : "; ") + parts[i];
    return text + ".";
  }

  void how_sure() {
    page_.section("How sure is this");
    page_.paragraph(o_.readings_used == 0
                        ? "No reading has been used. What stands above rests on what is published about "
                          "start-ups and on what you wrote about this loop; "
                          "the first readings will narrow it."
                        : fmt::format("{} of the log {} used, and every deed in it.",
                                      o_.readings_used == 1 ? "One reading"
                                                            : fmt::format("{} readings", o_.readings_used),
                                      o_.readings_used == 1 ? "was" : "were"),
                    "  ", "  ");
    if (o_.history.named) {
      std::string names;
      for (const std::string& name : o_.history.of) names += (names.empty() ? " They are " : ", ") + without_controls(name);
      page_.paragraph(o_.history.text + names + (names.empty() ? "" : "."), "  ", "  ");
    }
    page_.paragraph(members_text(), "  ", "  ");
    page_.paragraph(plan_text(), "  ", "  ");
    page_.paragraph(
        "What is not in the log, nobody here knows: an unlogged dose, a water change or a dead fish make the "
        "ranges wrong.",
        "  ", "  ");
  }

  const Outlook& o_;
  const records::LoopLog& log_;
  PageText page_;
  Calendar calendar_;
  std::vector<Note> notes_;
};

}  // namespace

std::string outlook_page(const Outlook& outlook, const records::LoopLog& log, const PageStyle& style) {
  return Page(outlook, log, style).all();
}

}  // namespace helmwater::app
