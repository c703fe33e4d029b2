// SPDX-License-Identifier: Apache-2.0
#include "steer/minerals.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace helmwater::steer {
namespace {

using records::Entry;
using records::Instant;
using records::LoopLog;
using Why = MineralPoint::Why;

constexpr double kTwentieth = 1.6449;  // standard deviations from the middle of a normal to its 5th and 95th percentile
// A stated volume so uncertain that this range would reach zero is not followed further down than this share of it.
constexpr double kLeastVolumeFactor = 0.1;
// A top-up beyond half of the water is a filling, not what evaporated (estimate).
constexpr double kMostEvaporated = 0.5;

std::optional<Mineral> mineral_of(records::Test test) {
  switch (test) {
    case records::Test::potassium: return Mineral::potassium;
    case records::Test::calcium: return Mineral::calcium;
    case records::Test::magnesium: return Mineral::magnesium;
    case records::Test::iron: return Mineral::iron;
    case records::Test::chloride: return Mineral::chloride;
    default: return std::nullopt;
  }
}

// Grams of pure substance.
double pure_grams(const records::Dose& dose, const handbook::Reagent& reagent) {
  const double percent = dose.percent.value_or(100);
  const double grams = dose.how == records::Dose::Amount::grams
                           ? dose.amount
                           : dose.amount * handbook::density_g_per_ml(reagent, percent);
  return grams * percent / 100;
}

// A reading as a range; where it is open above, or the middle is not its to say, `book` keeps it as near as it allows.
MineralRange range_of(const records::Seen& seen, double book) {
  using Shape = records::Seen::Shape;
  if (seen.shape == Shape::normal) {
    const double wide = kTwentieth * seen.sd;
    return {std::max(0.0, seen.centre - wide), std::max(0.0, seen.centre), std::max(0.0, seen.centre + wide)};
  }
  if (seen.shape == Shape::lognormal) {
    const double wide = std::exp(kTwentieth * seen.sd);
    return {seen.centre / wide, seen.centre, seen.centre * wide};
  }
  if (!std::isfinite(seen.high)) return {seen.low, std::max(seen.low, book), seen.high};
  const double middle = seen.low > 0 ? std::sqrt(seen.low * seen.high) : seen.high / 2;
  return {seen.low, middle, seen.high};
}

// Water added to make up for what evaporated, evenly since `from`.
struct Refill {
  double from = 0, to = 0;  // days
  std::optional<double> share;
  double litres = 0;
};

std::vector<Refill> refills_of(const LoopLog& log, Instant start) {
  std::vector<Refill> refills;
  for (const Entry& e : log.entries) {
    const auto* top_up = std::get_if<records::TopUp>(&e.body);
    const double day = records::days_between(start, e.when);
    if (top_up == nullptr || day < 0 || (!top_up->share && !top_up->litres)) continue;
    if (refills.empty() || refills.back().to < day) refills.push_back({refills.empty() ? 0 : refills.back().to, day, {}, 0});
    Refill& refill = refills.back();  // two at once are one
    if (top_up->share) refill.share = refill.share.value_or(0) + *top_up->share;
    if (top_up->litres) refill.litres += top_up->litres->value();
  }
  return refills;
}

// The loop as it would be if its true volume were `factor` times the stated one.
class Water {
 public:
  Water(double stated_litres, double factor, const std::vector<Refill>& refills, const MineralSource& source)
      : litres_(stated_litres * factor), factor_(factor), refills_(refills) {
    for (std::size_t k = 0; k < kMinerals; ++k) new_water_[k] = source.mg_l[k].value_or(MineralRange{});
    mg_l_ = new_water_;
  }

  const MineralRange& of(std::size_t mineral) const { return mg_l_[mineral]; }
  void set(std::size_t mineral, const MineralRange& range) { mg_l_[mineral] = range; }

  void wait_until(double day) {
    const double ratio = volume_at(day_) / volume_at(day);
    if (ratio != 1) change([&](std::size_t, double MineralRange::*, double c) { return c * ratio; });
    day_ = day;
  }
  void add(const std::array<double, kMinerals>& mg) {
    const double litres = volume_at(day_);
    change([&](std::size_t k, double MineralRange::*, double c) { return c + mg[k] / litres; });
  }
  void exchange(const records::WaterChange& water) {
    const double share = std::min(1.0, water.share ? *water.share : water.litres->value() / volume_at(day_));
    change([&](std::size_t k, double MineralRange::*part, double c) { return c * (1 - share) + share * (new_water_[k].*part); });
  }
  // At a top-up's own time the volume is full again.
  void fill_up() {
    const Refill* refill = refill_at(day_);
    if (refill == nullptr || done_ == refill) return;
    const double added = lost(*refill) / litres_;  // share of the full volume
    change([&](std::size_t k, double MineralRange::*part, double c) { return c * (1 - added) + added * (new_water_[k].*part); });
    done_ = refill;
  }
  void restate(double stated_litres) { litres_ = stated_litres * factor_; }

