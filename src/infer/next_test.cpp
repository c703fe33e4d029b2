// SPDX-License-Identifier: Apache-2.0
#include "infer/next_test.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "chem/ammonia.hpp"
#include "handbook/handbook.hpp"
#include "infer/ammonia_dose.hpp"
#include "infer/next_decisions.hpp"
#include "infer/next_test_words.hpp"
#include "infer/parallel.hpp"
#include "infer/temperature_from_log.hpp"
#include "infer/test_answers.hpp"
#include "infer/value_of_answer.hpp"
#include "loop/nitrification.hpp"

namespace helmwater::infer {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using records::Test;

constexpr std::size_t kMembers = 1000;      // of the posterior's, spread evenly over the weight
constexpr std::array<double, 9> kDays{0, 0.25, 1, 2, 3, 4, 5, 6, 7};  // after as_of
constexpr std::size_t kTableTimes = 4;      // the first of them are shown
constexpr double kCourseDays = 11.25;       // the last test, and as long again as a decision looks ahead
// A test repeated sooner sees the same vial with the same eye: its errors are not new ones.
constexpr double kTooSoonDays = 0.5;
constexpr double kRareAnswer = 0.004;
constexpr double kMayBeReady = 0.05;        // below this a challenge dose proves nothing
constexpr int kWakingHour = 7, kSleepingHour = 22;
constexpr double kNoGain = 0.005;           // d: not worth a word
// As in the outlook: less than an even chance is no stage.
constexpr double kProbably = 0.5;
constexpr double kAlkalinityKnownDays = 7;  // a working filter uses up most of a soft water's within that (ESTIMATE)

// Hands and waiting, minutes (ESTIMATE).
double minutes(Test test) {
  switch (test) {
    case Test::ammonia: return 5;
    case Test::nitrite: return 3;
    case Test::nitrate: return 6;
    case Test::ph: return 2;
    default: return 4;  // alkalinity, by drops
  }
}
constexpr double kDoseMinutes = 5;
double cost_of(const std::vector<Test>& tests) {
  double sum = 0;
  for (const Test t : tests) sum += minutes(t);
  return sum / losses::kMinutesPerDay;
}

std::vector<std::size_t> evenly(const std::vector<double>& weight, std::size_t count) {
  std::vector<std::size_t> some;
  double passed = 0;
  for (std::size_t i = 0; i < weight.size(); ++i) {
    passed += weight[i];
    while (some.size() < count && static_cast<double>(some.size()) + 0.5 <= passed * static_cast<double>(count)) some.push_back(i);
  }
  while (some.size() < count) some.push_back(weight.size() - 1);  // rounding
  return some;
}

Posterior some_of(const Posterior& all, const std::vector<std::size_t>& members) {
  Posterior some;
  some.start = all.start;
  some.as_of = all.as_of;
  some.evidence.slots = all.evidence.slots;
  some.evidence.people = all.evidence.people;
  some.carried = all.carried;
  some.priors = all.priors;
  some.certificate = all.certificate;
  some.draws.z.resize(all.draws.z.rows(), static_cast<Index>(members.size()));
  for (std::size_t i = 0; i < members.size(); ++i) {
    some.draws.z.col(static_cast<Index>(i)) = all.draws.z.col(static_cast<Index>(members[i]));
  }
  some.draws.weight.assign(members.size(), 1.0 / static_cast<double>(members.size()));
  return some;
}

QuietCourse course_of(const Forecast& f, double temperature_c, bool with_free_ammonia) {
  QuietCourse course;
  std::size_t first = 0;
  while (f.series_days[first] < f.as_of_day) ++first;
  for (std::size_t t = first; t < f.series_days.size(); ++t) course.days.push_back(f.series_days[t] - f.as_of_day);
  const auto times = static_cast<Index>(course.days.size()), members = static_cast<Index>(f.members);
  const std::array<Eigen::MatrixXf*, Forecast::kQuantities> all{&course.ammonia, &course.nitrite, &course.nitrate, &course.ph,
                                                                &course.alkalinity};
  for (std::size_t k = 0; k < all.size(); ++k) {
    all[k]->resize(times, members);
    for (Index t = 0; t < times; ++t) {
      for (Index m = 0; m < members; ++m) {
        (*all[k])(t, m) = f.at(static_cast<Forecast::Quantity>(k), first + static_cast<std::size_t>(t), static_cast<std::size_t>(m));
      }
    }
  }
  if (with_free_ammonia) {
    const double n = records::to_standard_factor(Test::ammonia, records::Basis::nh3);
    course.free_ammonia.resize(times, members);
    for (Index t = 0; t < times; ++t) {
      for (Index m = 0; m < members; ++m) {
        const double share = chem::free_ammonia_fraction(units::Ph{course.ph(t, m)}, units::Celsius{temperature_c},
                                                         units::IonicStrength{0.005});
        course.free_ammonia(t, m) = static_cast<float>(share * n * course.ammonia(t, m));
      }
    }
  }
  return course;
}

// The log with the ready load given a minute after as_of.
records::LoopLog challenged(const records::LoopLog& log, const records::Plan& plan, records::Instant as_of) {
  const double n = plan.ready_load.value() * records::to_standard_factor(Test::ammonia, records::Basis::nh3);
  records::Dose dose;
  dose.amount = ammonium_chloride_for(n, records::volume_at(log, as_of)).value();
  dose.substance = "ammonium chloride";
  records::Entry entry;
  entry.when = as_of + std::chrono::minutes(1);
  entry.to_the_minute = true;
  entry.body = dose;
  records::LoopLog changed = log;
  changed.entries.insert(std::upper_bound(changed.entries.begin(), changed.entries.end(), entry.when,
                                          [](records::Instant t, const records::Entry& e) { return t < e.when; }),
                         entry);
  return changed;
}

std::optional<double> days_since_read(const records::LoopLog& log, records::Instant as_of, Test test) {
  std::optional<double> since;
  for (const records::Entry& e : log.entries) {
    const auto* r = std::get_if<records::Reading>(&e.body);
    if (r != nullptr && r->test == test && e.when <= as_of) since = records::days_between(e.when, as_of);
  }
  return since;
}

// When the fish now in the water came.
records::Instant fish_since(const records::LoopLog& log, records::Instant start) {
  for (const records::Entry& e : log.entries) {
    const auto* move = std::get_if<records::FishMove>(&e.body);
    if (move != nullptr && move->in) return log.loop.start == records::Start::fish ? std::min(start, e.when) : e.when;
  }
  return start;
}

// The answers of a test at one time: members x cells.
struct Answers {
  MatrixXd chance;
  std::vector<std::string> words;
};

struct Gains {
  std::vector<double> of;  // by decision
  double sum() const {
    double total = 0;
    for (const double g : of) total += g;
    return total;
  }
};

class Weighing {
 public:
  Weighing(const records::LoopLog& log, const Posterior& posterior, const Forecast& f, bool with_plan, const std::optional<FishAtStake>& fish)
      : log_(log), posterior_(posterior), fish_(fish) {
    members_ = evenly(posterior.draws.weight, std::min(kMembers, posterior.draws.weight.size()));
    some_ = some_of(posterior, members_);
    const auto count = static_cast<Index>(members_.size());
    weight_ = VectorXd::Constant(count, 1.0 / static_cast<double>(count));
    question_.fish = fish.has_value();
    if (fish) {
      question_.free_ammonia_limit = fish->free_ammonia_limit;
      question_.nitrite_limit = fish->nitrite_limit;
    }
    question_.plan = records::effective_plan(log);
    question_.as_of = posterior.as_of;
    question_.zone = log.loop.zone();
    question_.horizon_days = std::max(f.end_day - f.as_of_day, 1.0);
    question_.ready_days.resize(count);
    for (Index m = 0; m < count; ++m) {
      question_.ready_days[m] = f.dates[members_[static_cast<std::size_t>(m)]].ready_for_fish - f.as_of_day;
      who_.push_back(some_.priors->member(some_.draws.z.col(m).data()));
    }
    for (std::size_t m = 0; m < f.weight.size(); ++m) {
      if (f.stages[m].stage == Stage::ready) ready_ += f.weight[m];
      if (f.stages[m].stage == Stage::stalled) stalled_ += f.weight[m];
    }
    // Nothing is dosed before the owner has looked; planned feed goes on.
    imposed_.plan_doses_from = records::plus_days(posterior.as_of, kCourseDays + 1);
    with_plan_ = with_plan;
    course_ = course_of(forecast(log, some_, kCourseDays, with_plan, imposed_), temperature_known_at(log, posterior.as_of),
                        question_.fish);
    for (const Test t : {Test::ammonia, Test::nitrite, Test::nitrate, Test::ph, Test::alkalinity}) {
      since_.push_back(days_since_read(log, posterior.as_of, t));
      if (since_.back() || t == Test::ammonia || t == Test::nitrite || t == Test::alkalinity || has_kit(t)) offered_.push_back(t);
    }
  }

