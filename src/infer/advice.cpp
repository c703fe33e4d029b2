// SPDX-License-Identifier: Apache-2.0
#include "infer/advice.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "handbook/handbook.hpp"
#include "infer/next_test_words.hpp"
#include "loop/nitrification.hpp"

namespace helmwater::infer {
namespace {

using handbook::Handbook;

constexpr double kBufferTo = 80;       // mg/L CaCO3: the start-up simulations of the handbook kept at least this
constexpr double kBufferBy = 40;       // mg/L CaCO3 at least, when it is about to run out
constexpr double kReadyEnough = 0.9;   // below this nobody is told that a loop looks ready
constexpr double kFreshChange = 0.3;   // share of a water change suggested in an emergency

int urgency_rank(const std::string& urgency) {
  return urgency == "now" ? 0 : urgency == "today" ? 1 : urgency == "this_week" ? 2 : 3;
}

// Two significant digits, without an exponent.
std::string amount(double value) {
  if (value >= 100) return fmt::format("{:.0f}", std::round(value / 10) * 10);
  if (value >= 10) return fmt::format("{:.0f}", value);
  if (value >= 1) return fmt::format("{:.1f}", value);
  if (value < 0.005) return "0";
  return fmt::format("{:.2f}", value);
}
// "nitrite is probably 16 mg/L as ion (14 to 18)".
std::string state(const char* what, const Quantiles& q, const char* unit) {
  if (q.p95 < 0.05) return fmt::format("{} is practically gone", what);
  return fmt::format("{} is probably {} {} ({} to {})", what, amount(q.p50), unit, amount(q.p05), amount(q.p95));
}
std::vector<std::string> cautions_of(const char* reagent) { return Handbook::built_in().reagent(reagent)->cautions; }

// Grams of a solid reagent for a change per litre of one of its effects.
double grams(const char* reagent, double mmol_per_l, double litres) {
  return mmol_per_l * litres / 1000 * Handbook::built_in().reagent(reagent)->molar_mass.value;
}

class Adviser {
 public:
  Adviser(const records::LoopLog& log, const Outlook& outlook) : log_(log), out_(outlook) {}

  std::vector<Advice> all() {
    if (out_.fish) {
      protect_fish();
    } else {
      start_up();
    }
    buffer();
    test();
    if (advice_.empty()) wait();
    std::stable_sort(advice_.begin(), advice_.end(), [](const Advice& a, const Advice& b) {
      return urgency_rank(a.urgency) < urgency_rank(b.urgency);
    });
    return std::move(advice_);
  }

 private:
  double limit(const char* name) const { return Handbook::built_in().limit(name).fact.value; }
  double litres() const { return records::volume_at(log_, out_.as_of).value(); }

  void protect_fish() {
    const double free = out_.risk_free_ammonia.within_24_h, nitrite = out_.risk_nitrite.within_24_h;
    if (free > kDangerShare || nitrite > kDangerShare) {
      Advice a;
      a.code = "stop_feeding";
      a.urgency = "now";
      a.text = fmt::format("Stop feeding and change about {:.0f} % of the water, then test again within hours.", 100 * kFreshChange);
      if (free > kDangerShare) {
        a.because.push_back(fmt::format("free ammonia passes {} mg/L (as N) within a day: {}",
                                        amount(out_.risk_free_ammonia.limit), chance_in_words(free)));
      }
      if (nitrite > kDangerShare) {
        a.because.push_back(fmt::format("nitrite passes {} mg/L (as ion) within a day: {}",
                                        amount(out_.risk_nitrite.limit), chance_in_words(nitrite)));
      }
      a.caution = {"New water must be free of chlorine and chloramine and close in temperature and pH.",
                   "Do not raise the pH while ammonia is in the water: more of it becomes toxic.",
                   "Sick or dying fish: call a veterinarian."};
      advice_.push_back(a);
    } else if (out_.ammonia.p50 > limit("fish_ammonia_with_fish")) {
      Advice a;
      a.code = "stop_feeding";
      a.urgency = "today";
      a.text = "Feed less or not at all until ammonia is back below 0.5 mg/L.";
      a.because = {state("ammonia", out_.ammonia, "mg/L as NH3"),
                   "with fish in, ammonia is held at or below 0.5 mg/L (common practice)"};
      advice_.push_back(a);
    }
  }

