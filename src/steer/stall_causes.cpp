// SPDX-License-Identifier: Apache-2.0
#include "steer/stall_causes.hpp"

#include <algorithm>
#include <cmath>

#include "handbook/handbook.hpp"
#include "infer/distributions.hpp"
#include "loop/charge_balance.hpp"

namespace helmwater::steer {
namespace {

using handbook::Cause;
using handbook::Handbook;
using infer::Alteration;
using infer::Member;

// Of untreated water no bacteria are held up above this, mg/L CaCO3 (Biesterfeld 2003). Softer water is the cause "low
// alkalinity": under all others a water drawn softer is as much harder.
constexpr double kSoftBelow = 45;
// Decades that new water may cost where no disinfectant is supposed (estimate).
constexpr double kUsualKill = 0.3;
// Thermometers err by a degree, not by nine: a few readings settle that the water is not colder than stated.
constexpr int kReadingsThatSettle = 2;
// Below this nothing waits to be used up, mg N/L; nor is nitrate looked for before so much was made (estimates).
constexpr double kNothingLeft = 0.3, kNitrateToSee = 2;
// Capacity that was worth losing, mg N/L/d (estimate).
constexpr double kSomeCapacity = 0.2;
// Days with so little to eat that count as hunger, mg N/L (estimates).
constexpr double kEmpty = 0.2;
constexpr int kHungryDays = 5;
constexpr double kHealthyOxygen = 8;  // mg/L
// Share of the disinfectant's chance that lies on logged water changes and medications (estimate).
constexpr double kOnLoggedDays = 0.6;

const Cause& cause(const char* name) { return Handbook::built_in().cause(name); }
double threshold(const char* name) { return Handbook::built_in().threshold(name).fact.value; }

double at(const Cause::Supposition& s, double z) { return s.median * std::exp(s.ln_sd * z); }

double colder_by(const Cause::Supposition& supposed, double usual, double z) {
  return std::min(at(supposed, z), std::max(usual - 3, 0.0));
}

void set_source_alkalinity(Member& m, double meq, bool from_start) {
  m.parameters.source_dic *= meq / m.parameters.source_alk;  // the pH stays
  m.parameters.source_alk = meq;
  if (!from_start) return;
  m.start.alk = m.parameters.source_alk;
  m.start.dic = m.parameters.source_dic;
}

// What keeps the causes apart from each other.
struct Apart {
  bool from_start = true, alkalinity_stated = false;
  void no_soft_water(Member& m) const {
    const double soft = kSoftBelow / loop::kMgCaCO3PerMeq, alk = m.parameters.source_alk;
    if (!alkalinity_stated && alk < soft) set_source_alkalinity(m, soft * soft / alk, from_start);
  }
  static void no_kill(Member& m) { m.parameters.kill_log10 = std::min(m.parameters.kill_log10, kUsualKill); }
  void usual(Member& m) const {
    no_soft_water(m);
    no_kill(m);
  }
};

void slow_down(Member& m, double factor_a, double factor_n) {
  for (auto& w : m.parameters.wander_a) w *= factor_a;
  for (auto& w : m.parameters.wander_n) w *= factor_n;
}

using Change = std::function<void(Member&, const double*)>;

// Moments at which something may have struck, with their chances: logged water changes and medications, and any day.
struct Strikes {
  std::vector<double> days, passed;  // passed: running sum of the chances
  // The number of the moment at a standard normal number.
  double number(double z) const {
    const auto found = std::lower_bound(passed.begin(), passed.end(), infer::normal_cdf(z) * passed.back());
    return static_cast<double>(std::min(found, passed.end() - 1) - passed.begin());
  }
};

Strikes strikes_of(const records::LoopLog& log, records::Instant start, records::Instant as_of) {
  const double end = records::days_between(start, as_of);
  std::vector<std::pair<double, double>> some;  // day, chance
  std::vector<double> logged;
  for (const records::Entry& e : log.entries) {
    if (e.when > as_of || e.when <= start) continue;
    if (std::holds_alternative<records::WaterChange>(e.body) || std::holds_alternative<records::Medication>(e.body)) {
      logged.push_back(records::days_between(start, e.when) + 2e-4);  // right after it
    }
  }
  const double unlogged = logged.empty() ? 1 : 1 - kOnLoggedDays;
  const int days = std::max(1, static_cast<int>(std::floor(end - 1)));
  for (int day = 1; day <= days; ++day) some.emplace_back(day, unlogged / days);
  for (double day : logged) some.emplace_back(day, kOnLoggedDays / static_cast<double>(logged.size()));
  std::sort(some.begin(), some.end());
  Strikes strikes;
  double passed = 0;
  for (const auto& [day, chance] : some) {
    strikes.days.push_back(day);
    strikes.passed.push_back(passed += chance);
  }
  return strikes;
}

class Book {
 public:
  Book(const records::LoopLog& log, records::Instant start, records::Instant as_of, bool later_window)
      : log_(log), start_(start), as_of_(as_of), apart_{!later_window, log.loop.source_water.alkalinity.has_value()} {
    for (const records::Entry& e : log.entries) {
      const auto* reading = std::get_if<records::Reading>(&e.body);
      if (reading == nullptr || e.when > as_of || e.when < start) continue;
      temperatures_ += reading->test == records::Test::temperature;
      nitrates_ += reading->test == records::Test::nitrate;
    }
  }