  NextTest answer() {
    at_.resize(kDays.size());
    parallel_for(static_cast<int>(kDays.size()), [&](int i) { weigh(static_cast<std::size_t>(i)); });
    table();
    choose();
    challenge();
    protect_fish();
    find_what_stalls();
    waits();
    speak();
    return std::move(next_);
  }

 private:
  struct At {
    double day = 0;
    std::vector<Decision> decisions;
    std::vector<Answers> answers;  // by offered_
    std::vector<double> single;    // gains, by offered_
    double pair = 0;
  };
  using Set = std::vector<Test>;  // in the order of offered_

  bool has_kit(Test test) const {
    return std::any_of(log_.loop.kits.begin(), log_.loop.kits.end(), [&](const records::Kit& k) { return k.test == test; });
  }
  records::Instant when(double day) const { return records::plus_days(posterior_.as_of, day); }
  std::size_t place(Test test) const {
    return static_cast<std::size_t>(std::find(offered_.begin(), offered_.end(), test) - offered_.begin());
  }
  bool too_soon(Test test, double day) const {
    const auto& since = since_[static_cast<std::size_t>(test == Test::ammonia   ? 0
                                                        : test == Test::nitrite ? 1
                                                        : test == Test::nitrate ? 2
                                                        : test == Test::ph      ? 3
                                                                                : 4)];
    return since && *since + day < kTooSoonDays;
  }
  bool too_soon(const Set& set, double day) const {
    return std::any_of(set.begin(), set.end(), [&](Test t) { return too_soon(t, day); });
  }

