// SPDX-License-Identifier: Apache-2.0
// A scenario on the model at the centre of its priors, a day at a time, as somebody with a test kit would
// live it.
#include <fmt/format.h>

#include <cmath>

#include "handbook/handbook.hpp"
#include "loop/central_loop.hpp"
#include "loop/piecewise.hpp"
#include "scenario.hpp"

namespace helmwater::scenarios {
namespace {

using loop::kMgCaCO3PerMeq;

constexpr double kStep = 0.25;  // d between looks of the recorder
// "Complete": 2 mg N/L cleared to these within a day, as in the published simulation.
constexpr double kTrialDose = 2, kTrialAmmonia = 0.2, kTrialNitrite = 0.15;

loop::Event event_of(const Dose& dose, double day) {
  const loop::State<double> unit = loop_test::per_mmol(dose.substance);
  const double mmol =
      unit.tan > 0 ? dose.amount / unit.tan : dose.amount / kMgCaCO3PerMeq / std::abs(unit.alk);
  return loop_test::dose(day, dose.substance, mmol);
}

struct Water {
  loop::Parameters<double> q{};
  loop::Timeline timeline;  // of constant conditions, no events
  loop::State<double> y;
};

loop::State<double> after(const Water& w, const loop::State<double>& y, double days) {
  return loop_test::run_simulate(w.timeline, w.q, y, {days}).seen.back();
}

bool clears_the_trial_dose(const Water& w) {
  loop::State<double> y = w.y;
  y.tan = std::max(y.tan, kTrialDose);
  y = after(w, y, 1);
  return y.tan < kTrialAmmonia && y.no2 < kTrialNitrite;
}

}  // namespace

double Moment::of(Quantity q) const {
  switch (q) {
    case Quantity::ammonia: return ammonia;
    case Quantity::nitrite: return nitrite;
    case Quantity::nitrate: return nitrate;
    case Quantity::ph: return ph;
    case Quantity::alkalinity: return alkalinity;
    case Quantity::ammonia_capacity: return capacity_ammonia;
    case Quantity::nitrite_capacity: return capacity_nitrite;
  }
  return 0;
}

std::string Course::table() const {
  std::string text = "  day  ammonia nitrite nitrate    pH  alk CaCO3  cap A   cap N\n";
  for (const Moment& m : moments) {
    if (m.day != std::floor(m.day)) continue;
    text +=
        fmt::format("{:5.0f}  {:7.3f} {:7.3f} {:7.3f}  {:5.2f}  {:8.1f} {:7.3f} {:7.3f}\n", m.day, m.ammonia,
                    m.nitrite, m.nitrate, m.ph, m.alkalinity, m.capacity_ammonia, m.capacity_nitrite);
  }
  text += complete ? fmt::format("complete on day {}\n", *complete) : std::string("never complete\n");
  return text + fmt::format("dosed on days {}\n", fmt::join(dose_days, ", "));
}

Course run_scenario(const SetUp& s, double days) {
  Water w{loop_test::central_parameters(), loop_test::steady_timeline(s.temperature_c, s.oxygen_mg_l), {}};
  if (s.ph_high) w.q.ph_high = *s.ph_high;
  w.q.sink = 0;  // the published simulation has no unlogged sink
  w.y = loop_test::aerated_water(s.alkalinity_caco3 / kMgCaCO3PerMeq, w.q.co2_ppm, s.temperature_c,
                                 s.phosphate_p);
  w.y.no3 = s.nitrate_n, w.y.r_a = s.seed_ammonia, w.y.r_n = s.seed_nitrite;
  if (s.fish_ammonia > 0) {
    loop::LoadPiece fish;
    fish.loads.feed_protein_mg_l_d = s.fish_ammonia / w.q.f_tan;
    w.timeline.loads.push_back(fish);
    w.q.f_sol = 0;  // the load is stated as ammonia; solids would come on top
    w.q.f_den = 0;  // nor has the published simulation denitrification
  }
  const loop::Environment env = w.timeline.environment(0);

  Course run;
  for (int i = 0; i * kStep <= days + 1e-9; ++i) {
    const double day = i * kStep;
    run.moments.push_back({day, w.y.tan, w.y.no2, w.y.no3, loop_test::ph(env, w.y), w.y.alk * kMgCaCO3PerMeq,
                           w.y.r_a, w.y.r_n});
    if (!run.complete && clears_the_trial_dose(w)) run.complete = day;

    for (const Dose& d : s.doses) {
      if (std::abs(d.day - day) > kStep / 2) continue;
      w.y = loop::apply_event(w.q, event_of(d, day), w.y);
      run.dose_days.push_back(day);
    }
    for (const Disinfectant& d : s.disinfectant) {
      if (std::abs(d.day - day) > kStep / 2) continue;
      loop::WaterEvent hit;  // no water exchanged: the loss of capacity alone
      hit.kill_strength = d.decades / w.q.kill_log10;
      w.y = loop::apply_event(w.q, {day, hit}, w.y);
    }
    if (day >= 1 && day == std::floor(day)) {
      if (s.plan && w.y.tan < s.plan->below_ammonia && w.y.no2 < s.plan->below_nitrite) {
        const Dose dose{day, s.plan->substance, s.plan->amount};
        w.y = loop::apply_event(w.q, event_of(dose, day), w.y);
        run.dose_days.push_back(day);
      }
      if (s.keep_alkalinity_caco3) {
        const double short_of = *s.keep_alkalinity_caco3 - w.y.alk * kMgCaCO3PerMeq;
        if (short_of > 0)
          w.y = loop::apply_event(w.q, event_of({day, "sodium bicarbonate", short_of}, day), w.y);
      }
    }
    w.y = after(w, w.y, kStep);
  }
  return run;
}

}  // namespace helmwater::scenarios
