// SPDX-License-Identifier: Apache-2.0
#include "hand_made.hpp"

#include <cmath>
#include <limits>
#include <sstream>

namespace helmwater::app_test {

using infer::Milestone;
using infer::Outlook;
using infer::Quantiles;
using records::Basis;
using records::Test;

records::Instant at(const std::string& utc) { return records::parse_instant(utc + "Z", "UTC").value().when; }

Quantiles spread(double middle, double share) {
  return {middle * (1 - share), middle * (1 - share / 2), middle, middle * (1 + share / 2),
          middle * (1 + share)};
}

Milestone between(const std::string& p05, const std::string& p50, const std::string& p95) {
  Milestone m;
  m.p05 = at(p05);
  m.p50 = at(p50);
  m.p95 = at(p95);
  m.p25 = *m.p05 + (*m.p50 - *m.p05) / 2;
  m.p75 = *m.p50 + (*m.p95 - *m.p50) / 2;
  m.probability_within_days = 0.98;
  return m;
}
Milestone open_from(const std::string& p05, double probability) {
  Milestone m;
  m.p05 = at(p05);
  m.probability_within_days = probability;
  return m;
}
Milestone never(double probability) {
  Milestone m;
  m.probability_within_days = probability;
  return m;
}

Outlook start_up() {
  Outlook o;
  o.loop = "Test bench";
  o.zone = "Europe/Vienna";
  o.started = at("2026-03-01T08:00");
  o.as_of = at("2026-03-12T08:00");
  o.end = at("2026-05-11T08:00");
  o.readings_used = 5;
  o.members = 4000;
  o.effective_members = 1234;
  o.plan.redose = records::Redose::to_target;
  o.ammonia = spread(1.37, 0.2);
  o.nitrite = spread(4.26, 0.3);
  o.nitrate = spread(12.4, 0.4);
  o.ph = {7.5, 7.55, 7.6, 7.65, 7.7};
  o.alkalinity = spread(123.4, 0.1);
  o.free_ammonia = spread(0.0213, 0.2);
  o.ammonia_capacity = spread(0.87, 0.3);
  o.nitrite_capacity = spread(0.052, 0.5);
  o.stage = infer::Stage::nitrite_rising;
  o.stage_since = at("2026-03-08T08:00");
  o.stage_probability = 0.96;
  o.ammonia_first_clear = between("2026-03-14T08:00", "2026-03-18T08:00", "2026-03-23T08:00");
  o.nitrite_peak = between("2026-03-16T08:00", "2026-03-19T08:00", "2026-03-24T08:00");
  o.nitrite_peak_height = spread(9.1, 0.3);
  o.nitrite_first_clear = between("2026-03-26T08:00", "2026-04-01T08:00", "2026-04-09T08:00");
  o.ready_for_fish = between("2026-03-28T08:00", "2026-04-04T08:00", "2026-04-14T08:00");
  o.alkalinity_runs_out = never(0.01);
  for (records::Instant t = o.started; t <= o.end; t = records::plus_days(t, 0.25)) {
    const double day = records::days_between(o.started, t);
    const double ammonia = 3 / (1 + std::exp((day - 12) / 2)),
                 nitrite = 9 * std::exp(-(day - 18) * (day - 18) / 40);
    Outlook::Moment m;
    m.when = t;
    m.of = {spread(ammonia, 0.2), spread(nitrite, 0.3), spread(2 + day, 0.4),
            Quantiles{7.3, 7.4, 7.5, 7.6, 7.7}, spread(130 - day, 0.1)};
    o.series.push_back(m);
  }
  infer::Advice a;
  a.code = "test_nitrite";
  a.urgency = "today";
  a.text = "Test nitrite in diluted water.";
  a.because = {"nitrite is probably 4.3 mg/L as ion (3.0 to 5.5)", "it decides what comes next"};
  a.caution = {
      "Use clean water without ammonia for diluting; rain water will do, and water from a bottle too.",
      "Wear goggles."};
  o.advice = {a};
  return o;
}

Outlook with_fish() {
  Outlook o = start_up();
  o.fish = true;
  o.plan = {};
  o.plan.feed_g_per_day = 38.4;
  o.ready_for_fish = {};
  o.nitrite = spread(0.08, 0.3);
  o.free_ammonia = spread(0.009, 0.4);
  o.risk_free_ammonia = {0.02, 0.04, 0.12};
  o.risk_nitrite = {0.1, 0.81, 0.93};
  o.advice[0].urgency = "now";
  return o;
}

records::Entry reading(int line, const std::string& when, Test test, Basis basis, double low, double high,
                       const std::string& value) {
  records::Reading r;
  r.test = test;
  r.basis = basis;
  r.seen.low = low;
  r.seen.high = high;
  r.value_text = value;
  records::Entry e;
  e.line = line;
  e.when = at(when);
  e.to_the_minute = true;
  e.body = r;
  e.what_text = std::string(records::to_text(test));
  e.value_text = value;
  return e;
}

records::LoopLog empty_log() {
  records::LoopLog log;
  log.loop.name = "Test bench";
  log.loop.volume = units::Litres{500};
  log.loop.time_zone = "Europe/Vienna";
  log.loop.started = at("2026-03-01T08:00");
  return log;
}

records::LoopLog log_of_start_up() {
  records::LoopLog log = empty_log();
  records::Entry dose, change;
  dose.line = 2;
  dose.when = at("2026-03-01T09:00");
  dose.body = records::Dose{records::Dose::Amount::grams, 4.5, Basis::none, "ammonium chloride", {}};
  change.line = 5;
  change.when = at("2026-03-07T09:00");
  change.body = records::WaterChange{0.25, {}, ""};
  const double open = std::numeric_limits<double>::infinity();
  log.entries = {dose,
                 reading(3, "2026-03-02T08:00", Test::ammonia, Basis::n, 2, 5, "2..5"),
                 reading(4, "2026-03-05T08:00", Test::alkalinity, Basis::dkh, 7.5, 8.5, "8"),
                 change,
                 reading(6, "2026-03-08T08:00", Test::nitrite, Basis::no2, 0.2, 0.6, "0.4"),
                 reading(7, "2026-03-10T08:00", Test::nitrite, Basis::no2, 6, open, ">6"),
                 reading(8, "2026-03-12T08:00", Test::ph, Basis::none, 7.4, 7.8, "7.6")};
  return log;
}

std::vector<std::string> lines_of(const std::string& page) {
  std::vector<std::string> lines;
  std::istringstream in(page);
  for (std::string line; std::getline(in, line);) lines.push_back(line);
  return lines;
}

std::string uncoloured(const std::string& page) {
  std::string out;
  for (std::size_t i = 0; i < page.size(); ++i) {
    if (page[i] == '\x1b') {
      i = page.find('m', i);
      continue;
    }
    out += page[i];
  }
  return out;
}

bool has(const std::string& page, const std::string& text) { return page.find(text) != std::string::npos; }

std::string unwrapped(const std::string& page) {
  std::string out;
  for (const char c : page) {
    if (c != ' ' && c != '\n') {
      out += c;
    } else if (!out.empty() && out.back() != ' ') {
      out += ' ';
    }
  }
  return out;
}

}  // namespace helmwater::app_test