  Answers answers_at(const QuietCourse& course, Test test, double day) const {
    const TestAnswers cells = answers_of_test(log_, some_, test, when(day));
    const VectorXd ammonia = course.at(course.ammonia, day), nitrite = course.at(course.nitrite, day),
                   nitrate = course.at(course.nitrate, day), ph = course.at(course.ph, day),
                   alkalinity = course.at(course.alkalinity, day);
    const Observation& look = cells.cells.front();
    std::vector<double> met(members_.size()), bias(members_.size());
    for (std::size_t m = 0; m < met.size(); ++m) {
      const auto i = static_cast<Index>(m);
      const Met water{ammonia[i] * records::to_standard_factor(Test::ammonia, records::Basis::nh3),
                      nitrite[i] * records::to_standard_factor(Test::nitrite, records::Basis::no2),
                      nitrate[i] * records::to_standard_factor(Test::nitrate, records::Basis::no3), ph[i],
                      alkalinity[i] / loop::kMgCaCO3PerMeq};
      met[m] = met_value(look, water, who_[m].nitrate_efficiency);
      bias[m] = bias_of(look, who_[m]);
    }
    return {chances(cells, met, bias), cells.words};
  }

  Gains gains(const std::vector<Decision>& decisions, const MatrixXd& answers) const {
    Gains g;
    for (const Decision& d : decisions) g.of.push_back(gain_of_answer(weight_, answers, d.loss, d.closed));
    return g;
  }

  void weigh(std::size_t i) {
    At& at = at_[i];
    at.day = kDays[i];
    at.decisions = decisions_at(question_, course_, at.day);
    for (const Test t : offered_) {
      at.answers.push_back(answers_at(course_, t, at.day));
      at.single.push_back(gains(at.decisions, at.answers.back().chance).sum());
    }
    at.pair = gains(at.decisions, joint(at, kPair)).sum();
  }

  // Rare answers as one.
  MatrixXd joint(const At& at, const Set& set) const {
    MatrixXd all = at.answers[place(set.front())].chance;
    for (std::size_t k = 1; k < set.size(); ++k) {
      all = with_rare_as_one(weight_, both(all, at.answers[place(set[k])].chance), kRareAnswer);
    }
    return all;
  }

