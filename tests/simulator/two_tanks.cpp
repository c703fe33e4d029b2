// SPDX-License-Identifier: Apache-2.0
#include "two_tanks.hpp"

#include <algorithm>
#include <cmath>

namespace helmwater::tests {
namespace {

constexpr double kPi = 3.14159265358979;
constexpr double kMgPerMmolN = 14.007;
constexpr double kBiomassN = 0.086;        // g N/g COD; Hiatt and Grady 2008
constexpr double kBiomassC = 0.375 / 12.011;  // mmol C/mg COD, of C5H7O2N; derived
constexpr double kCodPerOrganicN = 1 / kBiomassN;  // solids taken to be like biomass; estimate
constexpr double kCanopyDays = 28;         // until planted area is a full canopy; estimate

// 10, 15, 20, 25, 30 degC. Harned and Plummer forms, ammonium after Emerson 1975, oxygen after Benson and Krause, as
// tabulated; from memory except ammonium and oxygen, which were read. First two less 0.04 and 0.1 for 5 mmol/L of salts.
constexpr std::array<double, 5> kPk1{6.424, 6.380, 6.342, 6.311, 6.287};
constexpr std::array<double, 5> kPk2{10.389, 10.330, 10.277, 10.230, 10.188};
constexpr std::array<double, 5> kPkw{14.533, 14.345, 14.165, 13.995, 13.833};
constexpr std::array<double, 5> kPkh{1.271, 1.341, 1.405, 1.466, 1.521};  // CO2, mol/L/atm
constexpr std::array<double, 5> kPkn{9.731, 9.564, 9.403, 9.246, 9.095};
constexpr std::array<double, 5> kO2{11.288, 10.084, 9.092, 8.263, 7.559};

double of_table(const std::array<double, 5>& row, double celsius) {
  const double place = std::clamp((celsius - 10) / 5, -0.5, 4.5);
  const std::size_t k = static_cast<std::size_t>(std::clamp(place, 0.0, 3.0));
  return row[k] + (place - static_cast<double>(k)) * (row[k + 1] - row[k]);
}

// Arrhenius about 20 degC up to 30, level to 33, down to nothing at 43 (optimum 35 to 38 in pure cultures, Grunditz and
// Dalhammar 2001; the corners are an estimate).
double warmth(double kj_per_mol, double celsius) {
  const double t = std::min(celsius, 30.0);
  const double f = std::exp(kj_per_mol * 1000 / 8.314 * (1 / 293.15 - 1 / (t + 273.15)));
  return celsius <= 33 ? f : f * std::max(0.0, (43 - celsius) / 10);
}

// Charge balance in mmol/L, by Newton on h from the last solution. Nitrous acid is left out: below 0.1 % above pH 6.5.
double hydrogen(double alk, double dic, double tan, double k1, double k1k2, double kw, double kn, double h) {
  for (int i = 0; i < 60; ++i) {
    const double d = h * h + k1 * h + k1k2, up = k1 * h + 2 * k1k2;
    const double f = dic * up / d + kw / h - h + tan * kn / (kn + h) - alk;
    const double slope = dic * (k1 * d - up * (2 * h + k1)) / (d * d) - kw / (h * h) - 1 - tan * kn / ((kn + h) * (kn + h));
    const double next = std::clamp(h - f / slope, 0.3 * h, 3 * h);
    const bool done = std::abs(next - h) < 1e-11 * h;
    h = std::clamp(next, 1e-9, 10.0);
    if (done) break;
  }
  return h;
}

}  // namespace

TwoTanks::TwoTanks(const Nature& nature, int fineness)
    : nature_(nature), fineness_(fineness), tank_litres_(nature.tank_litres),
      acid_(std::pow(10, -nature.acid_half)), base_(std::pow(10, -nature.base_half)) {
  const Surroundings s = at(0);
  const double all = nature_.tank_litres + nature_.bed_litres;
  const double h = 1e3 * std::pow(10, -nature_.source.ph);
  const double ratio = (s.k1 * h + 2 * s.k1k2) / (h * h + s.k1 * h + s.k1k2);
  for (int t = 0; t < 2; ++t) {
    const double litres = t == 0 ? nature_.tank_litres : nature_.bed_litres;
    const double share = t == 0 ? 1 - nature_.bed_share : nature_.bed_share;
    double* y = y_.data() + t * kSpecies;
    y[kNo3] = nature_.source.nitrate * litres;
    y[kAlk] = nature_.source.alkalinity * litres;
    y[kDic] = nature_.source.alkalinity / ratio * litres;
    y[kOxygen] = s.o2_saturation * litres;
    y[kA] = nature_.seed_a * nature_.yield_a / nature_.growth_a * all * share;
    y[kN] = nature_.seed_n * nature_.yield_n / nature_.growth_n * all * share;
    h_[static_cast<std::size_t>(t)] = h;
  }
  nitrogen_in_ = nitrogen(y_);
}

TwoTanks::Surroundings TwoTanks::at(double day) const {
  const auto hourly = [&](const std::vector<double>& row) {
    const double place = std::min(day * 24, static_cast<double>(row.size()) - 1.001);
    const std::size_t k = static_cast<std::size_t>(place);
    return row[k] + (place - static_cast<double>(k)) * (row[k + 1] - row[k]);
  };
  Surroundings s{};
  s.temperature = hourly(nature_.temperature);
  const double t = s.temperature;
  // Awake to one half at the end of the lag, over about a day.
  const auto awake = [&](double lag) { return lag <= 0 ? 1 : 1 / (1 + std::exp(-(day - lag) * 4)); };
  s.growth_a = nature_.growth_a * warmth(nature_.activation_a, t) * std::exp(hourly(nature_.wander_a)) * awake(nature_.lag_a);
  s.growth_n = nature_.growth_n * warmth(nature_.activation_n, t) * std::exp(hourly(nature_.wander_n)) * awake(nature_.lag_n);
  const double slow = std::exp(0.029 * (t - 20));  // decay, 1.029 per degree
  s.decay_a = nature_.decay_a * slow;
  s.decay_n = nature_.decay_n * slow;
  s.mineralisation = nature_.mineralisation * std::exp(0.068 * (t - 20));  // 1.07 per degree; estimate
  // The first water goes in at eight in the morning; light from six to six, mean 1.
  const double wave = std::sin(2 * kPi * (day + 2.0 / 24));
  s.light = kPi * std::max(0.0, wave);
  s.canopy = square_metres_ * std::min(1.0, 0.1 + 0.9 * (day - planted_day_) / kCanopyDays);
  const auto power = [](double x) { return std::exp(-2.302585092994046 * x); };
  s.k1 = 1e3 * power(of_table(kPk1, t));
  s.k1k2 = s.k1 * 1e3 * power(of_table(kPk2, t));
  s.kw = 1e6 * power(of_table(kPkw, t));
  s.kn = 1e3 * power(of_table(kPkn, t));
  const double ppm = nature_.air_co2_ppm - nature_.night_co2_ppm * wave;
  s.co2_saturation = 1e3 * power(of_table(kPkh, t)) * std::max(300.0, ppm) * 1e-6;
  s.o2_saturation = of_table(kO2, t);
  return s;
}

void TwoTanks::derive(const State& y, const Surroundings& s, double tank_litres, State& d) {
  d.fill(0);
  const Nature& n = nature_;
  const double all = n.tank_litres + n.bed_litres;
  std::array<double, 2> litres{tank_litres, n.bed_litres};
  for (int t = 0; t < 2; ++t) {
    const double* m = y.data() + t * kSpecies;
    double* r = d.data() + t * kSpecies;
    const std::size_t which = static_cast<std::size_t>(t);
    const double v = litres[which];
    const double tan = std::max(0.0, m[kTan] / v), no2 = std::max(0.0, m[kNo2] / v), no3 = std::max(0.0, m[kNo3] / v);
    const double alk = m[kAlk] / v, dic = std::max(1e-6, m[kDic] / v);
    const double oxygen = n.oxygen_held > 0 ? n.oxygen_held : std::max(0.0, m[kOxygen] / v);
    const double h = hydrogen(alk, dic, tan / kMgPerMmolN, s.k1, s.k1k2, s.kw, s.kn, h_[which]);
    h_[which] = h;
    const double free_ammonia = tan * s.kn / (s.kn + h);
    const double co2 = dic * h * h / (h * h + s.k1 * h + s.k1k2);
    const double sourness = 1 / (1 + h / (1e3 * acid_) + 1e3 * base_ / h);
    const double bicarbonate = std::max(0.0, alk);
    const double common = sourness * bicarbonate / (n.carbonate_half + bicarbonate);
    const double eat_a = tan / (n.half_a + tan + tan * tan / n.haldane_a);
    const double eat_n = no2 / (n.half_n + no2 + no2 * no2 / n.haldane_n) / (1 + free_ammonia / n.free_ammonia_n);
    const double grown_a = s.growth_a * common * eat_a * oxygen / (n.oxygen_half_a + oxygen) * m[kA];  // mg COD/d
    const double grown_n = s.growth_n * common * eat_n * oxygen / (n.oxygen_half_n + oxygen) * m[kN];
    const double made_no2 = grown_a / n.yield_a, made_no3 = grown_n / n.yield_n;

    // Shedding grows with the thickness of the film.
    const double lost_a = m[kA] * (s.decay_a + n.growth_a * n.growth_a * m[kA] / (n.yield_a * n.film_a * all));
    const double lost_n = m[kN] * (s.decay_n + n.growth_n * n.growth_n * m[kN] / (n.yield_n * n.film_n * all));
    r[kA] += grown_a - lost_a;
    r[kN] += grown_n - lost_n;
    // The second step builds its cells from nitrite: ammonia may be gone while it grows.
    r[kTan] -= made_no2 + kBiomassN * grown_a;
    r[kNo2] += made_no2 - made_no3 - kBiomassN * grown_n;
    r[kNo3] += made_no3;
    r[kOrganic] += kBiomassN * (lost_a + lost_n);
    r[kOxygen] -= 3.43 * made_no2 - grown_a + 1.14 * made_no3 - grown_n;
    r[kAlk] -= (2 * made_no2 + kBiomassN * (grown_a - grown_n)) / kMgPerMmolN;
    r[kDic] -= kBiomassC * (grown_a + grown_n);

    const double rotted = s.mineralisation * m[kOrganic];
    r[kOrganic] -= rotted;
    r[kTan] += rotted;
    r[kAlk] += rotted / kMgPerMmolN;
    r[kOxygen] -= rotted * kCodPerOrganicN * oxygen / (0.5 + oxygen);
    r[kDic] += rotted * kCodPerOrganicN * kBiomassC;

    const double kla = t == 0 ? n.kla_tank : n.kla_bed;
    r[kOxygen] += v * kla * (s.o2_saturation - oxygen);
    r[kDic] += v * 0.9 * kla * (s.co2_saturation - co2);

    // Algae in the light, and plants whose roots hang in the bed's water: ammonium first (weight 5, from memory).
    const double both = tan + no3;
    const double film = t == 0 ? n.algae * all * s.light : 0;  // mg O2/d
    const double greens = 0.06 * film * both / (0.05 + both);  // mg N per mg O2 of Redfield's matter; derived
    const double crop = t == 1 ? 1000 * n.uptake * s.canopy * (0.4 + 0.6 * s.light) * both / (0.7 + both) : 0;
    const double as_tan = both > 0 ? 5 * tan / (5 * tan + no3 + 1e-9) : 0;
    r[kTan] -= as_tan * (greens + crop);
    r[kNo3] -= (1 - as_tan) * (greens + crop);
    r[kAlk] += ((1 - as_tan) * (greens + 0.3 * crop) - as_tan * (greens + 0.9 * crop)) / kMgPerMmolN;
    d[kTaken] += greens + crop;
    const double breathed = t == 0 ? 0.6 * n.algae * all * oxygen / (0.5 + oxygen) : 0;
    r[kOxygen] += film - breathed;
    r[kDic] -= (film - breathed) / 32;

    if (t == 1) {
      const double gone = n.denitrification * m[kNo3];
      r[kNo3] -= gone;
      r[kAlk] += gone / kMgPerMmolN;
      d[kGas] += gone;
    }
  }
  // Fish: a meal is excreted over a third of a day; 0.4 g of oxygen per g of feed, as much CO2 by moles (from memory).
  const double excreted = 3 * y[kGut];
  d[kGut] -= excreted;
  d[kTan] += excreted;
  d[kAlk] += excreted / kMgPerMmolN;
  const double tank_oxygen = std::max(0.0, y[kOxygen] / tank_litres);
  const double breath = 400 * fish_feed_ * tank_oxygen / (0.5 + tank_oxygen);
  d[kOxygen] -= breath;
  d[kDic] += breath / 32;
  for (int k = kTan; k <= kOxygen; ++k) {
    const double flow = n.flow_per_day * (y[static_cast<std::size_t>(k)] / tank_litres -
                                          y[static_cast<std::size_t>(kSpecies + k)] / n.bed_litres);
    d[static_cast<std::size_t>(k)] -= flow;
    d[static_cast<std::size_t>(kSpecies + k)] += flow;
  }
}

void TwoTanks::advance_one_tick() {
  // Runge and Kutta's fourth order is stable to 2.7 steps of the fastest rate; a fifth of that keeps it accurate too.
  const int steps = fineness_ * std::max(4, static_cast<int>(std::ceil(fastest() / kTicksPerDay / 0.5)));
  const double dt = 1.0 / kTicksPerDay / steps;
  // A float valve keeps a tank from falling dry: no more is lost below two thirds.
  const double evaporation = tank_litres_ > 0.67 * nature_.tank_litres ? nature_.evaporation : 0;
  State k1, k2, k3, k4, next;
  Surroundings begin = at(static_cast<double>(ticks_) / kTicksPerDay);
  const auto ahead = [&](const State& slope, double by) {
    for (std::size_t i = 0; i < kStates; ++i) next[i] = y_[i] + by * slope[i];
  };
  for (int step = 0; step < steps; ++step) {
    const double day = (static_cast<double>(ticks_) + static_cast<double>(step) / steps) / kTicksPerDay;
    const Surroundings middle = at(day + dt / 2), end = at(day + dt);
    const double lost = evaporation * dt, level = tank_litres_;
    derive(y_, begin, level, k1);
    ahead(k1, dt / 2);
    derive(next, middle, level - lost / 2, k2);
    ahead(k2, dt / 2);
    derive(next, middle, level - lost / 2, k3);
    ahead(k3, dt);
    derive(next, end, level - lost, k4);
    begin = end;
    for (std::size_t i = 0; i < kStates; ++i) y_[i] += dt / 6 * (k1[i] + 2 * k2[i] + 2 * k3[i] + k4[i]);
    tank_litres_ = level - lost;
  }
  ++ticks_;
}

double TwoTanks::fastest() const {
  const Surroundings s = at(static_cast<double>(ticks_) / kTicksPerDay);
  const std::array<double, 2> litres{tank_litres_, nature_.bed_litres};
  // Whatever is in one tank is soon in the other.
  const auto highest = [&](std::size_t species) {
    return std::max({0.0, y_[species] / litres[0], y_[kSpecies + species] / litres[1]});
  };
  const double tan = highest(kTan), no2 = highest(kNo2);
  double films = 0;
  for (std::size_t t = 0; t < 2; ++t) {
    const double a = s.growth_a * y_[t * kSpecies + kA] / (nature_.yield_a * litres[t]);  // mg N/L/d
    const double n = s.growth_n * y_[t * kSpecies + kN] / (nature_.yield_n * litres[t]);
    // Substrate that runs out, and oxygen that does while there is substrate.
    films = std::max({films, a / nature_.half_a, n / nature_.half_n,
                      3.43 * a * tan / (nature_.half_a + tan) / nature_.oxygen_half_a +
                          1.14 * n * no2 / (nature_.half_n + no2) / nature_.oxygen_half_n});
  }
  return std::max({films, nature_.kla_tank, nature_.kla_bed,
                   nature_.flow_per_day * (1 / tank_litres_ + 1 / nature_.bed_litres)});
}

TankWater TwoTanks::tank() const {
  const Surroundings s = at(static_cast<double>(ticks_) / kTicksPerDay);
  const double v = tank_litres_;
  TankWater w;
  w.tan = y_[kTan] / v;
  w.no2 = y_[kNo2] / v;
  w.no3 = y_[kNo3] / v;
  w.alkalinity = y_[kAlk] / v;
  w.oxygen = nature_.oxygen_held > 0 ? nature_.oxygen_held : y_[kOxygen] / v;
  w.temperature = s.temperature;
  const double h = hydrogen(w.alkalinity, std::max(1e-6, y_[kDic] / v), std::max(0.0, w.tan) / kMgPerMmolN, s.k1, s.k1k2,
                            s.kw, s.kn, h_[0]);
  w.ph = 3 - std::log10(h);
  return w;
}

double TwoTanks::mean_nitrite() const { return (y_[kNo2] + y_[kSpecies + kNo2]) / litres(); }

void TwoTanks::dose(double mg_tan, double meq_alkalinity, double mmol_dic) {
  y_[kTan] += mg_tan;
  y_[kAlk] += meq_alkalinity;
  y_[kDic] += mmol_dic;
  nitrogen_in_ += mg_tan;
}

void TwoTanks::change_water(double litres) {
  const double share = std::min(0.95, litres / tank_litres_);
  const double before = nitrogen(y_);
  for (std::size_t k = kTan; k <= kOxygen; ++k) y_[k] *= 1 - share;
  nitrogen_out_ += before - nitrogen(y_);
  tank_litres_ *= 1 - share;
  const double whole = share * nature_.tank_litres / (nature_.tank_litres + nature_.bed_litres);
  strike(nature_.kill_decades * std::min(1.0, 4 * whole));
  top_up();
}

void TwoTanks::strike(double decades) {
  const double left = std::pow(10, -decades);
  for (std::size_t t = 0; t < 2; ++t) {
    for (std::size_t k : {static_cast<std::size_t>(kA), static_cast<std::size_t>(kN)}) {
      double& x = y_[t * kSpecies + k];
      y_[t * kSpecies + kOrganic] += kBiomassN * (1 - left) * x;
      x *= left;
    }
  }
}

void TwoTanks::top_up() {
  const double litres = missing_litres();
  const Surroundings s = at(static_cast<double>(ticks_) / kTicksPerDay);
  const double h = 1e3 * std::pow(10, -nature_.source.ph);
  const double ratio = (s.k1 * h + 2 * s.k1k2) / (h * h + s.k1 * h + s.k1k2);
  y_[kNo3] += litres * nature_.source.nitrate;
  y_[kAlk] += litres * nature_.source.alkalinity;
  y_[kDic] += litres * nature_.source.alkalinity / ratio;
  y_[kOxygen] += litres * s.o2_saturation;
  nitrogen_in_ += litres * nature_.source.nitrate;
  tank_litres_ += litres;
}

void TwoTanks::feed(double grams, double protein_share) {
  const double mg_n = 1000 * grams * protein_share * 0.16;  // N in protein
  y_[kGut] += nature_.excreted * mg_n;
  y_[kOrganic] += nature_.faeces * mg_n;
  nitrogen_in_ += (nature_.excreted + nature_.faeces) * mg_n;
}

void TwoTanks::plant(double square_metres) {
  square_metres_ = square_metres;
  planted_day_ = static_cast<double>(ticks_) / kTicksPerDay;
}

double TwoTanks::nitrogen(const State& y) const {
  double sum = y[kGut] + y[kTaken] + y[kGas];
  for (std::size_t t = 0; t < 2; ++t) {
    const double* m = y.data() + t * kSpecies;
    sum += m[kTan] + m[kNo2] + m[kNo3] + m[kOrganic] + kBiomassN * (m[kA] + m[kN]);
  }
  return sum;
}

double TwoTanks::nitrogen_balance_error() const {
  return (nitrogen_in_ - nitrogen_out_ - nitrogen(y_)) / nitrogen_in_;
}

bool TwoTanks::finite() const {
  return std::all_of(y_.begin(), y_.end(), [](double x) { return std::isfinite(x); });
}

}  // namespace helmwater::tests
