// SPDX-License-Identifier: Apache-2.0
#include "steer/why_stuck.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "handbook/handbook.hpp"
#include "infer/block_of.hpp"
#include "infer/parallel.hpp"
#include "infer/timeline_from_log.hpp"
#include "infer/windows.hpp"
#include "loop/charge_balance.hpp"
#include "loop/grid.hpp"
#include "steer/clues.hpp"

namespace helmwater::steer {
namespace {

using handbook::Handbook;

// Fewer than an outlook's: what is asked for is a factor between evidences, not a quantile.
constexpr double kEffectiveWanted = 300;
constexpr int kMembers = 256;
// Rounds of the sampler for each cause, and for those that have not settled by then and are at most so far behind, ln. A
// cause that cannot explain the log needs many rounds to say how badly it cannot: nobody wants to know.
constexpr int kFirstRounds = 8, kFurtherRounds = 24;
constexpr double kOutOfTheRunning = 8;
constexpr double kLooksBack = 7;  // d
constexpr double kHardlyARival = 0.03;

// Factors to the units an outlook states (IUPAC 2021 masses: N 14.007, H 1.008, O 15.999).
constexpr double kAsNh3 = 17.031 / 14.007, kAsNo2 = 46.005 / 14.007, kAsNo3 = 62.004 / 14.007;

// One hypothesis after the readings.
struct Weighed {
  Hypothesis hypothesis;
  infer::Posterior posterior;
  double log_weight = 0;  // ln (weight times evidence)
};

double weight_of(const handbook::Cause& cause, const std::set<std::string>& clues) {
  double weight = cause.weight;
  for (const auto& clue : cause.clues) {
    if (clues.contains(clue.when)) weight *= clue.factor;
  }
  return weight;
}

// Day of the last reading of ammonia or nitrite in the week before `now`, else now.
double last_look(const records::LoopLog& log, const infer::Posterior& posterior, double now) {
  double day = now;
  for (const records::Entry& e : log.entries) {
    const auto* reading = std::get_if<records::Reading>(&e.body);
    if (reading == nullptr || (reading->test != records::Test::ammonia && reading->test != records::Test::nitrite)) continue;
    const double read = records::days_between(posterior.start, e.when);
    if (read > std::max(now - kLooksBack, posterior.window_day())) day = read;
  }
  return std::min(day, now);
}

// Every draw of a hypothesis: its cause, its weight within the hypothesis, what tests of it would show.
std::vector<ShownDraw> shown_draws(const records::LoopLog& log, const Weighed& weighed) {
  const infer::Posterior& posterior = weighed.posterior;
  const double start_day = posterior.window_day();
  const double now = std::max(records::days_between(posterior.start, posterior.as_of), start_day), later = now + kLaterDays;
  // What is planned or was done after as_of is not known then.
  records::LoopLog known = log;
  std::erase_if(known.entries, [&](const records::Entry& e) { return e.when > posterior.as_of; });
  loop::Timeline timeline = infer::timeline_from_log(known, posterior.start, posterior.as_of, later, false, {},
                                                     infer::window_start(posterior.start, posterior.carried.get()));
  if (posterior.altered != nullptr && posterior.altered->timeline) posterior.altered->timeline(timeline);
  // What holds it up is judged where it was last looked at: since then it may have moved, and nobody has seen it.
  const double seen = last_look(known, posterior, now);
  std::vector<double> days;
  for (double day = start_day; day < seen - 0.5; day += 1) days.push_back(day);
  days.push_back(seen);
  const std::size_t looks = days.size();
  days.push_back(now);
  days.push_back(later);
  const loop::Grid grid = loop::make_grid(timeline, days, {}, later, posterior.steps(), start_day);
  const double celsius = loop::interpolate(timeline.temperature_c, now);
  const infer::MemberBlockFunctions& run = infer::member_block_functions();
  const int count = static_cast<int>(posterior.draws.weight.size());
  std::vector<ShownDraw> draws(static_cast<std::size_t>(count));
  infer::parallel_for((count + infer::kBlockLanes - 1) / infer::kBlockLanes, [&](int block) {
    const int first = block * infer::kBlockLanes, lanes = std::min(infer::kBlockLanes, count - first);
    std::vector<infer::Member> members;
    for (int lane = 0; lane < lanes; ++lane) {
      members.push_back(posterior.priors->member(posterior.draws.z.col(first + lane).data()));
    }
    std::vector<infer::BlockWater> waters(days.size());
    run.water_at_readings(timeline, grid, infer::block_of(members.data(), lanes), waters.data());
    for (int lane = 0; lane < lanes; ++lane) {
      const infer::Member& m = members[static_cast<std::size_t>(lane)];
      const auto draw = static_cast<std::size_t>(first + lane);
      MemberCourse course;
      for (std::size_t k = 0; k < looks; ++k) {
        const auto& y = waters[k].y;
        const auto l = static_cast<std::size_t>(lane);
        course.at.push_back({y.tan.v[l], y.no2.v[l], y.no3.v[l], y.alk.v[l], y.dic.v[l], y.r_a.v[l], y.r_n.v[l], y.org_n.v[l],
                             y.urea_n.v[l], y.p.v[l], y.o2.v[l]});
      }
      course.source_no3 = m.parameters.source_no3;
      course.k_p = m.parameters.k_p;
      course.celsius = celsius - degrees_colder(log, posterior, draw);
      const infer::Met met = infer::met_of(waters[days.size() - 2], lane), then = infer::met_of(waters.back(), lane);
      course.oxygen = m.oxygen_held >= 0 ? m.oxygen_held : met.oxygen;
      ShownDraw& d = draws[draw];
      d.cause = cause_of(weighed.hypothesis, course);
      d.weight = posterior.draws.weight[draw];
      d.shown = {std::max(met.alkalinity, 0.0) * loop::kMgCaCO3PerMeq, course.oxygen, course.celsius,
                 std::max<double>(waters[days.size() - 2].y.p.v[lane], 0), met.ph, met.ammonia * kAsNh3, met.nitrite * kAsNo2, met.nitrate * kAsNo3,
                 then.ammonia * kAsNh3, then.nitrite * kAsNo2};
    }
  });
  return draws;
}

Explanation explanation(const std::string& name, double probability, const std::set<std::string>& clues) {
  const handbook::Cause& cause = Handbook::built_in().cause(name);
  Explanation e{name, cause.title, cause.says, probability, {}, cause.look, cause.remedy, cause.cautions,
                std::string(handbook::to_text(cause.confidence))};
  for (const auto& clue : cause.clues) {
    if (clues.contains(clue.when)) e.because.push_back(fmt::format("{}: {}", clue.factor > 1 ? "for it" : "against it", clue.says));
  }
  return e;
}

std::string in_ten(double p) { return p > 0.95 ? "more than 19 in 20" : fmt::format("{:.0f} in 10", std::max(1.0, std::round(10 * p))); }

}  // namespace

WhyStuck why_stuck(const records::LoopLog& log, const WhyStuckOptions& options) {
  const Handbook& book = Handbook::built_in();
  WhyStuck answer;
  answer.loop = log.loop.name;
  answer.as_of = options.as_of;
  answer.started = infer::start_for(log, options.as_of);
  answer.seed = options.seed;

  infer::PosteriorOptions wanted;
  wanted.as_of = options.as_of;
  wanted.seed = options.seed;
  wanted.checkpoints = options.checkpoints;
  const std::shared_ptr<const infer::Carried> carried = infer::carried_to(log, wanted);
  wanted.check_conflict = false;  // every supposition is held to the readings in full
  wanted.members = kMembers;
  wanted.effective_wanted = kEffectiveWanted;
  const std::set<std::string> clues = clues_of(log, answer.started, options.as_of);
  Hypotheses hypotheses = hypotheses_for(log, answer.started, options.as_of, carried != nullptr);
  answer.set_aside = hypotheses.set_aside;

  std::vector<Weighed> weighed;
  double top = -INFINITY;
  wanted.most_rounds = kFirstRounds;
  const auto weigh = [&](const Hypothesis& h) {
    wanted.altered = h.altered;
    Weighed w{h, infer::posterior_in_window(log, wanted, carried), 0};
    w.log_weight = std::log(h.share * weight_of(book.cause(h.cause), clues)) + w.posterior.draws.log_evidence;
    return w;
  };
  for (const Hypothesis& h : hypotheses.tried) {
    weighed.push_back(weigh(h));
    top = std::max(top, weighed.back().log_weight);
  }
  // Those still in the running whose few draws have not settled go on from where they are.
  wanted.most_rounds = kFurtherRounds;
  for (Weighed& w : weighed) {
    if (w.posterior.draws.effective >= kEffectiveWanted / 3 || w.log_weight < top - kOutOfTheRunning) continue;
    wanted.earlier = std::make_shared<const infer::Posterior>(std::move(w.posterior));
    w = weigh(w.hypothesis);
    wanted.earlier = nullptr;
  }
  top = -INFINITY;
  answer.least_effective = INFINITY;
  for (const Weighed& w : weighed) top = std::max(top, w.log_weight);
  for (const Weighed& w : weighed) {
    if (w.log_weight > top - kOutOfTheRunning) answer.least_effective = std::min(answer.least_effective, w.posterior.draws.effective);
    answer.readings_used = w.posterior.readings_used;
  }

  double total = 0;
  for (const Weighed& w : weighed) total += std::exp(w.log_weight - top);
  std::vector<ShownDraw> draws;
  std::map<std::string, double> probability;
  for (const Weighed& w : weighed) {
    const double share = std::exp(w.log_weight - top) / total;
    for (ShownDraw& d : shown_draws(log, w)) {
      d.weight *= share;
      probability[d.cause] += d.weight;
      draws.push_back(std::move(d));
    }
  }
  for (const auto& [name, p] : probability) answer.explanations.push_back(explanation(name, p, clues));
  std::stable_sort(answer.explanations.begin(), answer.explanations.end(),
                   [](const Explanation& a, const Explanation& b) { return a.probability > b.probability; });

  const Explanation& first = answer.explanations.front();
  const bool alone = answer.explanations.size() == 1;
  const double next = alone ? 0 : answer.explanations[1].probability;
  answer.told = first.probability >= book.threshold("probability_to_name").fact.value &&
                first.probability >= book.threshold("odds_to_name").fact.value * next;
  answer.verdict = answer.told ? first.cause : "cannot_tell";
  if (!alone) {
    // A rival nobody believes in is worth no test: then the test is to make sure, against nothing being wrong.
    const bool young = std::any_of(answer.explanations.begin() + 1, answer.explanations.end(), [](const Explanation& e) { return e.cause == "young"; });
    const std::string rival = next < kHardlyARival && young ? "young" : answer.explanations[1].cause;
    answer.next_test = telling_test(draws, first.cause, rival, first.look);
  }
  answer.says = answer.told
                    ? fmt::format("{} ({}). {}", first.title, in_ten(first.probability), first.says)
                    : fmt::format("The log does not tell: \u201c{}\u201d ({}) and \u201c{}\u201d ({}) fit it about as well.", first.title,
                                  in_ten(first.probability), answer.explanations[1].title, in_ten(next));
  return answer;
}

}  // namespace helmwater::steer