  // What the answers would change in the decision they help most.
  struct Change {
    const Decision* decision = nullptr;
    std::string text;
  };
  Change change(const std::vector<Decision>& decisions, const std::vector<Answers>& parts, const Set& set) const {
    MatrixXd answers = parts.front().chance;
    for (std::size_t k = 1; k < parts.size(); ++k) answers = both(answers, parts[k].chance);
    const Gains g = gains(decisions, answers);
    const auto best = static_cast<std::size_t>(std::max_element(g.of.begin(), g.of.end()) - g.of.begin());
    const Decision& d = decisions[best];
    if (g.of[best] < kNoGain) return {nullptr, "nothing worth a word"};
    const int before = choice_without(weight_, d.loss).action;
    const std::vector<Choice> after = choice_after(weight_, answers, d.loss, d.closed);
    const Eigen::RowVectorXd chance = weight_.transpose() * answers;
    // The answer that gains most, as an example.
    const MatrixXd expected = answers.transpose() * (weight_.asDiagonal() * d.loss);
    double changed = 0, most = -1;
    Index example = 0;
    for (std::size_t o = 0; o < after.size(); ++o) {
      const auto i = static_cast<Index>(o);
      if (after[o].action == before) continue;
      changed += chance[i];
      if (expected(i, before) - after[o].loss <= most) continue;
      most = expected(i, before) - after[o].loss;
      example = i;
    }
    const std::string then = d.actions[static_cast<std::size_t>(after[static_cast<std::size_t>(example)].action)];
    std::string shown;
    for (std::size_t k = parts.size(); k-- > 0;) {
      const auto cells = static_cast<Index>(parts[k].words.size());
      const std::string one = tests_in_words({set[k]}) + " " + parts[k].words[static_cast<std::size_t>(example % cells)];
      shown = shown.empty() ? one : one + " and " + shown;
      example /= cells;
    }
    return {&d, fmt::format("if it shows {}: {}; without it: {}; something changes in {} cases", shown, then,
                            d.actions[static_cast<std::size_t>(before)], chance_in_words(changed))};
  }
  Change change(const At& at, const Set& set) const {
    std::vector<Answers> parts;
    for (const Test t : set) parts.push_back(at.answers[place(t)]);
    return change(at.decisions, parts, set);
  }

  void table() {
    std::vector<std::pair<const At*, Set>> rows;
    for (std::size_t i = 0; i < kTableTimes; ++i) {
      for (std::size_t k = 0; k < offered_.size(); ++k) rows.push_back({&at_[i], {offered_[k]}});
      rows.push_back({&at_[i], kPair});
    }
    std::erase_if(rows, [&](const auto& row) { return too_soon(row.second, row.first->day); });
    next_.tests.resize(rows.size());
    parallel_for(static_cast<int>(rows.size()), [&](int i) {
      const auto& [at, set] = rows[static_cast<std::size_t>(i)];
      const Change c = change(*at, set);
      next_.tests[static_cast<std::size_t>(i)] = {set, false, 24 * at->day, when(at->day),
                                                  set.size() > 1 ? at->pair : at->single[place(set.front())], cost_of(set),
                                                  c.decision == nullptr ? std::string() : c.decision->says, c.text};
    });
  }

  // The first time at which some tests are worth their minutes: there the best of them, and what is worth its minutes beside.
  void choose() {
    for (const At& at : at_) {
      const int hour = local_hour(when(at.day), question_.zone);
      if (at.day > 0 && at.day < 1 && (hour < kWakingHour || hour >= kSleepingHour)) continue;
      double best = 0;
      Set set;
      for (std::size_t k = 0; k <= offered_.size(); ++k) {
        const Set one = k < offered_.size() ? Set{offered_[k]} : kPair;
        const double net = (k < offered_.size() ? at.single[k] : at.pair) - cost_of(one);
        if (too_soon(one, at.day) || net <= best) continue;
        best = net;
        set = one;
      }
      if (set.empty()) continue;
      double gain = gains(at.decisions, joint(at, set)).sum();
      while (set.size() < 3) {
        double most = 0, with = gain;
        Set wider;
        for (const Test t : offered_) {
          if (std::find(set.begin(), set.end(), t) != set.end() || too_soon(t, at.day)) continue;
          const Set tried = added(set, t);
          const double g = gains(at.decisions, joint(at, tried)).sum(), net = g - gain - cost_of({t});
          if (net <= most) continue;
          most = net;
          with = g;
          wider = tried;
        }
        if (wider.empty()) break;
        set = wider;
        gain = with;
      }
      net_ = gain - cost_of(set);
      next_.advised = set;
      next_.advised_in_hours = 24 * at.day;
      const Change c = change(at, set);
      if (c.decision != nullptr) next_.decision = c.decision->says;
      next_.because = c.text;
      return;
    }
  }

  Set added(const Set& set, Test test) const {
    Set wider;
    for (const Test t : offered_) {
      if (t == test || std::find(set.begin(), set.end(), t) != set.end()) wider.push_back(t);
    }
    return wider;
  }

