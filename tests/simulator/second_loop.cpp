// SPDX-License-Identifier: Apache-2.0
#include "second_loop.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <map>
#include <stdexcept>

#include "dice.hpp"
#include "records/loop_folder.hpp"
#include "two_tanks.hpp"
#include "vial_reader.hpp"

namespace helmwater::tests {
namespace {

using std::chrono::sys_days;
const records::Instant kStart = sys_days{std::chrono::year{2026} / 4 / 7} + std::chrono::hours{8};
constexpr double kMeqPerMgCaCO3 = 1 / 50.04;

enum StartType { kUnseeded, kBottled, kSeededMedia, kFish };
constexpr std::array<const char*, 4> kStartWords{"unseeded", "bottled culture", "seeded media", "fish"};

int tick_of(double day) { return static_cast<int>(std::lround(day * kTicksPerDay)); }
records::Instant instant_of(int tick) { return kStart + std::chrono::minutes{15 * tick}; }

// Of stationary sd `sd` and correlation time `days`, one value an hour.
std::vector<double> wandering(Dice& dice, double sd, double days, int hours) {
  std::vector<double> x{dice.normal(0, sd)};
  const double keep = std::exp(-1 / (24 * days));
  for (int k = 1; k < hours; ++k) x.push_back(keep * x.back() + sd * std::sqrt(1 - keep * keep) * dice.normal(0, 1));
  return x;
}

// What the owner knows about his loop, beside what it is.
struct Stated {
  double litres = 300, temperature = 24, turnover = 1;
  bool with_alkalinity = false, with_ph = false, without_disinfectant = false;
  double alkalinity = 100, ph = 7.5;
};

struct World {
  StartType start = kUnseeded;
  Nature nature;
  Stated stated;
};

// Medians and spreads are published where the text says so, else estimates; none is fitted to anything.
World draw_world(Dice& dice, int index, double days) {
  World w;
  w.start = static_cast<StartType>(index % 4);
  Nature& n = w.nature;
  const double litres = dice.lognormal(350, 0.6);
  w.stated.litres = litres > 200 ? 50 * std::round(litres / 50) : 10 * std::round(litres / 10);
  const double true_litres = w.stated.litres * std::exp(dice.normal(-0.02, 0.10));  // stones, levels, pipes
  const double bed = dice.between(0.15, 0.4);
  n.tank_litres = (1 - bed) * true_litres;
  n.bed_litres = bed * true_litres;
  w.stated.turnover = std::round(10 * dice.between(0.3, 1.5)) / 10;
  n.flow_per_day = 24 * w.stated.turnover * dice.between(0.6, 1.0) * true_litres;  // pumps give less than they say

  n.growth_a = dice.lognormal(0.72, 0.30);  // published 0.3 to 1.5
  n.growth_n = dice.lognormal(0.64, 0.28);  // published 0.34 to 1.05
  n.decay_a = dice.lognormal(0.08, 0.4);    // published 0.014 to 0.17
  n.decay_n = dice.lognormal(0.06, 0.4);
  n.yield_a = dice.between(0.11, 0.21);     // published ranges
  n.yield_n = dice.between(0.03, 0.09);
  n.activation_a = dice.normal(68, 8);      // published centres
  n.activation_n = dice.normal(44, 8);
  n.half_a = dice.lognormal(0.6, 0.6);      // published 0.14 to 2.4
  n.half_n = dice.lognormal(0.35, 0.7);     // published 0.06 to 3
  n.haldane_a = dice.lognormal(70, 0.6);
  n.haldane_n = dice.lognormal(40, 0.6);
  n.free_ammonia_n = dice.lognormal(0.7, 0.7);  // published 0.2 to 6
  n.acid_half = dice.normal(6.3, 0.25);
  n.base_half = dice.normal(9.4, 0.3);
  n.carbonate_half = dice.lognormal(0.12, 0.4);  // impaired at 40 mg/L CaCO3, not at 45, is the only figure
  n.oxygen_half_a = dice.lognormal(0.5, 0.4);   // published 0.1 to 1.45
  n.oxygen_half_n = dice.lognormal(0.8, 0.5);   // published 0.1 to 1.5
  n.film_a = dice.lognormal(30, 0.7);
  n.film_n = dice.lognormal(30, 0.7);
  n.lag_a = dice.chance(0.5) ? 0 : dice.lognormal(1.5, 0.7);
  n.lag_n = dice.chance(0.5) ? 0 : dice.lognormal(1.5, 0.7);
  if (w.start == kSeededMedia) n.lag_a *= 0.3, n.lag_n *= 0.3;
  n.mineralisation = dice.lognormal(0.15, 0.5);
  n.kla_tank = dice.lognormal(60, 0.6);
  n.kla_bed = dice.lognormal(15, 0.6);
  n.air_co2_ppm = dice.lognormal(560, 0.3);
  n.night_co2_ppm = dice.between(0, 0.3) * n.air_co2_ppm;
  n.algae = dice.lognormal(0.3, 1.0);
  n.denitrification = dice.lognormal(0.003, 1.0);
  n.evaporation = dice.lognormal(0.012, 0.5) * true_litres;
  n.uptake = dice.lognormal(0.25, 0.4);         // published 0.1 to 0.6
  n.excreted = 0.575 * dice.lognormal(0.95, 0.12);
  n.faeces = dice.between(0.08, 0.30);          // published 0.07 to 0.32

  const double luck_a = dice.normal(0, 1), luck_n = 0.4 * luck_a + std::sqrt(1 - 0.16) * dice.normal(0, 1);
  const auto seeds = [&](double a, double n_step, double sd) {
    n.seed_a = a * std::exp(sd * luck_a);
    n.seed_n = n_step * std::exp(sd * luck_n);
  };
  seeds(2e-3, 1.5e-3, 1.9);
  if (w.start == kBottled && dice.chance(0.55)) seeds(0.04, 0.03, 1.2);  // else the bottle was dead
  if (w.start == kSeededMedia) seeds(0.15, 0.12, 0.9);
  if (w.start == kFish) seeds(6e-3, 5e-3, 1.4);
  n.bed_share = dice.between(0.6, 0.95);

  const int hours = static_cast<int>(24 * days) + 3;
  const double mean = dice.between(20, 29), swing = dice.between(0.1, 1.8);
  n.temperature = wandering(dice, dice.between(0.2, 1.2), 5, hours);
  for (int k = 0; k < hours; ++k)  // warmest at four in the afternoon
    n.temperature[static_cast<std::size_t>(k)] += mean + swing * std::sin(2 * 3.14159265358979 * (k - 2) / 24.0);
  const double sd = dice.between(0.1, 0.35), memory = dice.between(4, 14);
  const std::vector<double> shared = wandering(dice, sd, memory, hours);
  n.wander_a = wandering(dice, sd, memory, hours);
  n.wander_n = wandering(dice, sd, memory, hours);
  for (std::size_t k = 0; k < shared.size(); ++k) {  // correlation 0.3 between the two
    n.wander_a[k] = std::sqrt(0.3) * shared[k] + std::sqrt(0.7) * n.wander_a[k];
    n.wander_n[k] = std::sqrt(0.3) * shared[k] + std::sqrt(0.7) * n.wander_n[k];
  }
  w.stated.temperature = std::round(mean + dice.normal(0, 0.8));

  n.source.nitrate = std::max(0.0, dice.normal(0.8, 2.3));  // never stated
  const double alkalinity = std::clamp(dice.lognormal(115, 0.5), 25.0, 350.0);
  n.source.alkalinity = alkalinity * kMeqPerMgCaCO3;
  n.source.ph = dice.normal(7.5, 0.25);
  w.stated.with_alkalinity = dice.chance(0.5);
  w.stated.alkalinity = 10 * std::max(1.0, std::round(alkalinity * dice.lognormal(1, 0.08) / 10));
  w.stated.with_ph = dice.chance(0.4);
  w.stated.ph = std::round(10 * (n.source.ph + dice.normal(0, 0.1))) / 10;
  w.stated.without_disinfectant = dice.chance(0.6);
  if (!w.stated.without_disinfectant && dice.chance(0.35)) n.kill_decades = std::max(0.0, dice.normal(0.4, 0.3));
  return w;
}

std::string toml_of(const World& w, const Kits& kits, int index, const std::string& air) {
  std::string t = fmt::format("name = \"second loop {}\"\nvolume_l = {:.0f}\nstarted = 2026-04-07T08:00:00Z\nstart = \"{}\"\n"
                              "typical_temperature_c = {:.0f}\nbed = \"media\"\nturnover_per_h = {:.1f}\nair = \"{}\"\n",
                              index, w.stated.litres, kStartWords[w.start], w.stated.temperature, w.stated.turnover, air);
  if (w.stated.with_alkalinity || w.stated.with_ph || w.stated.without_disinfectant) t += "[source_water]\n";
  if (w.stated.with_alkalinity) t += fmt::format("alkalinity_mg_l_caco3 = {:.0f}\n", w.stated.alkalinity);
  if (w.stated.with_ph) t += fmt::format("ph = {:.1f}\n", w.stated.ph);
  if (w.stated.without_disinfectant) t += "disinfectant = \"none\"\n";
  for (const Chart& chart : kits.charts) {
    t += fmt::format("[[kit]]\ntest = \"{}\"\n", chart.test);
    if (!chart.basis.empty()) t += fmt::format("basis = \"{}\"\n", chart.basis);
    t += fmt::format("steps = [{}]\n", fmt::join(chart.steps, ", "));
  }
  return t;
}

enum class Source { weighed_salt, solution, effect };

// The owner with his loop, hour by hour.
class Keeping {
 public:
  Keeping(std::uint64_t seed, int index, double as_of_day, double days, int fineness, const Affliction* affliction = nullptr)
      : nature_dice_(seed, index, 1), owner_dice_(seed, index, 2), eye_dice_(seed, index, 3), plan_dice_(seed, index, 4),
        later_dice_(seed, index, 5), stall_dice_(seed, index, 7),
        stalled_(affliction == nullptr ? std::optional<Affliction>{} : *affliction), world_(world_of(index, days)),
        kits_(draw_kits(owner_dice_)),
        water_(world_.nature, fineness), as_of_(tick_of(as_of_day)), end_(tick_of(days)) {
    made_.loop_toml = toml_of(world_, kits_, index, stalled_ ? stalled_->air : "gentle");
    made_.log_csv = "when,what,value,unit,detail,author\n";
    made_.as_of = instant_of(as_of_);
    made_.start_type = kStartWords[world_.start];
    made_.true_litres = water_.litres();
    draw_habits();
    if (stalled_ && stalled_->unshaken) has_nitrate_ = true;
    if (stalled_ && stalled_->wanted > 0) wanted_ = stalled_->acts || stalled_->stall != Stall::too_much_ammonia ? stalled_->wanted : 2.5;
  }

