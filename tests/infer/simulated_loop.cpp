// SPDX-License-Identifier: Apache-2.0
#include "simulated_loop.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "infer/random.hpp"
#include "infer/timeline_from_log.hpp"
#include "loop/grid.hpp"
#include "loop/simulate.hpp"

namespace helmwater::tests {
namespace {

using records::Basis;
using records::Test;

const records::Instant kStart = std::chrono::sys_days{std::chrono::year{2026} / 3 / 1} + std::chrono::hours{8};

// Charts of our own.
const std::vector<double> kAmmoniaSteps{0, 0.2, 0.5, 1, 2, 4, 8};      // as NH3
const std::vector<double> kNitriteSteps{0, 0.3, 0.8, 1.6, 3.2, 8};     // as ion
const std::vector<double> kNitrateSteps{0, 5, 12, 25, 50, 100, 200};   // as ion
const std::vector<double> kPhSteps{6.0, 6.4, 6.8, 7.2, 7.6, 8.0, 8.4, 8.8};
const std::vector<double> kAlkalinitySteps{0, 20, 40, 60, 80, 100, 120, 150, 180, 220, 260, 300};

records::Kit kit(Test test, Basis basis, const std::vector<double>& steps) {
  records::Kit k;
  k.test = test;
  k.basis = basis;
  k.steps = steps;
  return k;
}

// Interval of the chart cell that holds `value`: the contract's rule for a step.
records::Seen cell(Test test, const std::vector<double>& steps, double value) {
  const int last = static_cast<int>(steps.size()) - 1;
  const auto edge = [&](int k) {  // between step k and k + 1
    const double a = steps[static_cast<std::size_t>(k)], b = steps[static_cast<std::size_t>(k) + 1];
    return test == Test::ph ? (a + b) / 2 : a == 0 ? b / 2 : std::sqrt(a * b);
  };
  int k = 0;
  while (k < last && value >= edge(k)) ++k;
  records::Seen seen;
  seen.low = k == 0 ? (test == Test::ph ? -std::numeric_limits<double>::infinity() : 0) : edge(k - 1);
  seen.high = k == last ? std::numeric_limits<double>::infinity() : edge(k);
  return seen;
}

// Catches the state at the only observation.
struct Catch {
  loop::State<double> y{};
  double ln_h = 0;
  void observe(int, const loop::State<double>& state, double x) {
    y = state;
    ln_h = x;
  }
  void series(int, const loop::State<double>&, double) {}
  void step(double, const loop::State<double>&, double, const loop::State<double>&) {}
};

}  // namespace

records::LoopLog cut(const records::LoopLog& log, records::Instant as_of) {
  records::LoopLog some = log;
  std::erase_if(some.entries, [&](const records::Entry& e) { return e.when > as_of; });
  return some;
}

records::LoopLog unread(const records::LoopLog& log) {
  records::LoopLog deeds = log;
  for (records::Entry& e : deeds.entries) {
    if (std::holds_alternative<records::Reading>(e.body)) e.body = records::Note{};
  }
  return deeds;
}

SimulatedLoop simulate_loop(std::uint64_t seed, int index, int days, const std::map<std::string, double>& held) {
  const infer::Draws random(seed, 0x51000000u + static_cast<std::uint32_t>(index));
  SimulatedLoop made;
  records::Loop& l = made.log.loop;
  l.name = "simulated " + std::to_string(index);
  l.volume = units::Litres{500};
  l.volume_sd = units::Litres{50};
  l.started = kStart;
  l.start = std::array{records::Start::unseeded, records::Start::seeded_media, records::Start::bottled_culture,
                       records::Start::fish}[static_cast<std::size_t>(index % 4)];
  // Start type `fish` without fish would be an unknown feed; its seed is what is wanted here.
  if (l.start == records::Start::fish) l.start = records::Start::unseeded;
  l.typical_temperature = units::Celsius{20 + 8 * random.uniform(0, 1)};
  l.kits = {kit(Test::ammonia, Basis::nh3, kAmmoniaSteps), kit(Test::nitrite, Basis::no2, kNitriteSteps),
            kit(Test::nitrate, Basis::no3, kNitrateSteps), kit(Test::ph, Basis::none, kPhSteps),
            kit(Test::alkalinity, Basis::caco3, kAlkalinitySteps)};
  const std::array<const std::vector<double>*, 5> charts{&kAmmoniaSteps, &kNitriteSteps, &kNitrateSteps, &kPhSteps,
                                                         &kAlkalinitySteps};
  const auto add = [&](double day, records::Body body) {
    records::Entry e;
    e.line = static_cast<int>(made.log.entries.size()) + 2;
    e.when = records::plus_days(kStart, day);
    e.body = std::move(body);
    made.log.entries.push_back(std::move(e));
  };
  const auto dose = [&](double day, const char* substance, double grams) {
    records::Dose d;
    d.how = records::Dose::Amount::grams;
    d.amount = grams;
    d.substance = substance;
    add(day, d);
  };
  // 2 mg/L as NH3 in 500 L is 0.822 g N; ammonium chloride is 26.19 % N.
  const double usual_dose = 2.0 / 1.2159 * 500 / 1000 / 0.2619;
  dose(0.02, "ammonium chloride", usual_dose);

  // All kits appear on the first visit so that the list of unknowns does not change as the log grows.
  std::uint32_t reading_number = 0;
  for (int day = 1; day <= days; day += 2) {
    const int visit = (day - 1) / 2;
    std::vector<std::size_t> tests{0, 1, 3};
    if (visit % 2 == 0) tests.push_back(2);
    if (visit % 3 == 0) tests.push_back(4);
    const double at = day + 0.4;
    for (std::size_t t : tests) {
      records::Reading r;
      r.test = l.kits[t].test;
      r.basis = l.kits[t].basis;
      r.kit = static_cast<int>(t);
      add(at, r);
    }
    const infer::Evidence evidence = infer::evidence_from_log(made.log, kStart);
    // The truth knows its deeds; what the inference would suspect from readings (additions nobody logged) is not in it.
    const infer::Priors priors(made.log, evidence, kStart);
    if (made.truth.empty()) {
      for (int d = 0; d < priors.dimensions(); ++d) {
        const auto found = held.find(priors.names()[static_cast<std::size_t>(d)]);
        made.truth.push_back(found != held.end() ? found->second : random.normal(1, static_cast<std::uint32_t>(d)));
      }
    }
    const infer::Member member = priors.member(made.truth.data());
    const loop::Timeline timeline =
        infer::timeline_from_log(made.log, kStart, kStart, at, false);
    loop::GridSteps fine;
    fine.refine = 3;
    const loop::Grid grid = loop::make_grid(timeline, {at}, {}, at, fine);
    Catch caught;
    loop::simulate(timeline, grid, member.parameters, member.start, member.ln_h, caught);
    const infer::Met water{caught.y.tan, caught.y.no2, caught.y.no3, -caught.ln_h / loop::kLn10, caught.y.alk};

    // What the owner sees, test by test, replaces the empty readings just added.
    bool no_ammonia = false, sour = false;
    const std::size_t first = made.log.entries.size() - tests.size();
    for (std::size_t k = 0; k < tests.size(); ++k) {
      const std::size_t t = tests[k];
      infer::Observation o = evidence.observations[evidence.observations.size() - tests.size() + k];
      const double met = infer::met_value(o, water, member.nitrate_efficiency);
      const double shown = infer::draw_shown(o, met, infer::bias_of(o, member), random.uniform(2, reading_number),
                                             random.uniform(3, reading_number));
      ++reading_number;
      auto& reading = std::get<records::Reading>(made.log.entries[first + k].body);
      reading.seen = cell(reading.test, *charts[t], shown * o.to_kit);
      if (t == 0 && reading.seen.low == 0) no_ammonia = true;
      if (t == 3 && reading.seen.high < 7.0) sour = true;
    }
    if (no_ammonia) dose(at + 0.01, "ammonium chloride", usual_dose);
    if (sour) dose(at + 0.02, "potassium bicarbonate", 60);
  }
  return made;
}

infer::Posterior truth_as_posterior(const SimulatedLoop& loop, const records::LoopLog& log, records::Instant as_of) {
  infer::Posterior p;
  p.as_of = as_of;
  p.start = kStart;
  p.evidence = infer::evidence_from_log(log, kStart);
  p.priors = std::make_shared<infer::Priors>(log, p.evidence, kStart);
  p.draws.z = Eigen::Map<const Eigen::VectorXd>(loop.truth.data(), static_cast<Eigen::Index>(loop.truth.size()));
  p.draws.weight = {1.0};
  return p;
}

}  // namespace helmwater::tests