  Hypotheses all() {
    young();
    low_alkalinity();
    no_phosphate();
    cold();
    low_oxygen();
    disinfectant();
    light();
    no_seed();
    nitrate_unseen();
    return std::move(all_);
  }

 private:
  // With some algae, as most waters have: what they take must not speak for light on the bacteria.
  void add(const char* name, double share, std::vector<std::string> unknowns, Change change,
           std::function<void(loop::Timeline&)> timeline = {}) {
    const std::size_t algae = unknowns.size();
    unknowns.emplace_back("uptake");
    const auto& uptake = cause("young").supposition("uptake");
    add_as_is(name, share, std::move(unknowns), [change = std::move(change), algae, &uptake](Member& m, const double* z) {
      m.parameters.sink += at(uptake, z[algae]);
      change(m, z);
    }, std::move(timeline));
  }
  void add_as_is(const char* name, double share, std::vector<std::string> unknowns, Change change,
                 std::function<void(loop::Timeline&)> timeline = {}) {
    auto altered = std::make_shared<Alteration>();
    for (std::string& unknown : unknowns) altered->unknowns.push_back("supposed_" + unknown);
    altered->member = std::move(change);
    altered->timeline = std::move(timeline);
    all_.tried.push_back({name, share, std::move(altered)});
  }
  void set_aside(const char* name, std::string why) { all_.set_aside.push_back({name, std::move(why)}); }