  SecondLoop run() {
    begin();
    plan_the_rest();
    bool was_above = false;
    for (int tick = 0;; ++tick) {
      for (auto next = todo_.begin(); next != todo_.end() && next->first == tick; next = todo_.begin()) {
        const auto deed = next->second;
        todo_.erase(next);
        now_ = tick;
        deed();
      }
      const TankWater w = water_.tank();
      if (tick % (kTicksPerDay / 4) == 0) {
        made_.truth.push_back({static_cast<double>(tick) / kTicksPerDay, w.tan, w.no2, w.no3, w.ph});
      }
      // 0.5 and 0.25 mg/L as ion
      const double nitrite = water_.mean_nitrite();
      was_above = was_above || nitrite > 0.5 / 3.2844;
      if (was_above && nitrite < 0.25 / 3.2844 && !made_.nitrite_clear_day)
        made_.nitrite_clear_day = static_cast<double>(tick) / kTicksPerDay;
      if (tick == end_) break;
      water_.advance_one_tick();
    }
    made_.nitrogen_balance_error = water_.nitrogen_balance_error();
    write(end_, "note", "end of the record", "", "");
    auto loop = records::parse_loop_toml(made_.loop_toml, "loop.toml");
    if (!loop) throw std::logic_error(loop.error().to_text());
    auto log = records::parse_log_csv(*loop, made_.log_csv, "log.csv");
    if (!log) throw std::logic_error(log.error().to_text());
    made_.log = *log;
    return std::move(made_);
  }

