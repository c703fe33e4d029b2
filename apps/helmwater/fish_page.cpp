// SPDX-License-Identifier: Apache-2.0
#include "fish_page.hpp"

#include <fmt/format.h>

#include <cmath>

#include "page_text.hpp"
#include "page_words.hpp"

namespace helmwater::app {
namespace {

using steer::FishPlan;
using Passed = steer::ChallengeResult::Verdict;

// Down, so that 94.9 never shows as 95.
std::string hundredths(double p) {
  if (p > 0.99) return ">99";
  if (p < 0.01) return "<1";
  return fmt::format("{:.0f}", std::floor(100 * p));
}
// Feed is a most: down, two digits.
std::string grams(double g) {
  if (g <= 0) return "0";
  const double step = g >= 100 ? 10 : g >= 10 ? 1 : g >= 1 ? 0.1 : 0.01;
  return fmt::format("{:.{}f}", std::floor(g / step + 1e-6) * step, g >= 10 ? 0 : g >= 1 ? 1 : 2);
}

class Page {
 public:
  Page(const FishPlan& plan, const PageStyle& style) : plan_(plan), page_(style), calendar_(plan.zone, plan.as_of) {}

  std::string text() {
    page_.line(fmt::format("{}, {}", without_controls(plan_.loop), calendar_.moment(plan_.as_of)));
    page_.rule();
    page_.paragraph(with_formulas(plan_.headline), "", "", kBold);
    for (const std::string& why : plan_.because) item(sentence_case(why) + ".");
    for (const std::string& step : plan_.steps) item(step);
    planned();
    if (!plan_.emergency.empty()) {
      page_.section("Now");
      for (const std::string& step : plan_.emergency) item(step);
    }
    if (plan_.with_fish) {
      salt();
    } else {
      waiting();
      challenge();
    }
    weeks();
    page_.section("When to hold");
    for (const std::string& rule : plan_.hold_rules) item(rule);
    page_.section("Mind");
    for (const std::string& caution : plan_.cautions) item(caution);
    return page_.text();
  }

 private:
  void item(const std::string& text) { page_.paragraph(with_formulas(text), "  - ", "    "); }

  void planned() {
    page_.section("What is reckoned with");
    std::string what;
    if (plan_.count && plan_.weight_g) what = fmt::format("{:.0f} {} of {} g, ", *plan_.count, plan_.species.empty() ? "fish" : without_controls(plan_.species), two_digits(*plan_.weight_g));
    page_.paragraph(with_formulas(fmt::format("{}fed {} g a day with {:.0f} % protein ({}). That is {} mg/L of ammonia a day (as N; {}).", what, grams(plan_.feed_g),
                                              plan_.protein_percent, plan_.feed_from, two_digits(plan_.load.p50), range_text(plan_.load.p05, plan_.load.p95))));
    const auto& l = plan_.limits;
    page_.paragraph(with_formulas(fmt::format("Limits ({}): ammonia {} mg/L as NH3, free ammonia {} mg/L as N, nitrite {} mg/L as NO2-, oxygen at least {} mg/L.",
                                              l.warm_water ? "warm-water fish" : "cold-water fish, the strictest", l.ammonia->fact.value, l.free_ammonia->fact.value,
                                              l.nitrite->fact.value, l.oxygen->fact.value)));
  }

  void waiting() {
    page_.section("If fish go in");
    page_.line("                 all at once   by a ramp            chances in 100 that");
    for (const auto& a : plan_.after) {
      const std::string when = a.days == 0 ? "now" : fmt::format("in {:.0f} days", a.days);
      const double first = a.ramp.weeks.front().share;
      const std::string ramp = first > 0 ? fmt::format("{:>4}, from {:.0f} %", hundredths(a.ramp.first_days.all), 100 * first) : std::string("  no");
      page_.line(fmt::format("  {:<14} {:>6}        {:<20}{}", when, hundredths(a.full.all), ramp,
                             a.days == 0 ? "every limit is kept" : a.days == 3 ? fmt::format("for {:.0f} days; {:.0f}", steer::kJudgedDays, 100 * steer::kAim) : a.days == 7 ? "are needed" : ""));
    }
  }