  void start_up() {
    const double highest = limit("dose_ammonia_highest") / records::to_standard_factor(records::Test::ammonia, records::Basis::nh3);
    if (out_.ammonia.p50 > highest) {
      Advice a;
      a.code = "stop_dosing";
      a.urgency = "today";
      a.text = "Give no more ammonia; more does not speed the start-up.";
      a.because = {state("ammonia", out_.ammonia, "mg/L as NH3"),
                   fmt::format("advice is to stay below {} mg/L as NH3", amount(highest))};
      advice_.push_back(a);
      return;
    }
    if (out_.stage == Stage::ready && out_.stage_probability < kReadyEnough) {
      Advice a;
      a.code = "wait_ready";
      a.urgency = "note";
      a.text = "It may be ready, but that is not sure enough for fish.";
      if (!out_.next_test) a.text += " Test ammonia and nitrite again tomorrow.";  // else the line names the day
      a.because = {fmt::format("the loop can clear {} mg/L of ammonia (as NH3) in a day: {}",
                               amount(out_.plan.ready_load.value()), chance_in_words(out_.stage_probability))};
      a.caution = {"Fish put in too early die."};
      advice_.push_back(a);
      return;
    }
    if (out_.stage == Stage::ready) {
      Advice a;
      a.code = "challenge";
      a.urgency = "this_week";
      a.text = fmt::format(
          "Before fish go in, prove it: give ammonia to {} mg/L (as NH3) once and test ammonia and nitrite 24 hours later. Both "
          "must read nothing.",
          amount(out_.plan.ready_load.value()));
      a.because = {fmt::format("the loop can probably clear that load in a day ({})", chance_in_words(out_.stage_probability))};
      a.caution = {"Fish put in too early die. Stock lightly and keep testing."};
      advice_.push_back(a);
      return;
    }
    if (out_.stage == Stage::stalled) return;  // buffer() or test() says what is missing
    const records::Plan& plan = out_.plan;
    const bool low = out_.ammonia.p50 < plan.redose_below.value();
    const bool room = out_.nitrite.p50 < plan.redose_while_nitrite_below.value();
    if (low && room) {
      const double raise = plan.redose_to.value() - out_.ammonia.p50;  // mg/L as NH3
      const double mmol = raise / 17.031;
      Advice a;
      a.code = "dose_ammonia";
      a.urgency = out_.stage == Stage::empty ? "today" : "this_week";
      a.text = fmt::format("Give ammonia to {} mg/L (as NH3): about {} g of ammonium chloride for {:.0f} L, dissolved first.",
                           amount(plan.redose_to.value()), amount(grams("ammonium chloride", mmol, litres())), litres());
      a.because = {state("ammonia", out_.ammonia, "mg/L as NH3"), "bacteria without ammonia starve"};
      a.caution = cautions_of("ammonium chloride");
      a.caution.push_back("Only while no fish are in.");
      advice_.push_back(a);
    } else if (low) {
      Advice a;
      a.code = "hold_ammonia";
      a.urgency = "this_week";
      a.text = "Give no ammonia until nitrite has come down.";
      a.because = {state("nitrite", out_.nitrite, "mg/L as ion"), "more ammonia only becomes more nitrite"};
      advice_.push_back(a);
    }
  }

  void buffer() {
    const double wanted = limit("alkalinity_nitrification"), lowest = limit("alkalinity_low");
    const double soon = out_.alkalinity_runs_out.p50 ? records::days_between(out_.as_of, *out_.alkalinity_runs_out.p50) : 1e9;
    if (out_.alkalinity.p50 >= wanted && (soon > 7 || soon < 0)) return;
    const double target = std::max(kBufferTo, out_.alkalinity.p50 + kBufferBy);
    const double raise = target - out_.alkalinity.p50;
    const double meq = raise / loop::kMgCaCO3PerMeq;
    Advice a;
    a.code = "buffer";
    a.urgency = out_.alkalinity.p50 < lowest ? "today" : "this_week";
    a.text = fmt::format(
        "Raise alkalinity to about {:.0f} mg/L (as CaCO3): about {} g of potassium bicarbonate for {:.0f} L, in two halves a few "
        "hours apart.",
        target, amount(grams("potassium bicarbonate", meq, litres())), litres());
    a.because = {state("alkalinity", out_.alkalinity, "mg/L as CaCO3"),
                 fmt::format("nitrification slows below about {:.0f} and every mg/L of ammonia nitrogen uses up 7.1", wanted)};
    if (soon >= 0 && soon < 60) a.because.push_back(fmt::format("at this rate it is used up in about {:.0f} days", std::max(soon, 1.0)));
    a.caution = cautions_of("potassium bicarbonate");
    if (out_.ammonia.p50 > 0.5) a.caution.push_back("pH rises, and with it the toxic share of ammonia: not with fish in before a test.");
    advice_.push_back(a);
  }

  // When to test what is weighed elsewhere (docs/model/next_test.md).
  void test() {
    if (!out_.next_test) return;
    const NextTest& next = *out_.next_test;
    Advice a;
    a.code = "test";
    for (const records::Test t : next.advised) a.code += fmt::format("_{}", records::to_text(t));
    a.urgency = next.advised_in_hours < 1 && out_.fish && next.for_safety ? "now" : next.advised_in_hours < 20 ? "today" : "this_week";
    a.text = next.text;
    if (next.tests.empty() && !out_.fish) a.urgency = "this_week";
    if (next.for_safety) {
      a.because.push_back(next.because);
    } else if (!next.decision.empty()) {
      a.because.push_back(fmt::format("it decides {}: {}", next.decision, next.because));
    }
    advice_.push_back(a);
  }

  void wait() {
    Advice a;
    a.code = "wait";
    a.urgency = "note";
    a.text = out_.fish ? "Nothing to do but feed as before and test again in two days." : "Wait, and test ammonia and nitrite again in two days.";
    a.because = {"nothing in the readings asks for more"};
    advice_.push_back(a);
  }

  const records::LoopLog& log_;
  const Outlook& out_;
  std::vector<Advice> advice_;
};

}  // namespace

std::vector<Advice> advice_for(const records::LoopLog& log, const Outlook& outlook) { return Adviser(log, outlook).all(); }

}  // namespace helmwater::infer