  void young() {
    add("young", 1, {}, [apart = apart_](Member& m, const double*) { apart.usual(m); });
  }
  void low_alkalinity() {
    if (apart_.alkalinity_stated) return;  // the plain model runs into it, if that is so
    const auto& supposed = cause("low_alkalinity").supposition("source_alkalinity");
    add("low_alkalinity", 1, {"alkalinity"}, [&supposed, apart = apart_](Member& m, const double* z) {
      apart.no_kill(m);
      set_source_alkalinity(m, at(supposed, z[0]) / loop::kMgCaCO3PerMeq, apart.from_start);
    });
  }
  void no_phosphate() {
    const auto& supposed = cause("no_phosphate").supposition("phosphate");
    add("no_phosphate", 1, {"phosphate"}, [&supposed, apart = apart_](Member& m, const double* z) {
      apart.usual(m);
      m.parameters.source_p = at(supposed, z[0]);
      m.start.p = apart.from_start ? m.parameters.source_p : std::min(m.start.p, m.parameters.source_p);
    });
  }
  void cold() {
    if (temperatures_ >= kReadingsThatSettle) {
      set_aside("cold", "the log has temperature readings");
      return;
    }
    const auto& supposed = cause("cold").supposition("degrees_colder");
    const double usual = log_.loop.typical_temperature.value();
    add("cold", 1, {"degrees_colder"}, [&supposed, usual, apart = apart_](Member& m, const double* z) {
      apart.usual(m);
      const double degrees = colder_by(supposed, usual, z[0]);
      slow_down(m, std::exp(-m.parameters.ln_theta_a * degrees), std::exp(-m.parameters.ln_theta_n * degrees));
      const double decay = std::pow(Handbook::built_in().prior("theta_b").a, -degrees);
      m.parameters.b_a *= decay;
      m.parameters.b_n *= decay;
    });
  }
  void low_oxygen() {
    const auto& supposed = cause("low_oxygen").supposition("oxygen");
    add("low_oxygen", 1, {"oxygen"}, [&supposed, apart = apart_](Member& m, const double* z) {
      apart.usual(m);
      const double o = at(supposed, z[0]);
      const auto share = [&](double k) { return o / (k + o) * (k + kHealthyOxygen) / kHealthyOxygen; };
      slow_down(m, share(m.parameters.k_oa), share(m.parameters.k_on));
      m.oxygen_held = o;
    });
  }
  void disinfectant() {
    const Strikes strikes = strikes_of(log_, start_, as_of_);
    const auto& supposed = cause("disinfectant").supposition("decades");
    add(
        "disinfectant", 1, {"day", "decades"},
        [&supposed, strikes, apart = apart_](Member& m, const double* z) {
          apart.usual(m);
          m.parameters.hit_number = strikes.number(z[0]);
          m.parameters.hit_log10 = at(supposed, z[1]);
        },
        [days = strikes.days](loop::Timeline& timeline) {
          for (std::size_t i = 0; i < days.size(); ++i) {
            timeline.events.push_back({days[i], loop::HitEvent{static_cast<int>(i)}});
          }
          std::stable_sort(timeline.events.begin(), timeline.events.end(),
                           [](const loop::Event& a, const loop::Event& b) { return a.day < b.day; });
        });
  }
  void light() {
    const Cause& c = cause("light");
    const auto &rate = c.supposition("rate"), &uptake = c.supposition("uptake");
    add_as_is("light", 1, {"rate", "uptake"}, [&rate, &uptake, apart = apart_](Member& m, const double* z) {
      apart.usual(m);
      slow_down(m, at(rate, z[0]), at(rate, z[0]));
      m.parameters.sink += at(uptake, z[1]);
    });
  }
  void no_seed() {
    if (!apart_.from_start) {
      set_aside("no_seed", "the loop has run for more than two months");
      return;
    }
    const auto& supposed = cause("no_seed").supposition("seed");
    add("no_seed", 1, {"seed_a", "seed_n"}, [&supposed, apart = apart_](Member& m, const double* z) {
      apart.usual(m);
      m.start.r_a *= at(supposed, z[0]);
      m.start.r_n *= at(supposed, 0.8 * z[0] + 0.6 * z[1]);
    });
  }
  void nitrate_unseen() {
    if (nitrates_ == 0) {
      set_aside("nitrate_unseen", "nitrate was never tested");
      return;
    }
    const Cause& c = cause("nitrate_unseen");
    const auto &shown = c.supposition("nitrate_shown"), &uptake = c.supposition("uptake");
    const std::vector<infer::KitSlot> slots = infer::evidence_from_log(log_, start_).slots;
    std::vector<std::size_t> nitrate;
    for (std::size_t i = 0; i < slots.size(); ++i) {
      if (slots[i].channel == infer::Channel::nitrate) nitrate.push_back(i);
    }
    const double of_vials = nitrate.empty() ? 0 : 0.6;  // the commoner (estimate)
    if (!nitrate.empty()) {
      add("nitrate_unseen", of_vials, {"nitrate_shown"}, [&shown, nitrate, apart = apart_](Member& m, const double* z) {
        apart.usual(m);
        for (std::size_t slot : nitrate) m.kit_bias[slot] += std::log(at(shown, z[0]));
      });
    }
    add_as_is("nitrate_unseen", 1 - of_vials, {"uptake"}, [&uptake, apart = apart_](Member& m, const double* z) {
      apart.usual(m);
      m.parameters.sink += at(uptake, z[0]);
    });
  }

