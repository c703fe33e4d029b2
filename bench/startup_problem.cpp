// SPDX-License-Identifier: Apache-2.0
#include "startup_problem.hpp"

#include <algorithm>
#include <stdexcept>

#include "infer/priors.hpp"
#include "infer/random.hpp"
#include "infer/timeline_from_log.hpp"
#include "simulated_loop.hpp"

namespace helmwater::bench {
namespace {

std::vector<Segment> segments_of(const loop::Timeline& timeline, const std::vector<double>& days) {
  std::vector<double> stops{0.0, days.back()};
  const auto add = [&](double day) {
    if (day > 0 && day < days.back()) stops.push_back(day);
  };
  for (const loop::Event& e : timeline.events) add(e.day);
  for (const loop::LoadPiece& piece : timeline.loads) {
    add(piece.from);
    add(piece.to);
  }
  std::sort(stops.begin(), stops.end());
  stops.erase(std::unique(stops.begin(), stops.end()), stops.end());
  std::vector<Segment> segments;
  for (std::size_t i = 0; i + 1 < stops.size(); ++i) {
    Segment s;
    s.from = stops[i];
    s.to = stops[i + 1];
    s.loads = timeline.loads_at((s.from + s.to) / 2);
    for (const loop::Event& e : timeline.events) {
      if (e.day == s.from) s.before.push_back(e);
    }
    for (double d : days) {
      if (d > s.from && d <= s.to) s.days.push_back(d);
    }
    segments.push_back(std::move(s));
  }
  return segments;
}

}  // namespace

StartupProblem startup_problem() {
  StartupProblem p;
  const tests::SimulatedLoop simulated = tests::simulate_loop(1, 0, kDays);
  const records::LoopLog log = tests::unread(simulated.log);
  const records::Instant start = *log.loop.started;
  for (int day = 1; day <= kDays; ++day) p.days.push_back(day);
  p.timeline = infer::timeline_from_log(log, start, records::plus_days(start, kDays), kDays, false);
  if (p.timeline.temperature_c.size() != 1 || !p.timeline.oxygen_held.empty() ||
      !p.timeline.plantings.empty() || !p.timeline.look_days.empty()) {
    throw std::logic_error(
        "the table's loop must have one temperature, oxygen as a state, no plants and no plan");
  }
  p.environment = p.timeline.environment(0);
  p.segments = segments_of(p.timeline, p.days);
  p.events = static_cast<int>(p.timeline.events.size());
  const infer::Priors priors(log, infer::evidence_from_log(log, start));
  const infer::Draws random(4, 0);
  for (std::uint32_t m = 0; m < kMembers; ++m) {
    std::vector<double> z;
    for (int d = 0; d < priors.dimensions(); ++d)
      z.push_back(random.normal(m, static_cast<std::uint32_t>(d)));
    const infer::Member drawn = priors.member(z.data());
    p.members.push_back({drawn.parameters, drawn.start, drawn.ln_h});
  }
  return p;
}

}  // namespace helmwater::bench