 private:
  World world_of(int index, double days) {
    World w = draw_world(nature_dice_, stalled_ ? stalled_->start : index, days);
    if (!stalled_) return w;
    afflict(*stalled_, stall_dice_, w.nature, w.stated.temperature, w.stated.alkalinity);
    if (stalled_->strike_written == Affliction::Written::water_change) w.stated.without_disinfectant = false;
    return w;
  }

  void draw_habits() {
    Dice& d = owner_dice_;
    people_.push_back(draw_person(d, kits_, "A"));
    if (d.chance(0.35)) people_.push_back(draw_person(d, kits_, "B"));
    first_is_usual_ = d.between(0.6, 1);
    gap_ = d.between(1, 3);
    skips_ = d.between(0, 0.3);
    worries_ = d.uniform();
    forgets_doses_ = d.chance(0.3) ? 0.20 : 0.04;
    forgets_water_ = d.chance(0.3) ? 0.25 : 0.05;
    forgets_feeds_ = d.chance(0.3) ? 0.10 : 0.02;
    has_nitrate_ = d.chance(0.8);
    has_ph_ = d.chance(0.9);
    has_alkalinity_ = d.chance(0.5);
    thermometer_ = d.normal(0, 0.5);
    wanted_ = std::round(2 * d.between(1, 4)) / 2;  // mg/L as NH3
    source_ = d.chance(0.5) ? Source::weighed_salt : d.chance(0.6) ? Source::solution : Source::effect;
    strength_ = d.chance(0.5) ? 10 : 9.5;
    scale_ = d.lognormal(1, 0.06);       // spoons, purity, age of the bottle
    nitrite_limit_ = d.chance(0.5) ? d.between(3, 8) : 1e9;  // mg/L as ion: holds back above
    by_schedule_ = d.chance(0.12) ? d.whole(2, 3) : 0;       // days; doses whatever the vials show
    changes_at_ = d.between(1, 3);       // fish in: mg/L as read
    area_ = d.chance(0.25) ? d.between(0.3, 1.2) * world_.stated.litres / 300 : 0;
    feed_ = 0;
    if (world_.start == kFish) {  // 0.2 to 0.8 mg N/L/d of ammonia
      protein_ = d.chance(0.5) ? 32 : 42;
      feed_ = std::max(0.5, std::round(2 * d.between(0.2, 0.8) * world_.stated.litres / (0.092 * 10 * protein_)) / 2);
    }
  }