  // Give the ready load now and look a day later: only without fish, and only if it may pass.
  void challenge() {
    if (question_.fish || (question_.ready_days.array() <= 1).cast<double>().mean() < kMayBeReady) return;
    const QuietCourse course = course_of(forecast(challenged(log_, question_.plan, posterior_.as_of), some_, 2, with_plan_, imposed_), 0, false);
    std::vector<Decision> decisions = decisions_at(question_, course_, 1);
    std::erase_if(decisions, [](const Decision& d) { return d.code != "fish_day" && d.code != "fish_date"; });
    const std::vector<Answers> parts{answers_at(course, Test::ammonia, 1), answers_at(course, Test::nitrite, 1)};
    const double gain = gains(decisions, with_rare_as_one(weight_, both(parts[0].chance, parts[1].chance), kRareAnswer)).sum();
    // Where ammonia had better not be given now, that is part of the price.
    const Eigen::RowVectorXd dose = weight_.transpose() * at_.front().decisions.front().loss;
    const double cost = cost_of(kPair) + kDoseMinutes / losses::kMinutesPerDay + std::max(dose[0] - dose.minCoeff(), 0.0);
    const Change c = change(decisions, parts, kPair);
    next_.tests.push_back({kPair, true, 24, when(1), gain, cost, c.decision == nullptr ? std::string() : c.decision->says, c.text});
    if (gain - cost <= std::max(net_, 0.0) || next_.advised_in_hours < 24) return;
    net_ = gain - cost;
    next_.challenge = true;
    next_.advised = kPair;
    next_.advised_in_hours = 24;
    if (c.decision != nullptr) next_.decision = c.decision->says;
    next_.because = c.text;
  }

  void protect_fish() {
    if (!fish_) return;
    const double since = std::max(since_[0].value_or(kFishTestDays), since_[1].value_or(kFishTestDays));
    const bool watched = records::days_between(fish_since(log_, posterior_.start), posterior_.as_of) < kFishWatchDays;
    double due = std::numeric_limits<double>::infinity();
    if (watched) due = std::max(0.0, kFishTestDays - since);
    if (fish_->in_danger) due = since < 0.25 ? 0.25 : 0;
    if (!std::isfinite(due)) return;
    const bool chosen = !next_.advised.empty();
    const bool in_time = chosen && next_.advised_in_hours <= 24 * due + 0.1;
    if (in_time) {
      next_.advised = added(added(next_.advised, Test::ammonia), Test::nitrite);
      return;
    }
    next_.advised = kPair;
    next_.advised_in_hours = 24 * due;
    next_.for_safety = true;
    next_.decision = "whether the fish may be fed as usual";
    next_.because = fish_->in_danger ? "the fish may be in danger"
                                     : fmt::format("in the first {} weeks with fish in, ammonia and nitrite are tested at least every {:.0f} "
                                                   "days (common practice), whatever a test gains", static_cast<int>(kFishWatchDays / 7), kFishTestDays);
  }

  // A loop that stands still for want of alkalinity looks like any other that stands still.
  void find_what_stalls() {
    if (stalled_ < kProbably || since_[4].value_or(kAlkalinityKnownDays) < kAlkalinityKnownDays) return;
    const bool today = !next_.advised.empty() && !next_.challenge && next_.advised_in_hours < 20;
    if (today && std::find(next_.advised.begin(), next_.advised.end(), Test::alkalinity) != next_.advised.end()) return;
    // Another test of today goes with it; one of later days is weighed again once alkalinity is known. Fish keep theirs.
    next_.advised = added(today || fish_ ? next_.advised : Set{}, Test::alkalinity);
    next_.challenge = false;
    if (!today) next_.advised_in_hours = 0;
    if (next_.for_safety) return;
    next_.decision = "whether to raise alkalinity";
    next_.because = since_[4] ? "ammonia or nitrite hardly moves, and alkalinity was not tested for a week"
                              : "ammonia or nitrite hardly moves, and alkalinity was never tested";
  }

