// SPDX-License-Identifier: Apache-2.0
#include "hindcast_page.hpp"

#include <fmt/format.h>

#include <cmath>

namespace helmwater::app {
namespace {

bool inside(const infer::HindcastCase& c) { return c.rank > 0.05 && c.rank < 0.95; }

std::string share(const infer::HindcastScores& s) {
  return fmt::format("{:.0f} of {} inside the 9-in-10 range, {:.0f} inside the 1-in-2 range", std::round(*s.coverage_90 * s.n), s.n,
                     std::round(*s.coverage_50 * s.n));
}

std::string number(double value) { return value >= 9.95 ? fmt::format("{:.0f}", value) : fmt::format("{:.1f}", value); }

}  // namespace

std::string hindcast_page(const infer::Hindcast& h, const PageStyle& style) {
  std::string out = h.loop + ", looking back\n";
  if (h.scores.n == 0) {
    return out + "There is nothing to compare yet: no reading follows an earlier outlook within the horizon.\n";
  }
  out += fmt::format("Of the readings that followed earlier outlooks, {}.\n\n", share(h.scores));
  for (const auto& [test, s] : h.by_test) out += fmt::format("  {:<12}{}\n", test, share(s));

  // One mark a case, in the order of the log; a new row for each outlook.
  const char* in = style.utf8 ? "·" : ".";
  const char* off = style.utf8 ? "▲" : "X";
  out += fmt::format("\nOutlook of     later readings ({} inside, {} outside)\n", in, off);
  for (std::size_t i = 0; i < h.cases.size();) {
    const auto as_of = h.cases[i].as_of;
    std::string row = fmt::format("{:<15}", records::local_date_text(as_of, h.zone));
    int width = 15;
    for (; i < h.cases.size() && h.cases[i].as_of == as_of; ++i) {
      if (width >= style.columns) {
        out += row + "\n";
        row = std::string(15, ' ');
        width = 15;
      }
      row += inside(h.cases[i]) ? in : off;
      ++width;
    }
    out += row + "\n";
  }

  bool first = true;
  for (const infer::HindcastCase& c : h.cases) {
    if (inside(c)) continue;
    if (first) out += "\nOutside:\n";
    first = false;
    out += fmt::format("  {} {} read {} (line {}), expected {} to {}, {} days ahead\n", records::local_date_text(c.when, h.zone), c.what, c.value,
                       c.line, number(c.predicted.p05), number(c.predicted.p95), number(c.lead_days));
  }
  return out;
}

}  // namespace helmwater::app