  void at(int tick, const std::function<void()>& deed) {
    if (tick % (kTicksPerDay / 4) == 0) ++tick;  // truth is taken on the quarter days
    if (tick <= end_) todo_.emplace(tick, deed);
  }
  static int clock(int day, double hour) { return day * kTicksPerDay + static_cast<int>(std::lround(4 * (hour - 8))); }

  void write(int tick, const std::string& what, const std::string& value, const std::string& unit, const std::string& detail,
             const std::string& author = "") {
    std::string when = records::to_utc_text(instant_of(tick));
    made_.log_csv += fmt::format("{},{},{},{},{},{}\n", when, what, value, unit, detail, author);
  }

  // `mg_per_l` as NH3 in the stated volume.
  void dose(double mg_per_l, bool may_forget, Dice& dice) {
    const double mg_n = mg_per_l / 1.2159 * world_.stated.litres;
    const bool logged = !(may_forget && dice.chance(forgets_doses_));
    made_.forgot_a_dose = made_.forgot_a_dose || !logged;
    const double slip = scale_ * dice.lognormal(1, 0.05);
    if (source_ == Source::weighed_salt) {  // 3.819 mg of ammonium chloride hold 1 mg N
      const double wanted = mg_n * 3.819 / 1000;
      const double grams = std::max(0.05, wanted > 3 ? std::round(2 * wanted) / 2 : std::round(20 * wanted) / 20);
      water_.dose(1000 * grams / 3.819 * slip, 0, 0);
      if (logged) write(now_, "dose", fmt::format("{:g}", grams), "g", "ammonium chloride");
    } else if (source_ == Source::solution) {
      // By weight; 0.96 kg/L at about ten per cent, from memory.
      const double mg_n_per_ml = 10 * strength_ * 0.96 / 1.2159;
      const double ml = std::max(0.5, std::round(2 * mg_n / mg_n_per_ml) / 2);
      const double given = ml * mg_n_per_ml * slip;
      water_.dose(given, given / 14.007, 0);
      if (logged) write(now_, "dose", fmt::format("{:g}", ml), "mL", fmt::format("ammonia solution {:g} %", strength_));
    } else {
      const double given = mg_n * slip * dice.lognormal(1, 0.12);
      water_.dose(given, 0, 0);
      if (logged) write(now_, "dose", fmt::format("+{:g}", mg_per_l), "mg/L as NH3", "ammonium chloride");
    }
  }

