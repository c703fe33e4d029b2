// SPDX-License-Identifier: Apache-2.0
#include "hindcast_page.hpp"

#include <fmt/format.h>

#include <cmath>
#include <optional>
#include <utility>

#include "page_text.hpp"
#include "page_words.hpp"

namespace helmwater::app {
namespace {

using infer::HindcastCase;
using infer::HindcastScores;

constexpr int kFewCases = 20;  // with fewer, one reading moves the share by more than 5 in 100
constexpr double kHalf = 0.5, kNine = 0.9;

// As the scores count it: by a rank drawn inside the reading's interval.
bool is_low(const HindcastCase& c) { return c.rank <= 0.05; }
bool is_high(const HindcastCase& c) { return c.rank >= 0.95; }
bool is_outside(const HindcastCase& c) { return is_low(c) || is_high(c); }

int inside(const std::optional<double>& share, int n) {
  return static_cast<int>(std::lround(share.value_or(0) * n));
}

// How far n cases may stray from what honest ranges hold: two standard deviations of a binomial number. Cases
// of one loop are not independent, so this is the least they stray.
double straying(int n, double share) { return 2 * std::sqrt(n * share * (1 - share)); }

// pH as kits read it, everything else with two digits.
std::string as_read(const HindcastCase& c, double value) {
  return c.what == "ph" ? fmt::format("{:.1f}", value) : two_digits(value);
}

class Page {
 public:
  Page(const infer::Hindcast& hindcast, const PageStyle& style) : h_(hindcast), page_(style) {}

  std::string all() {
    page_.paragraph(without_controls(h_.loop) + ", looking back", "", "", kBold);
    page_.rule();
    if (h_.scores.n == 0) {
      page_.paragraph(
          "There is nothing to compare yet: no reading follows an earlier outlook within its horizon.", "",
          "", kBold);
      page_.paragraph("Ask again when more readings are in the log, or give a longer --horizon.");
      return page_.text();
    }
    verdict();
    by_test();
    strip();
    outside();
    return page_.text();
  }

 private:
  void verdict() {
    const HindcastScores& s = h_.scores;
    const int nine = inside(s.coverage_90, s.n), half = inside(s.coverage_50, s.n);
    page_.paragraph(fmt::format("Of {} readings that came after an outlook, {} fell inside its 9-in-10 range "
                                "and {} inside its 1-in-2 range.",
                                s.n, nine, half),
                    "", "", kBold);
    std::string text =
        fmt::format("Honest ranges would hold about {:.0f} and {:.0f}.", kNine * s.n, kHalf * s.n);
    if (s.n < kFewCases) {
      text += " These are too few readings to judge by.";
    } else if (nine < kNine * s.n - straying(s.n, kNine)) {
      text +=
          " Earlier outlooks here were too sure: take the ranges of the next one as wider than they are "
          "drawn.";
    } else if (half > kHalf * s.n + straying(s.n, kHalf)) {
      text += " The ranges were on the wide side: what happened lay nearer the middle than they say.";
    } else {
      text += " That is near enough.";
    }
    page_.paragraph(text);
  }

  void by_test() {
    page_.section("By test");
    page_.line(fmt::format("  {:<14}{:>8}{:>10}{:>10}", "", "readings", "9 in 10", "1 in 2"));
    for (const auto& [test, s] : h_.by_test) {
      page_.line(fmt::format("  {:<14}{:>8}{:>10}{:>10}", test == "ph" ? "pH" : test, s.n,
                             inside(s.coverage_90, s.n), inside(s.coverage_50, s.n)));
    }
  }

  // One mark a reading, one row an outlook.
  void strip() {
    page_.section("Outlook by outlook");
    page_.items({"· inside the 9-in-10 range", "↑ above it", "↓ below it"}, "  ");
    constexpr int kBefore = 16;
    for (std::size_t i = 0; i < h_.cases.size();) {
      const auto as_of = h_.cases[i].as_of;
      std::string row = fmt::format("  {:<{}}", records::local_date_text(as_of, h_.zone), kBefore - 2);
      for (; i < h_.cases.size() && h_.cases[i].as_of == as_of; ++i) {
        if (shown_width(row) >= page_.style().columns) {
          page_.line(row);
          row = std::string(kBefore, ' ');
        }
        row += is_low(h_.cases[i]) ? "↓" : is_high(h_.cases[i]) ? "↑" : "·";
      }
      page_.line(row);
    }
  }

  void outside() {
    bool any = false, by_lot = false;
    for (const HindcastCase& c : h_.cases) {
      if (!is_outside(c)) continue;
      if (!std::exchange(any, true)) page_.section("Outside, in the kit's own unit");
      const bool overlaps = c.high >= c.predicted.p05 && c.low <= c.predicted.p95;
      by_lot = by_lot || overlaps;
      const char* where = !overlaps ? "expected" : is_low(c) ? "at the low end of" : "at the high end of";
      const double days = c.lead_days;
      page_.paragraph(
          fmt::format("{}, line {}: {} {}, {} {} to {}; the outlook was {} old.",
                      records::local_date_text(c.when, h_.zone), c.line, c.what == "ph" ? "pH" : c.what,
                      without_controls(c.value), where, as_read(c, c.predicted.p05),
                      as_read(c, c.predicted.p95),
                      days < 1.5 ? fmt::format("{:.0f} hours", 24 * days) : fmt::format("{:.0f} days", days)),
          "  ", "    ");
    }
    if (!by_lot) return;
    page_.line();
    page_.paragraph(
        "A reading is an interval. Where it reaches over the end of a range, it is counted inside or outside "
        "by lot, in proportion.",
        "  ", "  ");
  }

  const infer::Hindcast& h_;
  PageText page_;
};

}  // namespace

std::string hindcast_page(const infer::Hindcast& hindcast, const PageStyle& style) {
  return Page(hindcast, style).all();
}

}  // namespace helmwater::app
