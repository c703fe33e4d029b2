// SPDX-License-Identifier: Apache-2.0
#include "why_page.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "handbook/handbook.hpp"
#include "page_text.hpp"
#include "page_words.hpp"

namespace helmwater::app {
namespace {

// Less probable causes are counted, not listed.
constexpr double kListed = 0.03;
// Of these the remedy is told with its cautions.
constexpr std::size_t kWithRemedy = 2;

}  // namespace

std::string why_page(const steer::WhyStuck& why, const std::string& zone, const PageStyle& style) {
  PageText page(style);
  page.line(fmt::format("{}, {}", without_controls(why.loop), Calendar(zone, why.as_of).moment(why.as_of)));
  page.rule();
  page.paragraph(with_formulas(why.says), "", "", kBold);
  if (why.next_test) {
    page.section("What tells");
    page.paragraph(with_formulas(why.next_test->text));
  }
  page.section("Causes");
  std::size_t listed = 0;
  for (const auto& e : why.explanations) {
    if (e.probability < kListed && listed > 0) break;
    ++listed;
    page.paragraph(with_formulas(fmt::format("{:>2.0f} %  {}", std::clamp(100 * e.probability, 1.0, 99.0), e.title)), "  ", "        ", kBold);
    page.paragraph(with_formulas(e.says), "        ", "        ");
    for (const std::string& because : e.because) page.paragraph(with_formulas(sentence_case(because) + "."), "      - ", "        ");
  }
  if (listed < why.explanations.size()) {
    page.paragraph(fmt::format("{} more causes were weighed and are improbable.", why.explanations.size() - listed), "  ", "  ");
  }
  for (const auto& s : why.set_aside) {
    page.paragraph(fmt::format("Not weighed: {}, for {}.", handbook::Handbook::built_in().cause(s.cause).title, s.why), "  ", "  ");
  }
  for (std::size_t i = 0; i < std::min({listed, kWithRemedy, why.told ? std::size_t{1} : kWithRemedy}); ++i) {
    const auto& e = why.explanations[i];
    page.section(why.told ? "What to do" : fmt::format("If it is \u201c{}\u201d", e.title));
    page.paragraph(with_formulas(e.look));
    page.paragraph(with_formulas(e.remedy));
    if (!e.cautions.empty()) page.frame("Mind", e.cautions, 2);
  }
  page.line();
  page.paragraph("How likely each cause is before anything is read, and how strongly it acts, is judgement: docs/model/why_stuck.md.");
  return page.text();
}

}  // namespace helmwater::app
