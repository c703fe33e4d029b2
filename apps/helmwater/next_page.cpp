// SPDX-License-Identifier: Apache-2.0
#include "next_page.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "infer/next_decisions.hpp"
#include "infer/next_test_words.hpp"
#include "page_text.hpp"
#include "page_words.hpp"

namespace helmwater::app {
namespace {

using infer::NextTest;
using infer::TestGain;

class Page {
 public:
  Page(const infer::Outlook& outlook, const PageStyle& style)
      : o_(outlook), n_(*outlook.next_test), page_(style), calendar_(outlook.zone, outlook.as_of) {}

  std::string all() {
    page_.paragraph(without_controls(o_.loop) + ", what to test next", "", "", kBold);
    page_.line(calendar_.moment(o_.as_of));
    page_.rule();
    page_.paragraph(with_formulas(n_.text), "", "", kBold);
    if (!n_.because.empty()) {
      page_.paragraph(sentence_case(n_.decision.empty() || n_.for_safety ? n_.because
                                                                         : fmt::format("it decides {}: {}", n_.decision, n_.because)) + ".");
    }
    if (n_.tests.empty()) {
      page_.paragraph("Gains are weighed from the first reading on.");
      return page_.text();
    }
    gains();
    changes();
    how();
    return page_.text();
  }

 private:
  static std::string name(const TestGain& t) {
    return (t.after_challenge ? "a dose now, then " : "") + infer::tests_in_words(t.tests);
  }

  void gains() {
    page_.section("What each test is worth, in days of start-up");
    std::set<double> hours;
    std::vector<std::string> names;
    for (const TestGain& t : n_.tests) {
      hours.insert(t.in_hours);
      if (std::find(names.begin(), names.end(), name(t)) == names.end()) names.push_back(name(t));
    }
    std::string head = fmt::format("  {:<35}", "");
    for (const double h : hours) head += fmt::format("{:>8}", h == 0 ? "now" : fmt::format("{:.0f} h", h));
    page_.line(head + fmt::format("{:>8}", "price"));
    for (const std::string& each : names) {
      std::string row = fmt::format("  {:<35}", each);
      double cost = 0;
      for (const double h : hours) {
        const auto found = std::find_if(n_.tests.begin(), n_.tests.end(),
                                        [&](const TestGain& t) { return name(t) == each && t.in_hours == h; });
        if (found != n_.tests.end()) cost = found->cost;
        row += fmt::format("{:>8}", found == n_.tests.end() ? "-" : fmt::format("{:.2f}", found->gain));
      }
      page_.line(row + fmt::format("{:>8}", fmt::format("{:.2f}", cost)));
    }
    page_.line();
    page_.paragraph("A test is worth its minutes where the gain is above the price. A dash: the same test was made less than 12 hours "
                    "before, so that its errors are no new ones, or it is not offered for that time.", "  ", "  ");
  }

  // Of each test at the first time where it gains most.
  void changes() {
    page_.section("What it would change");
    std::vector<const TestGain*> best;
    for (const TestGain& t : n_.tests) {
      const auto same = std::find_if(best.begin(), best.end(), [&](const TestGain* b) { return name(*b) == name(t); });
      if (same == best.end()) {
        best.push_back(&t);
      } else if (t.gain > (*same)->gain) {
        *same = &t;
      }
    }
    for (const TestGain* t : best) {
      const std::string to = t->decides.empty() ? "" : " (" + t->decides + ")";
      page_.paragraph(fmt::format("{}, {}: {}{}.", sentence_case(name(*t)), infer::moment_in_words(o_.as_of, t->when, o_.zone),
                                  t->would_change, to), "  ", "    ");
    }
  }

  void how() {
    page_.section("How it is weighed");
    page_.paragraph(fmt::format("Every possible loop behind the outlook says what your own chart might show at that time, and what each thing you "
                                "could do then would cost. The gain is how much less the best thing to do costs on average once the answer is known. "
                                "All is counted in days of start-up; {:.0f} minutes of work count as one. Only the next visit is weighed, not those "
                                "after it.", infer::losses::kMinutesPerDay), "  ", "  ");
  }

  const infer::Outlook& o_;
  const NextTest& n_;
  PageText page_;
  Calendar calendar_;
};

}  // namespace

std::string next_page(const infer::Outlook& outlook, const PageStyle& style) { return Page(outlook, style).all(); }

}  // namespace helmwater::app
