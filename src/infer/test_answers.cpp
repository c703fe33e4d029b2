// SPDX-License-Identifier: Apache-2.0
#include "infer/test_answers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "handbook/handbook.hpp"
#include "infer/distributions.hpp"

namespace helmwater::infer {
namespace {

using records::Basis;
using records::Test;

constexpr double kInfinity = std::numeric_limits<double>::infinity();

// Where no chart is known: lowest and highest number and the step, a factor (pH: a difference). About as fine as a plain
// number's noise, so that little is lost.
struct OwnCells {
  Basis basis;
  double lowest, highest, step;
};
OwnCells own_cells(Test test) {
  switch (test) {
    case Test::nitrite: return {Basis::no2, 0.1, 60, 1.5};
    case Test::nitrate: return {Basis::no3, 2, 400, 1.5};
    case Test::ph: return {Basis::none, 5.6, 9.4, 0.2};
    case Test::alkalinity: return {Basis::caco3, 10, 500, 1.3};
    default: return {Basis::nh3, 0.1, 20, 1.5};
  }
}

const records::Entry* last_of(const records::LoopLog& log, Test test, records::Instant as_of) {
  const records::Entry* last = nullptr;
  for (const records::Entry& e : log.entries) {
    const auto* r = std::get_if<records::Reading>(&e.body);
    if (r != nullptr && r->test == test && e.when <= as_of) last = &e;
  }
  return last;
}

bool valid_at(const records::Kit& kit, records::Instant when) {
  return (!kit.from || *kit.from <= when) && (!kit.until || when < *kit.until);
}

// Index into the loop's kits, -1: none.
int kit_for(const records::LoopLog& log, Test test, records::Instant when, const records::Reading* last) {
  const auto& kits = log.loop.kits;
  if (last != nullptr && (last->kit < 0 || valid_at(kits[static_cast<std::size_t>(last->kit)], when))) return last->kit;
  for (std::size_t k = 0; k < kits.size(); ++k) {
    if (kits[k].test == test && valid_at(kits[k], when)) return static_cast<int>(k);
  }
  return -1;
}

// Edges between the steps of a chart, as a written step is taken (docs/reference/loop_folder.md).
std::vector<double> edges_of(const std::vector<double>& steps, bool ph) {
  std::vector<double> edges;
  for (std::size_t k = 0; k + 1 < steps.size(); ++k) {
    const double a = steps[k], b = steps[k + 1];
    edges.push_back(ph ? (a + b) / 2 : a <= 0 ? b / 2 : std::sqrt(a * b));
  }
  return edges;
}

// As it stands behind the number on the owner's own chart.
std::string unit_of(records::Basis basis) {
  switch (basis) {
    case records::Basis::none: return "";
    case records::Basis::dkh: return " dKH";
    case records::Basis::meq: return " meq/L";
    default: return fmt::format(" mg/L as {}", records::to_text(basis));
  }
}

// The noise of one look at `when` by this person: what evidence_from_log makes of such a reading in this log, as an interval.
Observation look_at(const records::LoopLog& log, const Posterior& posterior, const records::Reading& reading, records::Instant when,
                    const std::string& reader) {
  records::LoopLog asked;
  asked.loop = log.loop;
  for (const records::Entry& e : log.entries) {
    if (std::holds_alternative<records::Dose>(e.body) && e.when < when) asked.entries.push_back(e);
  }
  records::Entry entry;
  entry.when = when;
  entry.body = reading;
  asked.entries.push_back(entry);
  const Evidence evidence = evidence_from_log(asked, posterior.start);
  Observation look = evidence.observations.back();
  if (look.shape != records::Seen::Shape::interval) {
    // A plain number's own spread, as the noise of cells.
    const double relative = look.shape == records::Seen::Shape::normal && look.channel != Channel::ph
                                ? look.sd / std::max(look.centre, 1e-3) : look.sd;
    look.noise_sd = std::hypot(look.noise_sd, relative);
    look.shape = records::Seen::Shape::interval;
  }
  if (look.kit_slot >= 0) {
    const auto& slots = posterior.evidence.slots;
    const auto found = std::find_if(slots.begin(), slots.end(), [&](const KitSlot& s) {
      return s.channel == look.channel && s.kit == reading.kit;
    });
    look.kit_slot = found == slots.end() ? -1 : static_cast<int>(found - slots.begin());
    if (found == slots.end()) {  // a kit never used: its bias is as wide as such kits' are
      const char* name = look.channel == Channel::ammonia   ? "kit_bias_ammonia"
                         : look.channel == Channel::nitrite ? "kit_bias_nitrite"
                         : look.channel == Channel::nitrate ? "kit_bias_nitrate"
                         : look.channel == Channel::ph      ? "kit_bias_ph"
                                                            : "kit_bias_alkalinity";
      look.noise_sd = std::hypot(look.noise_sd, handbook::Handbook::built_in().prior(name).b);
    }
    const auto& people = posterior.evidence.people;
    const char* prior = person_bias_prior(look.channel);
    if (!people.empty() && prior != nullptr) {
      const auto person = std::find_if(people.begin(), people.end(), [&](const PersonSlot& s) {
        return s.channel == look.channel && s.person == reader;
      });
      if (person != people.end()) look.person_slot = static_cast<int>(person - people.begin());
      else look.noise_sd = std::hypot(look.noise_sd, handbook::Handbook::built_in().prior(prior).b);
    }
  }
  return look;
}

}  // namespace

TestAnswers answers_of_test(const records::LoopLog& log, const Posterior& posterior, Test test, records::Instant when) {
  // Taken to be read by who read this test last.
  const records::Entry* last_entry = last_of(log, test, posterior.as_of);
  const auto* last = last_entry == nullptr ? nullptr : &std::get<records::Reading>(last_entry->body);
  records::Reading reading;
  reading.test = test;
  reading.kit = kit_for(log, test, when, last);
  const OwnCells own = own_cells(test);
  reading.basis = own.basis;
  std::vector<double> steps;
  if (reading.kit >= 0) {
    const records::Kit& kit = log.loop.kits[static_cast<std::size_t>(reading.kit)];
    reading.basis = kit.basis;
    if (kit.steps.size() >= 2) steps = kit.steps;
  }
  const bool ph = test == Test::ph;
  const bool charted = !steps.empty();
  if (!charted) {
    const double factor = records::to_standard_factor(test, reading.basis) / records::to_standard_factor(test, own.basis);
    for (double x = own.lowest; x <= own.highest; x = ph ? x + own.step : x * own.step) steps.push_back(ph ? x : x / factor);
    if (last != nullptr && last->meter) {
      reading.seen = last->seen;
      reading.meter = true;
    } else {
      reading.seen.shape = ph ? records::Seen::Shape::normal : records::Seen::Shape::lognormal;
      reading.seen.centre = ph ? 7 : 1;
      reading.seen.sd = ph ? 0.2 : 0.25;
    }
  }
  const Observation look = look_at(log, posterior, reading, when, last_entry == nullptr ? std::string() : reader_of(*last_entry));
  const double to_model = records::to_standard_factor(test, reading.basis);
  const std::vector<double> edges = edges_of(steps, ph);
  TestAnswers answers;
  answers.test = test;
  for (std::size_t k = 0; k < steps.size(); ++k) {
    Observation cell = look;
    cell.low = k == 0 ? (ph ? -kInfinity : 0) : edges[k - 1] * to_model;
    cell.high = k + 1 == steps.size() ? kInfinity : edges[k] * to_model;
    prepare(cell);
    answers.cells.push_back(cell);
    const std::string number = fmt::format("{:.{}g}", steps[k], charted ? 4 : 2);
    const std::string amount = number + unit_of(reading.basis);
    answers.words.push_back(k == 0 && steps[k] > 0  ? amount + " or less"
                            : k + 1 == steps.size() ? amount + " or more"
                            : charted               ? amount
                                                    : "about " + amount);
  }
  return answers;
}

Eigen::MatrixXd chances(const TestAnswers& answers, const std::vector<double>& met, const std::vector<double>& bias) {
  const auto cells = static_cast<Eigen::Index>(answers.cells.size());
  Eigen::MatrixXd p(static_cast<Eigen::Index>(met.size()), cells);
  for (std::size_t m = 0; m < met.size(); ++m) {
    const auto row = static_cast<Eigen::Index>(m);
    const Observation& any = answers.cells.front();
    const double centre = shown_on_scale(any, met[m], bias[m]), sd = noise_on_scale(any);
    double below = 0, sum = 0;
    for (Eigen::Index k = 0; k < cells; ++k) {
      const Observation& cell = answers.cells[static_cast<std::size_t>(k)];
      const double up_to = k + 1 == cells ? 1 : quick_normal_cdf((cell.scale_high - centre) / sd);
      p(row, k) = (1 - cell.misread) * std::max(up_to - below, 0.0) + cell.misread * cell.misread_likelihood;
      sum += p(row, k);
      below = up_to;
    }
    p.row(row) /= sum;
  }
  return p;
}

}  // namespace helmwater::infer
