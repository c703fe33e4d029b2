// SPDX-License-Identifier: Apache-2.0
#include "infer/water_level_from_log.hpp"

#include <algorithm>
#include <cmath>

#include "handbook/handbook.hpp"

namespace helmwater::infer {
namespace {

constexpr double kOneFilling = 0.5;    // d: top-ups closer than this are one refilling
constexpr double kShortest = 0.02;     // d: in less, nothing worth mentioning evaporates
constexpr double kMostAtOnce = 0.9;    // of the water
constexpr double kDaysOfTheUsual = 7;  // the usual rate counts as a week of the owner's own (estimate)

struct Filling {               // one or several top-ups
  double first = 0, last = 0;  // days
  double level_before = 1;
};

std::vector<Filling> fillings_of(const records::LoopLog& log, records::Instant start,
                                 records::Instant as_of) {
  std::vector<Filling> fillings;
  const double known_until = records::days_between(start, as_of);
  double litres = log.loop.volume.value();
  for (const records::Entry& e : log.entries) {
    const double day = records::days_between(start, e.when);
    if (day < 0) continue;
    if (const auto* volume = std::get_if<records::VolumeChange>(&e.body)) litres = volume->litres.value();
    const auto* top_up = std::get_if<records::TopUp>(&e.body);
    if (top_up == nullptr) continue;
    const double share = top_up->share    ? *top_up->share
                         : top_up->litres ? top_up->litres->value() / litres
                                          : 0;
    const double left = 1 - std::min(share, kMostAtOnce);
    const bool same = !fillings.empty() && day - fillings.back().last < kOneFilling &&
                      (day <= known_until) == (fillings.back().last <= known_until);
    if (same) {
      fillings.back().last = day;
      fillings.back().level_before *= left;
    } else {
      fillings.push_back({day, day, left});
    }
  }
  return fillings;
}

}  // namespace

double WaterLevel::at(double day) const {
  for (const loop::LoadPiece& p : pieces) {
    if (p.loads.evaporation_per_d > 0 && day > p.from && day < p.to) {
      return std::exp(-p.loads.evaporation_per_d * (day - p.from));
    }
  }
  return 1;
}

WaterLevel water_level_from_log(const records::LoopLog& log, records::Instant start, records::Instant as_of) {
  const double usual = handbook::Handbook::built_in().prior("evaporation").a;
  const double known_until = std::max(0.0, records::days_between(start, as_of));
  WaterLevel level;
  double full_until = 0, evaporated = 0;
  const auto refilled_steadily = [&](double to) {
    if (!(to > full_until)) return;
    loop::Loads loads;
    loads.top_up_per_d = (evaporated + usual * kDaysOfTheUsual) / (full_until + kDaysOfTheUsual);
    level.pieces.push_back({full_until, to, loads});
    full_until = to;
  };
  bool looking_back = true;
  for (const Filling& f : fillings_of(log, start, as_of)) {
    if (looking_back && f.first > known_until) {
      refilled_steadily(known_until);
      looking_back = false;
    }
    const double days = f.first - full_until;
    if (days < kShortest) {
      level.as_exchange.push_back(f.first);
    } else {
      loop::Loads loads;
      loads.evaporation_per_d = -std::log(f.level_before) / days;
      level.pieces.push_back({full_until, f.first, loads});
      evaporated += 1 - f.level_before;
    }
    full_until = f.last;
  }
  refilled_steadily(std::numeric_limits<double>::infinity());
  return level;
}

}  // namespace helmwater::infer
