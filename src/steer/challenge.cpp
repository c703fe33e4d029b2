// SPDX-License-Identifier: Apache-2.0
#include "steer/challenge.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>

#include "handbook/handbook.hpp"
#include "infer/ammonia_dose.hpp"
#include "infer/predict.hpp"
#include "loop/nitrification.hpp"
#include "steer/fish_limits.hpp"
#include "steer/fish_ramp.hpp"

namespace helmwater::steer {
namespace {

using handbook::Handbook;

constexpr double kNothing = 0.25;       // mg/L as NH3 or ion: what "reads nothing" means
constexpr double kBigEnough = 0.8;      // of the dose wanted
constexpr double kReadFrom = 18, kReadTo = 30;  // h after the dose

double n_per_nh3() { return records::to_standard_factor(records::Test::ammonia, records::Basis::nh3); }
double n_per_no2() { return records::to_standard_factor(records::Test::nitrite, records::Basis::no2); }

// Ammonia a dose adds to the stated volume, mg N/L; 0: none, or not told.
double ammonia_of(const records::Dose& dose, double litres) {
  const handbook::Reagent* reagent = Handbook::built_in().reagent(dose.substance);
  if (reagent == nullptr || reagent->ammonia_n_mol_per_mol <= 0) return 0;
  using Amount = records::Dose::Amount;
  if (dose.how == Amount::raise_by || dose.how == Amount::raise_to) {
    return dose.amount * records::to_standard_factor(records::Test::ammonia, dose.basis);
  }
  const double share = dose.percent.value_or(100) / 100;
  const double grams = dose.amount * share * (dose.how == Amount::grams ? 1 : handbook::density_g_per_ml(*reagent, dose.percent.value_or(100)));
  return 1000 * grams / reagent->molar_mass.value * reagent->ammonia_n_mol_per_mol * loop::kGramsPerMolN / litres;
}

bool read_between(const records::LoopLog& log, records::Test test, records::Instant from, records::Instant to) {
  return std::any_of(log.entries.begin(), log.entries.end(), [&](const records::Entry& e) {
    const auto* r = std::get_if<records::Reading>(&e.body);
    return r != nullptr && r->test == test && e.when >= from && e.when <= to;
  });
}

}  // namespace

const char* to_text(ChallengeResult::Verdict verdict) {
  using Verdict = ChallengeResult::Verdict;
  switch (verdict) {
    case Verdict::none: return "none";
    case Verdict::too_early: return "too_early";
    case Verdict::passed: return "passed";
    case Verdict::not_passed: return "not_passed";
    case Verdict::cannot_tell: return "cannot_tell";
  }
  return "none";
}

Challenge plan_challenge(const records::LoopLog& log, const FishCourse& course, double load) {
  const double highest = Handbook::built_in().limit("dose_ammonia_highest").fact.value / n_per_nh3();
  Challenge c;
  const double wanted = std::max(records::effective_plan(log).ready_load.value(), load);
  c.ammonia = std::min(wanted, highest);
  c.capped = wanted > highest;
  const double n = c.ammonia * n_per_nh3();
  c.grams = infer::ammonium_chloride_for(n, units::Litres{course.litres()}).value();
  c.cautions = Handbook::built_in().reagent("ammonium chloride")->cautions;

  Care care;
  const Stretch day = course.follow(course.dosed(course.now(), n), 1, care);
  double clear_now = 0;
  for (std::size_t m = 0; m < course.members(); ++m) {
    const auto nothing = [&](const Waters& w) {
      return course.part(w, m, &loop::State<double>::tan) / n_per_nh3() < kNothing &&
             course.part(w, m, &loop::State<double>::no2) / n_per_no2() < kNothing;
    };
    if (nothing(day.after)) c.would_pass += course.weight()[m];
    if (nothing(course.now())) clear_now += course.weight()[m];
  }
  c.would_pass = std::min(c.would_pass, 1.0);
  c.now = clear_now >= 0.5;
  return c;
}

ChallengeResult judge_challenge(const records::LoopLog& log, const infer::Posterior& posterior, double wanted) {
  using Verdict = ChallengeResult::Verdict;
  ChallengeResult result;
  double litres = log.loop.volume.value();
  std::optional<records::Instant> dosed, later;
  for (const records::Entry& e : log.entries) {
    if (e.when > posterior.as_of) break;
    if (const auto* change = std::get_if<records::VolumeChange>(&e.body)) litres = change->litres.value();
    const auto* dose = std::get_if<records::Dose>(&e.body);
    if (dose == nullptr) continue;
    const double n = ammonia_of(*dose, litres);
    if (n <= 0) continue;
    if (n / n_per_nh3() >= kBigEnough * wanted) {
      dosed = e.when;
      later.reset();
      result.ammonia = n / n_per_nh3();
    } else if (dosed && !later) {
      later = e.when;
    }
  }
  if (!dosed) {
    result.text = fmt::format("The log holds no dose of {:.1f} mg/L of ammonia (as NH3) or more: nothing has been proven yet.", kBigEnough * wanted);
    return result;
  }
  result.dosed = *dosed;
  const auto hours = [&](double h) { return records::plus_days(*dosed, h / 24); };
  if (posterior.as_of < hours(kReadFrom)) {
    result.verdict = Verdict::too_early;
    result.text = "Test ammonia and nitrite 24 hours after the dose; before that it shows nothing.";
    return result;
  }
  if (later && *later < hours(24)) {
    result.verdict = Verdict::cannot_tell;
    result.text = "More ammonia was given before the day was over: it cannot be told what became of the dose.";
    return result;
  }
  const double day = records::days_between(posterior.start, hours(24));
  if (records::days_between(posterior.start, *dosed) < posterior.window_day()) {
    result.verdict = Verdict::cannot_tell;
    result.text = "The last dose of that size is more than a month ago: it says nothing about today. Give another.";
    return result;
  }
  std::vector<infer::Observation> asked(2);
  for (infer::Observation& o : asked) {
    o.when = hours(24);
    o.day = day;
  }
  asked[0].channel = infer::Channel::ammonia;
  asked[1].channel = infer::Channel::nitrite;
  std::vector<double> met[2];
  met[0].resize(posterior.draws.weight.size());
  met[1].resize(posterior.draws.weight.size());
  infer::each_predicted_reading(log, posterior, asked, [&](std::size_t k, std::size_t m, double value, double) { met[k][m] = value; });
  for (std::size_t m = 0; m < met[0].size(); ++m) {
    if (met[0][m] / n_per_nh3() < kNothing && met[1][m] / n_per_no2() < kNothing) result.probability += posterior.draws.weight[m];
  }
  result.probability = std::min(result.probability, 1.0);
  result.read = read_between(log, records::Test::ammonia, hours(kReadFrom), std::min(hours(kReadTo), posterior.as_of)) &&
                read_between(log, records::Test::nitrite, hours(kReadFrom), std::min(hours(kReadTo), posterior.as_of));
  if (result.probability < 0.5) {
    result.verdict = Verdict::not_passed;
    result.text = "A day after the dose ammonia or nitrite was probably still there.";
  } else if (!result.read) {
    result.verdict = Verdict::cannot_tell;
    result.text = "Ammonia and nitrite were not both tested 18 to 30 hours after the dose: give another and test a day later.";
  } else if (result.probability >= kAim) {
    result.verdict = Verdict::passed;
    result.text = "A day after the dose ammonia and nitrite were gone; all readings together say so, not one vial alone.";
  } else {
    result.verdict = Verdict::cannot_tell;
    result.text = "The vials were low a day after the dose, but all readings together are not sure enough: repeat it.";
  }
  return result;
}

}  // namespace helmwater::steer