  void buffer(double grams, Dice& dice) {
    const double mmol = 1000 * grams * dice.lognormal(1, 0.05) / 84.01;  // sodium bicarbonate
    water_.dose(0, mmol, mmol);
    write(now_, "dose", fmt::format("{:g}", grams), "g", "sodium bicarbonate");
  }
  double bicarbonate_for(double mg_caco3_per_l) const {
    return std::max(1.0, std::round(mg_caco3_per_l * kMeqPerMgCaCO3 * 84.01 * world_.stated.litres / 1000));
  }

  void change_water(double percent, bool may_forget, Dice& dice) {
    const double share = percent / 100 * dice.lognormal(1, 0.15);
    water_.change_water(share * water_.litres());
    if (may_forget && dice.chance(forgets_water_)) {
      made_.forgot_water = true;
    } else {
      write(now_, "water change", fmt::format("{:g}", percent), "%", water_word());
    }
  }

  void fill_up(bool may_forget, Dice& dice) {
    const double litres = water_.missing_litres();
    water_.top_up();
    if (may_forget && dice.chance(2 * forgets_water_)) {
      made_.forgot_water = true;
    } else {
      const double guess = litres * dice.lognormal(1, 0.25);
      write(now_, "top-up", fmt::format("{:g}", guess > 8 ? 5 * std::round(guess / 5) : std::max(1.0, std::round(guess))), "L", water_word());
    }
  }

  void feed(bool may_forget, Dice& dice) {
    water_.feed(feed_ * dice.lognormal(1, 0.2), protein_ / 100.0 * 0.98);
    if (may_forget && dice.chance(forgets_feeds_)) {
      made_.forgot_feed = true;
    } else {
      write(now_, "feed", fmt::format("{:g}", feed_), "g", fmt::format("{} % protein", protein_));
    }
  }

  std::string water_word() const { return stalled_ ? stalled_->water : "tap"; }
  bool pausing() const {
    return stalled_ && stalled_->acts && stalled_->pause_day && now_ >= tick_of(*stalled_->pause_day);
  }

  void begin_stall() {
    if (stalled_->strike_day) {
      at(tick_of(*stalled_->strike_day), [this] {
        if (stalled_->strike_written == Affliction::Written::water_change) change_water(30, false, stall_dice_);
        if (stalled_->strike_written == Affliction::Written::medication) write(now_, "medication", "5", "mL", "against parasites");
        if (stalled_->acts) water_.strike(stalled_->strike_decades);
      });
    }
    if (stalled_->resumed_before && stalled_->acts) {
      at(as_of_ - tick_of(*stalled_->resumed_before), [this] { dose(wanted_, false, stall_dice_); });
    }
    if (stalled_->oxygen_meter) {
      for (int days_before : {1, 4}) {
        at(as_of_ - days_before * kTicksPerDay, [this] {
          write(now_, "oxygen", fmt::format("{:.1f}", std::max(0.1, water_.tank().oxygen + stall_dice_.normal(0, 0.15))), "mg/L", "");
        });
      }
    }
  }