  const records::LoopLog& log_;
  records::Instant start_, as_of_;
  Apart apart_;
  int temperatures_ = 0, nitrates_ = 0;
  Hypotheses all_;
};

// What the plain model runs into by itself, of what the log says went in.
std::string limit_met(const MemberCourse& course) {
  const auto& now = course.at.back();
  if (now.alk * loop::kMgCaCO3PerMeq < threshold("alkalinity_out")) return "low_alkalinity";
  if (course.celsius < threshold("cold_water")) return "cold";
  if (course.oxygen < threshold("little_oxygen")) return "low_oxygen";
  double ammonia = 0, capacity_a = 0, capacity_n = 0;
  for (const auto& y : course.at) {
    ammonia = std::max<double>(ammonia, y.tan);
    capacity_a = std::max<double>(capacity_a, y.r_a);
    capacity_n = std::max<double>(capacity_n, y.r_n);
  }
  if (ammonia > threshold("much_ammonia") && now.tan + now.no2 > ammonia / 4) return "too_much_ammonia";
  if (now.p / (course.k_p + now.p) < 0.3) return "no_phosphate";
  const double left = threshold("capacity_left");
  const auto hungry = [&](double now_left, double most) { return most > kSomeCapacity && now_left < left * most; };
  const auto starved = std::count_if(course.at.begin(), course.at.end(),
                                     [](const auto& y) { return y.tan + y.no2 < kEmpty && std::max(y.r_a, y.r_n) > kSomeCapacity / 4; });
  if (starved >= kHungryDays && (hungry(now.r_a, capacity_a) || hungry(now.r_n, capacity_n))) return "starvation";
  return "young";
}

}  // namespace

double degrees_colder(const records::LoopLog& log, const infer::Posterior& posterior, std::size_t draw) {
  const std::vector<std::string>& names = posterior.priors->names();
  const auto found = std::find(names.begin(), names.end(), "supposed_degrees_colder");
  if (found == names.end()) return 0;
  return colder_by(cause("cold").supposition("degrees_colder"), log.loop.typical_temperature.value(),
                   posterior.draws.z(found - names.begin(), static_cast<Eigen::Index>(draw)));
}

Hypotheses hypotheses_for(const records::LoopLog& log, records::Instant start, records::Instant as_of, bool later_window) {
  return Book(log, start, as_of, later_window).all();
}

std::string cause_of(const Hypothesis& hypothesis, const MemberCourse& course) {
  const auto& now = course.at.back();
  if (hypothesis.cause == "nitrate_unseen") {
    // Made since the start: what was there at first, and what the vials of the first weeks may show, is no riddle.
    float most = 0;
    for (const auto& y : course.at) most = std::max(most, y.r_n);
    const bool made = now.no3 - course.source_no3 > kNitrateToSee || most > 0.5f;
    return made ? hypothesis.cause : "young";
  }
  if (now.tan + now.no2 < kNothingLeft) return "young";
  if (hypothesis.cause == "young") return limit_met(course);
  if (hypothesis.cause == "low_alkalinity" && now.alk * loop::kMgCaCO3PerMeq > kSoftBelow) return "young";
  return hypothesis.cause;
}

}  // namespace helmwater::steer