  void challenge() {
    page_.section("The challenge");
    const auto& c = plan_.challenge;
    const std::string dose = fmt::format("{} g of ammonium chloride ({} mg/L of ammonia as NH3), dissolved first", two_digits(c.grams), two_digits(c.ammonia));
    if (plan_.last_challenge.verdict != Passed::none) {
      const char* said = plan_.last_challenge.verdict == Passed::passed ? "Passed" : plan_.last_challenge.verdict == Passed::not_passed ? "Not passed"
                         : plan_.last_challenge.verdict == Passed::too_early ? "Under way" : "Cannot tell";
      std::string chance;
      if (plan_.last_challenge.verdict != Passed::too_early && plan_.last_challenge.probability > 0) chance = fmt::format(" ({} in 100)", hundredths(plan_.last_challenge.probability));
      item(fmt::format("The last dose as large, {}: {}{}. {}", calendar_.day(plan_.last_challenge.dosed), said, chance, plan_.last_challenge.text));
    } else {
      item(plan_.last_challenge.text);
    }
    if (plan_.last_challenge.verdict == Passed::too_early) return;
    item(plan_.last_challenge.verdict == Passed::passed
             ? fmt::format("Once more, if more than three days go by before fish go in: {}.", dose)
         : c.now ? fmt::format("To be given, once and while no fish are in: {}.", dose)
               : fmt::format("Later, when ammonia and nitrite both read nothing, and while no fish are in: {}.", dose));
    item("Test ammonia and nitrite before it, and again 24 hours after it: both must read nothing. If they do not, wait a week.");
    item(fmt::format("Given now it would be passed: {} in 100.", hundredths(c.would_pass)));
    for (const std::string& caution : c.cautions) item(caution);
  }

  void salt() {
    if (!plan_.salt) return;
    page_.section("Salt against nitrite");
    item(fmt::format("To {} mg/L of chloride: {} g of plain salt (sodium chloride) for all the water, less what chloride it holds already.", two_digits(plan_.salt->chloride_mg_l), two_digits(plan_.salt->grams)));
    for (const std::string& caution : plan_.salt->cautions) item(caution);
  }

  void weeks() {
    if (plan_.weeks.empty()) return;
    const bool begins_now = plan_.verdict == FishPlan::Verdict::go || plan_.part_now;
    page_.section(plan_.with_fish ? "Feed by the week" : begins_now ? "Ramp" : "Ramp, not to begin before new readings allow it");
    page_.line(fmt::format("  {:<13}{:>8}{:>14}{:>12}{:>10}", "week from", plan_.count ? "fish" : "share", "feed, g/day", "in 100", "tests"));
    for (const auto& w : plan_.weeks) {
      page_.line(fmt::format("  {:<13}{:>8}{:>14}{:>12}{:>10}", calendar_.short_day(w.from), plan_.count ? fmt::format("{:.0f}", w.fish) : fmt::format("{:.0f} %", 100 * w.share),
                             grams(w.feed_g), hundredths(w.probability), w.tests));
    }
    page_.paragraph(plan_.with_fish ? "Most feed of each week, with the water changes above; the chance that every limit is kept in that week; tests of ammonia and nitrite in it. Ask again after each week's tests."
                                    : "Most fish and feed of each week; the chance that every limit is kept in that week; tests of ammonia and nitrite in it. Ask again before each step up.");
  }

  const FishPlan& plan_;
  PageText page_;
  Calendar calendar_;
};

}  // namespace

std::string fish_page(const FishPlan& plan, const PageStyle& style) { return Page(plan, style).text(); }

}  // namespace helmwater::app