  void begin() {
    if (stalled_) begin_stall();
    if (world_.start == kFish) {
      at(clock(0, 12), [this] {
        water_.stock_fish(feed_);
        write(now_, "fish in", fmt::format("{}", std::max(2, static_cast<int>(feed_ * 3))), "", "goldfish");
      });
    } else {
      at(clock(0, 9.5), [this] { dose(wanted_, false, owner_dice_); });
    }
    if (area_ > 0) {
      const int day = owner_dice_.whole(1, 14);
      at(clock(day, 11), [this] {
        water_.plant(area_ * owner_dice_.lognormal(1, 0.15));
        write(now_, "plants in", fmt::format("{:.1f}", std::max(0.1, area_)), "m2", "lettuce");
      });
    }
    const int last = end_ / kTicksPerDay;
    for (int day = 0; day <= last; ++day) {
      if (world_.start == kFish && (day == 0 || !owner_dice_.chance(0.06))) {
        at(clock(day, 17.25), [this] { feed(now_ <= as_of_, now_ <= as_of_ ? owner_dice_ : later_dice_); });
      }
      if (by_schedule_ > 0 && world_.start != kFish && day > 0 && day % by_schedule_ == 0) {
        at(clock(day, 19), [this] {
          if (now_ <= as_of_ && !pausing()) dose(wanted_ / 2, true, owner_dice_);
        });
      }
    }
    for (int day = owner_dice_.whole(2, 5); day <= last; day += owner_dice_.whole(3, 7)) {
      at(clock(day, 10.25), [this] { fill_up(now_ <= as_of_, now_ <= as_of_ ? owner_dice_ : later_dice_); });
    }
    visit_next(0);
  }

  // Drawn from dice of its own and written before anything has been read.
  void plan_the_rest() {
    Dice& d = plan_dice_;
    const int first = as_of_ / kTicksPerDay + 1, last = end_ / kTicksPerDay;
    if (world_.start == kFish) {
      for (int day = first + d.whole(0, 6); day <= last; day += 7) {
        const double percent = 5 * d.whole(2, 5);
        at(clock(day, 15), [this, percent] { change_water(percent, false, later_dice_); });
      }
    } else {
      const int gap = d.whole(3, 6);
      const double size = std::round(10 * std::min(wanted_, d.between(0.8, 2.2))) / 10;
      // An owner gives up on dosing when the ammonia no longer goes: three weeks of it at the most.
      for (int day = first + d.whole(0, gap); day <= std::min(last, first + 21); day += gap) {
        at(clock(day, 18.5), [this, size] { dose(size, false, later_dice_); });
      }
      if (d.chance(0.2)) {
        const double percent = 10 * d.whole(2, 5);
        at(clock(first + d.whole(0, 13), 15), [this, percent] { change_water(percent, false, later_dice_); });
      }
    }
    if (d.chance(0.6)) {
      for (int day = first + d.whole(0, 6); day <= last; day += 7) {
        const double grams = bicarbonate_for(20);
        at(clock(day, 20.25), [this, grams] { buffer(grams, later_dice_); });
      }
    }
  }

  void visit_next(int from_day) {
    Dice& d = eye_dice_;
    const bool hurried = now_ <= as_of_ && worry_ && d.chance(worries_);
    int day = from_day + (hurried ? 1 : std::max(1, static_cast<int>(std::lround(gap_ + d.normal(0, 0.7)))));
    while (!hurried && d.chance(skips_)) ++day;
    const double hour = d.chance(0.7) ? d.between(16, 21) : d.between(8.25, 12);
    const int tick = clock(day, hour);
    if (tick < end_) at(tick, [this, day] { visit(day); });
  }

  void visit(int day) {
    Dice& d = eye_dice_;
    const Person& who = people_[people_.size() > 1 && !d.chance(first_is_usual_) ? 1 : 0];
    const TankWater w = water_.tank();
    std::array<double, 5> met{w.tan, w.no2, w.no3 + w.no2 / kits_.nitrate_efficiency, w.ph, w.alkalinity};
    if (stalled_ && stalled_->acts && stalled_->unshaken) met[2] *= 0.05;
    std::array<bool, 5> tested{d.chance(0.92), day < 5 ? d.chance(0.4) : d.chance(0.85), has_nitrate_ && d.chance(0.35),
                               has_ph_ && d.chance(0.55), has_alkalinity_ && d.chance(0.25)};
    tested[0] = tested[0] || !(tested[1] || tested[2]);
    std::array<std::optional<Written>, 5> seen;
    for (std::size_t k = 0; k < 5; ++k) {
      if (tested[k]) seen[k] = read_vial(d, kits_, who, k, met[k]);
    }
    if (d.chance(0.01) && seen[0] && seen[1] && seen[0]->value.find('*') == std::string::npos &&
        seen[1]->value.find('*') == std::string::npos) {
      std::swap(seen[0]->value, seen[1]->value);  // written into the other's line
    }
    for (std::size_t k = 0; k < 5; ++k) {
      if (seen[k]) write(now_, kits_.charts[k].test, seen[k]->value, seen[k]->unit, "", who.name);
    }
    if (d.chance(0.4) && !(stalled_ && stalled_->never_measures_temperature))
      write(now_, "temperature", fmt::format("{:.1f}", std::round(2 * (w.temperature + thermometer_ + d.normal(0, 0.2))) / 2), "degC", "");

    if (now_ < as_of_) act_on(seen);
    visit_next(day);
  }