  void waits() {
    std::vector<Test> others;
    for (const Test t : offered_) {
      if (std::find(next_.advised.begin(), next_.advised.end(), t) == next_.advised.end()) others.push_back(t);
    }
    if (next_.advised.empty()) {
      // Nothing passes within the week.
      for (const Test t : others) next_.can_wait.push_back({t, std::nullopt});
      return;
    }
    std::vector<std::vector<char>> pays(others.size(), std::vector<char>(at_.size(), 0));
    parallel_for(static_cast<int>(at_.size()), [&](int i) {
      const At& at = at_[static_cast<std::size_t>(i)];
      if (at.day < 1 || 24 * at.day <= next_.advised_in_hours) return;
      const double without = gains(at.decisions, joint(at, next_.advised)).sum();
      for (std::size_t k = 0; k < others.size(); ++k) {
        const double with = gains(at.decisions, with_rare_as_one(weight_, both(joint(at, next_.advised), at.answers[place(others[k])].chance),
                                                                 kRareAnswer)).sum();
        pays[k][static_cast<std::size_t>(i)] = with - without > minutes(others[k]) / losses::kMinutesPerDay;
      }
    });
    for (std::size_t k = 0; k < others.size(); ++k) {
      const auto first = std::find(pays[k].begin(), pays[k].end(), 1);
      CanWait wait{others[k], std::nullopt};
      if (first != pays[k].end()) wait.until = when(kDays[static_cast<std::size_t>(first - pays[k].begin())]);
      next_.can_wait.push_back(wait);
    }
  }

  void speak() {
    const records::Instant now = posterior_.as_of;
    const std::string& zone = question_.zone;
    if (next_.advised.empty()) {
      next_.advised = kPair;
      next_.advised_in_hours = 24 * kDays.back();
      std::erase_if(next_.can_wait, [](const CanWait& w) { return w.test == Test::ammonia || w.test == Test::nitrite; });
      next_.decision.clear();
      if (!question_.fish && ready_ >= kProbably) {
        next_.challenge = true;
        next_.advised_in_hours = 24;
        next_.because = "no other test within the week is likely to change what to do, but no fish go in without this one";
        next_.text = fmt::format("No test is needed this week but the one before fish go in: give ammonia to {:.2g} mg/L (as NH3) once, and "
                                 "test ammonia and nitrite a day later.", question_.plan.ready_load.value());
        return;
      }
      next_.because = "no test within the week is likely to change what to do";
      next_.text = fmt::format("No test is needed this week; test ammonia and nitrite {}.", moment_in_words(now, when(kDays.back()), zone));
      return;
    }
    const records::Instant at = when(next_.advised_in_hours / 24);
    std::string text = next_.challenge ? fmt::format("Give ammonia to {:.2g} mg/L (as NH3) now, and test {} a day later, {}",
                                                     question_.plan.ready_load.value(), tests_in_words(next_.advised),
                                                     moment_in_words(now, at, zone))
                                       : fmt::format("Test {} {}", tests_in_words(next_.advised), moment_in_words(now, at, zone));
    // Those that can wait, by when.
    std::vector<CanWait> waits = next_.can_wait;
    std::vector<Test> for_long;
    while (!waits.empty()) {
      const auto until = waits.front().until;
      std::vector<Test> same;
      for (const CanWait& w : waits) {
        if (w.until == until) same.push_back(w.test);
      }
      std::erase_if(waits, [&](const CanWait& w) { return w.until == until; });
      if (!until) {
        for_long = same;
        continue;
      }
      text += fmt::format("; {} can wait till {}", tests_in_words(same), day_in_words(now, *until, zone));
    }
    if (!for_long.empty()) text += fmt::format("; {} can wait a week", tests_in_words(for_long));
    next_.text = text + ".";
  }

  inline static const Set kPair{Test::ammonia, Test::nitrite};
  const records::LoopLog& log_;
  const Posterior& posterior_;
  const std::optional<FishAtStake>& fish_;
  std::vector<std::size_t> members_;
  Posterior some_;
  VectorXd weight_;
  Question question_;
  Imposed imposed_;
  bool with_plan_ = true;
  QuietCourse course_;
  std::vector<Member> who_;  // by member
  std::vector<std::optional<double>> since_;  // ammonia, nitrite, nitrate, pH, alkalinity
  std::vector<Test> offered_;
  std::vector<At> at_;
  double ready_ = 0, stalled_ = 0;  // probability of the stage
  double net_ = 0;
  NextTest next_;
};

}  // namespace

NextTest next_test(const records::LoopLog& log, const Posterior& posterior, const Forecast& f, bool with_plan,
                   const std::optional<FishAtStake>& fish) {
  if (posterior.readings_used == 0) {
    NextTest next;
    next.advised = {Test::ammonia, Test::nitrite};
    next.text = "Test ammonia and nitrite from the first dose on, every second day.";
    if (fish) next.text = "Test ammonia and nitrite now: there are fish in, and no reading yet.";
    return next;
  }
  return Weighing(log, posterior, f, with_plan, fish).answer();
}

}  // namespace helmwater::infer