 private:
  template <class Next>
  void change(const Next& next) {
    for (std::size_t k = 0; k < kMinerals; ++k) {
      for (double MineralRange::*part : {&MineralRange::low, &MineralRange::middle, &MineralRange::high}) {
        mg_l_[k].*part = next(k, part, mg_l_[k].*part);
      }
    }
  }
  double lost(const Refill& refill) const {
    return std::min(refill.share.value_or(0) * litres_ + refill.litres, kMostEvaporated * litres_);
  }
  // The refill under way at that day or ending there.
  const Refill* refill_at(double day) const {
    const auto next = std::lower_bound(refills_.begin(), refills_.end(), day, [](const Refill& r, double d) { return r.to < d; });
    return next == refills_.end() ? nullptr : &*next;
  }
  double volume_at(double day) const {
    const Refill* refill = refill_at(day);
    if (refill == nullptr || refill == done_) return litres_;
    const double span = refill->to - refill->from;
    return litres_ - lost(*refill) * (span > 0 ? (day - refill->from) / span : 1);
  }

  double litres_, factor_, day_ = 0;
  const std::vector<Refill>& refills_;
  const Refill* done_ = nullptr;  // the last refill that was poured in
  std::array<MineralRange, kMinerals> new_water_{}, mg_l_{};
};

class Book {
 public:
  Book(const LoopLog& log, const MineralSource& source)
      : log_(log), source_(source), start_(start_of(log)), refills_(refills_of(log, start_)) {
    const double stated = log.loop.volume.value(), spread = kTwentieth * log.loop.volume_sd.value() / stated;
    for (const double factor : {1.0, std::max(kLeastVolumeFactor, 1 - spread), 1 + spread}) {
      waters_.emplace_back(stated, factor, refills_, source);
    }
    ledger_.start = ledger_.end = start_;
    for (std::size_t k = 0; k < kMinerals; ++k) {
      ledger_.courses[k].mineral = static_cast<Mineral>(k);
      ledger_.courses[k].whole = source.mg_l[k].has_value();
      note(k, Why::start, start_, 0);
    }
  }

  MineralLedger kept() {
    for (const Entry& e : log_.entries) {
      if (e.when < start_) continue;
      for (Water& water : waters_) water.wait_until(records::days_between(start_, e.when));
      ledger_.end = e.when;
      if (const auto* dose = std::get_if<records::Dose>(&e.body)) book(e, *dose);
      if (const auto* change = std::get_if<records::WaterChange>(&e.body)) book(e, *change);
      if (const auto* top_up = std::get_if<records::TopUp>(&e.body)) book(e, *top_up);
      if (const auto* reading = std::get_if<records::Reading>(&e.body)) book(e, *reading);
      if (const auto* volume = std::get_if<records::VolumeChange>(&e.body)) {
        for (Water& water : waters_) water.restate(volume->litres.value());
      }
    }
    for (std::size_t k = 0; k < kMinerals; ++k) note(k, Why::end, ledger_.end, 0);
    return ledger_;
  }

 private:
  static Instant start_of(const LoopLog& log) {
    if (log.loop.started) return *log.loop.started;
    return log.entries.empty() ? Instant{} : log.entries.front().when;
  }

  void note(std::size_t k, Why why, Instant when, int line) {
    MineralRange range = waters_.front().of(k);  // the first is as stated
    for (const Water& water : waters_) {
      range.low = std::min(range.low, water.of(k).low);
      range.high = std::max(range.high, water.of(k).high);
    }
    ledger_.courses[k].points.push_back({why, when, records::days_between(start_, when), line, range});
  }
  void not_counted(const Entry& e, std::string why) { ledger_.not_counted.push_back({e.line, std::move(why)}); }

  // Notes every course before and after `act`.
  template <class Act>
  void for_all(const Entry& e, Why why, const Act& act) {
    for (std::size_t k = 0; k < kMinerals; ++k) note(k, why, e.when, e.line);
    for (Water& water : waters_) act(water);
    for (std::size_t k = 0; k < kMinerals; ++k) note(k, why, e.when, e.line);
  }
  void unknown_water_came() {
    for (std::size_t k = 0; k < kMinerals; ++k) {
      if (!source_.mg_l[k]) ledger_.courses[k].whole = false;
    }
  }