  void act_on(const std::array<std::optional<Written>, 5>& seen) {
    const bool fish = world_.start == kFish;
    if (seen[1]) nitrite_seen_ = seen[1]->seen;
    worry_ = (fish && seen[0] && seen[0]->seen > 0.5) || nitrite_seen_ > (fish ? 0.5 : 2);
    const int soon = now_ + owner_dice_.whole(1, 4);
    const auto before_as_of = [this](int tick, const std::function<void()>& deed) {
      if (tick < as_of_) at(tick, deed);
    };
    if (!fish && by_schedule_ == 0 && !pausing() && seen[0] && seen[0]->seen <= kits_.charts[0].steps[1] * 0.5 && nitrite_seen_ < nitrite_limit_) {
      before_as_of(soon, [this] {
        if (!pausing()) dose(wanted_, true, owner_dice_);
      });
    }
    if (fish && ((seen[0] && seen[0]->seen > changes_at_) || (seen[1] && seen[1]->seen > changes_at_))) {
      const double percent = 10 * owner_dice_.whole(2, 4);
      before_as_of(soon, [this, percent] { change_water(percent, true, owner_dice_); });
    }
    if (!fish && seen[1] && seen[1]->seen >= kits_.charts[1].steps.back() && owner_dice_.chance(0.1)) {
      before_as_of(soon, [this] { change_water(50, true, owner_dice_); });
    }
    if (stalled_ && stalled_->never_buffers) return;
    if ((seen[3] && seen[3]->seen < 6.9) || (seen[4] && seen[4]->seen < 3)) {
      before_as_of(soon + 1, [this] { buffer(bicarbonate_for(40), owner_dice_); });
    }
  }

  Dice nature_dice_, owner_dice_, eye_dice_, plan_dice_, later_dice_, stall_dice_;
  std::optional<Affliction> stalled_;
  World world_;
  Kits kits_;
  TwoTanks water_;
  int as_of_, end_, now_ = 0;
  SecondLoop made_;
  std::multimap<int, std::function<void()>> todo_;

  std::vector<Person> people_;
  double first_is_usual_ = 1, gap_ = 2, skips_ = 0, worries_ = 0;
  double forgets_doses_ = 0, forgets_water_ = 0, forgets_feeds_ = 0;
  bool has_nitrate_ = true, has_ph_ = true, has_alkalinity_ = true;
  double thermometer_ = 0, wanted_ = 2, strength_ = 10, scale_ = 1, nitrite_limit_ = 1e9, changes_at_ = 2;
  Source source_ = Source::weighed_salt;
  int by_schedule_ = 0, protein_ = 32;
  double feed_ = 0, area_ = 0, nitrite_seen_ = 0;
  bool worry_ = false;
};

}  // namespace

SecondLoop simulate_second(std::uint64_t seed, int index, double as_of_day, double days, int fineness) {
  return Keeping(seed, index, as_of_day, days, fineness).run();
}

SecondLoop simulate_stalled(std::uint64_t seed, int index, Stall stall, bool twin) {
  Dice dice(seed, index, 6);
  Affliction affliction = draw_affliction(dice, stall);
  affliction.acts = !twin;
  // To the quarter day after as_of, so that the truth there is known.
  return Keeping(seed, index, affliction.as_of_day, affliction.as_of_day + 0.25, 1, &affliction).run();
}

}  // namespace helmwater::tests