  void book(const Entry& e, const records::Dose& dose) {
    const handbook::Reagent* reagent = handbook::Handbook::built_in().reagent(dose.substance);
    if (reagent == nullptr) return;
    std::array<double, kMinerals> mg = milligrams_per_gram(*reagent);
    if (std::all_of(mg.begin(), mg.end(), [](double x) { return x == 0; })) return;
    if (dose.how != records::Dose::Amount::grams && dose.how != records::Dose::Amount::millilitres) {
      not_counted(e, fmt::format("the amount of {} is not in the log, only its effect", reagent->name));
      return;
    }
    const double grams = pure_grams(dose, *reagent);
    for (double& x : mg) x *= grams;
    for (std::size_t k = 0; k < kMinerals; ++k) {
      if (mg[k] > 0) note(k, Why::dose, e.when, e.line);
    }
    for (Water& water : waters_) water.add(mg);
    for (std::size_t k = 0; k < kMinerals; ++k) {
      if (mg[k] > 0) note(k, Why::dose, e.when, e.line);
    }
  }

  void book(const Entry& e, const records::WaterChange& change) {
    if (!change.share && !change.litres) return;
    for_all(e, Why::water_change, [&](Water& water) { water.exchange(change); });
    unknown_water_came();
  }

  void book(const Entry& e, const records::TopUp& top_up) {
    if (!top_up.share && !top_up.litres) return;
    for_all(e, Why::top_up, [](Water& water) { water.fill_up(); });
    unknown_water_came();
  }

  void book(const Entry& e, const records::Reading& reading) {
    const auto mineral = mineral_of(reading.test);
    if (!mineral) return;
    if (reading.seen.doubted) {
      not_counted(e, fmt::format("the reading of {} was doubted by who took it", to_text(*mineral)));
      return;
    }
    const auto k = static_cast<std::size_t>(*mineral);
    note(k, Why::reading, e.when, e.line);
    const MineralRange range = range_of(reading.seen, waters_.front().of(k).middle);
    for (Water& water : waters_) water.set(k, range);
    note(k, Why::reading, e.when, e.line);
    ledger_.courses[k].read = e.when;
    ledger_.courses[k].whole = true;
  }

  const LoopLog& log_;
  const MineralSource& source_;
  Instant start_;
  std::vector<Refill> refills_;
  std::vector<Water> waters_;
  MineralLedger ledger_;
};

}  // namespace

std::string_view to_text(Mineral mineral) {
  switch (mineral) {
    case Mineral::potassium: return "potassium";
    case Mineral::calcium: return "calcium";
    case Mineral::magnesium: return "magnesium";
    case Mineral::iron: return "iron";
    case Mineral::chloride: return "chloride";
    case Mineral::sodium: return "sodium";
    case Mineral::sulfate: return "sulfate";
  }
  return "";
}

// IUPAC abridged standard atomic weights 2021; sulfate is S + 4 O.
double molar_mass(Mineral mineral) {
  switch (mineral) {
    case Mineral::potassium: return 39.098;
    case Mineral::calcium: return 40.078;
    case Mineral::magnesium: return 24.305;
    case Mineral::iron: return 55.845;
    case Mineral::chloride: return 35.45;
    case Mineral::sodium: return 22.990;
    case Mineral::sulfate: return 32.06 + 4 * 15.999;
  }
  return 0;
}

std::array<double, kMinerals> milligrams_per_gram(const handbook::Reagent& reagent) {
  const handbook::Reagent::Ions& ions = reagent.ions;
  // In the order of Mineral; no reagent of the handbook brings iron.
  std::array<double, kMinerals> mg{ions.potassium, ions.calcium, ions.magnesium, 0, ions.chloride, ions.sodium, ions.sulfate};
  for (std::size_t k = 0; k < kMinerals; ++k) {
    mg[k] *= 1000 * molar_mass(static_cast<Mineral>(k)) / reagent.molar_mass.value;
  }
  return mg;
}

bool MineralCourse::empty() const {
  return !read && std::all_of(points.begin(), points.end(), [](const MineralPoint& p) { return p.mg_l.high == 0; });
}

MineralLedger mineral_ledger(const LoopLog& log, const MineralSource& source) { return Book(log, source).kept(); }

}  // namespace helmwater::steer
