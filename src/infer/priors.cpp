// SPDX-License-Identifier: Apache-2.0
#include "infer/priors.hpp"

#include <algorithm>
#include <cmath>

#include "chem/oxygen.hpp"
#include "handbook/handbook.hpp"
#include "infer/distributions.hpp"
#include "infer/timeline_from_log.hpp"
#include "infer/unlogged.hpp"
#include "loop/charge_balance.hpp"
#include "loop/feed_load.hpp"
#include "loop/nitrification.hpp"

namespace helmwater::infer {
namespace {

using handbook::Handbook;
using handbook::Prior;

// The quantile function of a beta prior, of a standard normal number.
auto beta_of(const Prior& prior) {
  return [&prior](double z) {
    return beta_quantile(normal_cdf(z), static_cast<int>(prior.a), static_cast<int>(prior.b));
  };
}

// The value of a prior at a standard normal number.
double at(const Prior& prior, double z) {
  switch (prior.shape) {
    case Prior::Shape::normal: return prior.a + prior.b * z;
    case Prior::Shape::lognormal: return prior.a * std::exp(prior.b * z);
    case Prior::Shape::beta: return beta_of(prior)(z);
    case Prior::Shape::fixed: return prior.a;
  }
  return prior.a;
}

// It happened or it did not: 0, or, with this probability, a value of the prior.
double suspected(double probability, const Prior& prior, double z) {
  const double above = normal_cdf(-z);  // share of the values beyond
  return above >= probability ? 0 : at(prior, normal_quantile(1 - std::max(above / probability, 1e-12)));
}

// A bottle is alive or not, half and half: ln of the capacity at a standard normal number, as the quantile of the
// mixture of the two lognormals.
double ln_bottled(const Prior& alive, const Prior& dead, double z) {
  const double p = normal_cdf(z);
  double low = std::log(dead.a) - 6 * dead.b, high = std::log(alive.a) + 6 * alive.b;
  for (int i = 0; i < 40; ++i) {
    const double x = (low + high) / 2;
    const double cdf =
        0.5 * normal_cdf((x - std::log(alive.a)) / alive.b) + 0.5 * normal_cdf((x - std::log(dead.a)) / dead.b);
    (cdf < p ? low : high) = x;
  }
  return (low + high) / 2;
}

// Looked up once: a member is made many thousand times.
struct Book {
  static const Prior& find(const char* name) { return Handbook::built_in().prior(name); }
  const Prior& a_max = find("a_max");
  const Prior& air_co2 = find("air_co2");
  const Prior& b_a = find("b_a");
  const Prior& b_n = find("b_n");
  const Prior& effect_dose = find("effect_dose");
  const Prior& f_den = find("f_den");
  const Prior& f_sol = find("f_sol");
  const Prior& f_tan = find("f_tan");
  const Prior& feed_unknown = find("feed_unknown");
  const Prior& k_a = find("k_a");
  const Prior& k_alk = find("k_alk");
  const Prior& k_la = find("k_la");
  const Prior& k_la_none = find("k_la_none");
  const Prior& k_la_strong = find("k_la_strong");
  const Prior& k_min = find("k_min");
  const Prior& k_n = find("k_n");
  const Prior& k_oa = find("k_oa");
  const Prior& k_on = find("k_on");
  const Prior& k_p = find("k_p");
  const Prior& k_urea = find("k_urea");
  const Prior& ki_a_fa = find("ki_a_fa");
  const Prior& ki_a_fna = find("ki_a_fna");
  const Prior& ki_n_fa = find("ki_n_fa");
  const Prior& ki_n_fna = find("ki_n_fna");
  const Prior& kill_chloramine_log10 = find("kill_chloramine_log10");
  const Prior& kill_chlorine_log10 = find("kill_chlorine_log10");
  const Prior& kill_unknown_log10 = find("kill_unknown_log10");
  const Prior& kit_bias_alkalinity = find("kit_bias_alkalinity");
  const Prior& kit_bias_ammonia = find("kit_bias_ammonia");
  const Prior& kit_bias_nitrate = find("kit_bias_nitrate");
  const Prior& kit_bias_nitrite = find("kit_bias_nitrite");
  const Prior& kit_bias_oxygen = find("kit_bias_oxygen");
  const Prior& kit_bias_ph = find("kit_bias_ph");
  const Prior& ln_theta_ph = find("ln_theta_ph");
  const Prior& media_usable_share = find("media_usable_share");
  const Prior& mu_a = find("mu_a");
  const Prior& mu_n = find("mu_n");
  const Prior& nitrate_reduction = find("nitrate_reduction");
  const Prior& nitrogen_sink = find("nitrogen_sink");
  const Prior& nitrogen_trickle = find("nitrogen_trickle");
  const Prior& person_bias = find("person_bias");
  const Prior& person_bias_ph = find("person_bias_ph");
  const Prior& ph_high_midpoint = find("ph_high_midpoint");
  const Prior& phosphate_start = find("phosphate_start");
  const Prior& r_bottled = find("r_bottled");
  const Prior& r_fish = find("r_fish");
  const Prior& r_max_unknown_media = find("r_max_unknown_media");
  const Prior& r_seeded_unknown = find("r_seeded_unknown");
  const Prior& r_unseeded = find("r_unseeded");
  const Prior& rate_wander_days = find("rate_wander_days");
  const Prior& rate_wander_ln_sd = find("rate_wander_ln_sd");
  const Prior& seed_correlation = find("seed_correlation");
  const Prior& seed_factor = find("seed_factor");
  const Prior& seed_rate = find("seed_rate");
  const Prior& seed_survival = find("seed_survival");
  const Prior& source_alkalinity = find("source_alkalinity");
  const Prior& source_alkalinity_stated_sd = find("source_alkalinity_stated_sd");
  const Prior& source_nitrate = find("source_nitrate");
  const Prior& source_ph = find("source_ph");
  const Prior& theta_a = find("theta_a");
  const Prior& theta_film = find("theta_film");
  const Prior& theta_n = find("theta_n");
  const Prior& u_leafy = find("u_leafy");
  const Prior& unlogged_deed = find("unlogged_deed");
  const Prior& unlogged_size = find("unlogged_size");
  const QuantileTable survival_table{beta_of(seed_survival)};
  const QuantileTable solids_table{beta_of(f_sol)};
  const QuantileTable denitrified_table{beta_of(f_den)};
  const QuantileTable reduction_table{beta_of(nitrate_reduction)};
  const QuantileTable bottled_table{[this](double z) { return ln_bottled(r_bottled, r_unseeded, z); }};
};

const Book& the_book() {
  static const Book book;
  return book;
}

const Prior& transfer_of(const Book& book, records::Air air) {
  switch (air) {
    case records::Air::none: return book.k_la_none;
    case records::Air::gentle: return book.k_la;
    case records::Air::strong: return book.k_la_strong;
  }
  return book.k_la;
}

// Share of oxygen saturation of the first water, by aeration (estimates).
double first_saturation_share(records::Air air) {
  switch (air) {
    case records::Air::none: return 0.6;
    case records::Air::gentle: return 0.9;
    case records::Air::strong: return 0.97;
  }
  return 0.9;
}

template <class Kind>
bool any_entry(const records::LoopLog& log) {
  return std::any_of(log.entries.begin(), log.entries.end(),
                     [](const records::Entry& e) { return std::holds_alternative<Kind>(e.body); });
}

}  // namespace

int Priors::add(std::string name) {
  names_.push_back(std::move(name));
  return static_cast<int>(names_.size()) - 1;
}

Priors::Priors(const records::LoopLog& log, const Evidence& evidence, records::Instant as_of,
               std::shared_ptr<const Carried> carried, std::shared_ptr<const Alteration> altered,
               std::shared_ptr<const Learned> learned)
    : carried_(std::move(carried)),
      altered_(std::move(altered)),
      loop_(log.loop),
      slots_(evidence.slots),
      people_(evidence.people),
      start_oxygen_(first_saturation_share(log.loop.air) *
                    chem::oxygen_saturation(log.loop.typical_temperature, units::Salinity{0}, units::Atm{1}).value()),
      constants_(chem::conditional_constants(log.loop.typical_temperature, units::IonicStrength{0.005})) {
  const bool from_start = carried_ == nullptr;
  r_a_ = from_start ? add("seed_ammonia_step") : -1;
  r_n_ = from_start ? add("seed_nitrite_step") : -1;
  const bool by_area = from_start && loop_.start == records::Start::seeded_media && loop_.seed_area;
  survival_ = by_area ? add("seed_survival") : -1;
  mu_a_ = add("mu_a");
  mu_n_ = add("mu_n");
  theta_a_ = add("theta_a");
  theta_n_ = add("theta_n");
  b_a_ = add("b_a");
  b_n_ = add("b_n");
  k_a_ = add("k_a");
  k_n_ = add("k_n");
  ki_n_fa_ = add("ki_n_fa");
  theta_ph_ = add("ln_theta_ph");
  ph_high_ = add("ph_high_midpoint");
  k_alk_ = add("k_alk");
  r_max_ = add("r_max");
  k_la_ = add("k_la");
  co2_ = add("air_co2");
  sink_ = add("nitrogen_sink");
  trickle_ = add("nitrogen_trickle");
  phosphate_ = add("phosphate_start");
  volume_ = add("volume");
  source_no3_ = add("source_nitrate");
  source_alk_ = add("source_alkalinity");
  source_ph_ = add("source_ph");

  const LoopUses uses = uses_of(log);
  effect_ = uses.effect_doses ? add("effect_doses") : -1;
  kill_ = uses.new_water ? add("disinfectant_kill") : -1;
  k_min_ = uses.organic ? add("k_min") : -1;
  k_urea_ = uses.urea ? add("k_urea") : -1;
  f_tan_ = uses.fish_feed ? add("f_tan") : -1;
  f_sol_ = uses.fish_feed ? add("f_sol") : -1;
  f_den_ = uses.fish_feed ? add("f_den") : -1;
  const Unlogged unlogged = unlogged_in(log, start_of(log, as_of), as_of, window_start(start_of(log, as_of), carried_.get()));
  feed_unknown_ = uses.unknown_feed || unlogged.supply != Supply::none ? add("feed_unknown") : -1;
  supply_suspected_ = !uses.unknown_feed && unlogged.supply == Supply::suspected;
  first_unlogged_ = dimensions();
  for (const Suspicion& s : unlogged.suspicions) {
    add((s.kind == Suspicion::Kind::ammonia ? "unlogged_ammonia_" : "unlogged_water_") + std::to_string(unlogged_.size()));
    unlogged_.push_back(s.certain);
  }
  const bool later_seed = any_entry<records::Seed>(log);
  seed_a_ = later_seed ? add("seed_factor_a") : -1;
  seed_n_ = later_seed ? add("seed_factor_n") : -1;
  u_crop_ = any_entry<records::PlantMove>(log) ? add("u_crop") : -1;

  const bool nitrate = std::any_of(slots_.begin(), slots_.end(), [](const KitSlot& s) { return s.channel == Channel::nitrate; });
  efficiency_ = nitrate ? add("nitrate_reduction") : -1;
  first_kit_ = dimensions();
  for (std::size_t i = 0; i < slots_.size(); ++i) add("kit_bias_" + std::to_string(i));
  first_person_ = dimensions();
  for (std::size_t i = 0; i < people_.size(); ++i) add("person_bias_" + std::to_string(i));
  first_altered_ = dimensions();
  if (altered_ != nullptr) {
    for (const std::string& name : altered_->unknowns) add(name);
  }
  if (carried_ != nullptr) add_carried();
  double last_day = 0;
  for (const Observation& o : evidence.observations) {
    if (o.when <= as_of) last_day = std::max(last_day, o.day);
  }
  add_knots(last_day);
  if (carried_ != nullptr) {
    for (const std::string& name : carried_->names) {
      carried_place_.push_back(static_cast<int>(std::find(names_.begin(), names_.end(), name) - names_.begin()));
    }
  }
  if (learned != nullptr) {
    learned_places_ = LearnedPlaces(*learned, loop_, slots_, people_, names_, from_start ? std::vector<std::string>{} : carried_->names);
  }
}

// A carried quantity without a place of its own (the water; an unknown this log no longer calls for) gets one.
void Priors::add_carried() {
  for (const std::string& name : carried_->names) {
    if (name.starts_with(kKnotName)) continue;
    if (std::find(names_.begin(), names_.end(), name) == names_.end()) add(name);
  }
}

// Numbered by the week since the loop's start, whatever the window.
void Priors::add_knots(double last_reading_day) {
  const int first = knot_of(carried_ == nullptr ? 0 : carried_->day), last = knot_of(last_reading_day);
  first_knot_ = known_ = dimensions();
  for (int i = 0; i < loop::kWanderMost; ++i) {
    for (const char* step : {"a_", "n_"}) add(kKnotName + (step + std::to_string(first + i)));
    if (first + i <= last) known_ = dimensions();
  }
}

int knot_of(double day) { return static_cast<int>(std::max(std::floor(day / knot_days()), 0.0)); }
double knot_days() { return the_book().rate_wander_days.a; }

records::Instant window_start(records::Instant start, const Carried* carried) {
  return carried == nullptr ? records::Instant::min() : records::plus_days(start, carried->day);
}

std::vector<double> Priors::unknowns(const double* drawn, int count) const {
  // Carried quantities are drawn together, by the correlation of their normal scores.
  std::vector<double> joint(drawn, drawn + count);
  joint.resize(names_.size(), 0.0);
  learned_places_.apply(joint.data());
  if (carried_ != nullptr) {
    const std::vector<double> scores = joint;
    const auto n = static_cast<Eigen::Index>(carried_place_.size());
    for (Eigen::Index k = 0; k < n; ++k) {
      double score = 0;
      for (Eigen::Index j = 0; j <= k; ++j) {
        score += carried_->root(k, j) * scores[static_cast<std::size_t>(carried_place_[static_cast<std::size_t>(j)])];
      }
      const double value = carried_->marginals[static_cast<std::size_t>(k)].at(score);
      joint[static_cast<std::size_t>(carried_place_[static_cast<std::size_t>(k)])] = value;
    }
  }
  return joint;
}

Member Priors::member(const double* drawn, int count) const {
  const std::vector<double> joint = unknowns(drawn, count);
  const double* z = joint.data();
  const auto zed = [&](int i) { return i < 0 ? 0.0 : z[i]; };
  const Book& book = the_book();
  Member m;
  loop::Parameters<double>& q = m.parameters;

  q.volume_factor = std::exp(std::max(loop_.volume_sd / loop_.volume, 1e-6) * zed(volume_));
  q.mu_a = at(book.mu_a, zed(mu_a_));
  q.mu_n = at(book.mu_n, zed(mu_n_));
  q.ln_theta_a = std::log(at(book.theta_a, zed(theta_a_)));
  q.ln_theta_n = std::log(at(book.theta_n, zed(theta_n_)));
  q.b_a = at(book.b_a, zed(b_a_));
  q.b_n = at(book.b_n, zed(b_n_));
  q.k_a = at(book.k_a, zed(k_a_));
  q.k_n = at(book.k_n, zed(k_n_));
  q.k_oa = book.k_oa.a;
  q.k_on = book.k_on.a;
  q.ki_a_fa = book.ki_a_fa.a;
  q.ki_n_fa = at(book.ki_n_fa, zed(ki_n_fa_));
  q.ki_a_fna = book.ki_a_fna.a;
  q.ki_n_fna = book.ki_n_fna.a;
  q.ln_theta_ph = at(book.ln_theta_ph, zed(theta_ph_));
  q.ph_high = at(book.ph_high_midpoint, zed(ph_high_));
  q.k_alk = at(book.k_alk, zed(k_alk_));
  q.k_p = book.k_p.a;
  q.ln_theta_film = std::log(book.theta_film.a);
  q.k_la = at(transfer_of(book, loop_.air), zed(k_la_));
  q.co2_ppm = at(book.air_co2, zed(co2_));
  q.sink = at(book.nitrogen_sink, zed(sink_));
  q.trickle = at(book.nitrogen_trickle, zed(trickle_));
  q.u_crop = at(book.u_leafy, zed(u_crop_));
  q.k_min = at(book.k_min, zed(k_min_));
  q.k_urea = at(book.k_urea, zed(k_urea_));
  q.f_tan = at(book.f_tan, zed(f_tan_));
  q.f_sol = book.solids_table.at(zed(f_sol_));
  // Fish cannot give off more nitrogen than they eat.
  q.f_tan = std::min(q.f_tan, loop::kNitrogenInProtein * (1 - q.f_sol));
  q.f_den = book.denitrified_table.at(zed(f_den_));
  q.feed_unknown = supply_suspected_ ? suspected(book.unlogged_deed.a, book.feed_unknown, zed(feed_unknown_))
                                     : at(book.feed_unknown, zed(feed_unknown_));
  q.effect_factor = at(book.effect_dose, zed(effect_));
  for (int i = 0; i < loop::kUnloggedMost; ++i) {
    const auto k = static_cast<std::size_t>(i);
    if (k >= unlogged_.size()) break;
    const double zi = z[first_unlogged_ + i];
    q.unlogged[i] = unlogged_[k] ? at(book.unlogged_size, zi) : suspected(book.unlogged_deed.a, book.unlogged_size, zi);
  }
  q.seed_factor_a = at(book.seed_factor, zed(seed_a_));
  q.seed_factor_n = at(book.seed_factor, zed(seed_n_));

  for (int i = 0; i < loop::kWanderMost; ++i) {
    q.wander_a[i] = std::exp(book.rate_wander_ln_sd.a * z[first_knot_ + 2 * i]);
    q.wander_n[i] = std::exp(book.rate_wander_ln_sd.a * z[first_knot_ + 2 * i + 1]);
  }

  const double litres = loop_.volume.value() * q.volume_factor;
  if (loop_.media.volume) {
    // Surface from the owner's figures; a share of it usable.
    const double surface = loop_.media.volume->value() / 1000 * loop_.media.specific_surface_m2_m3.value_or(300);
    const double usable = book.media_usable_share.a;
    const double spread = loop_.media.specific_surface_m2_m3 ? 0.4 : 0.6;
    q.r_max = 1000 * book.a_max.a * std::exp(spread * zed(r_max_)) * surface * usable / litres;
  } else {
    q.r_max = at(book.r_max_unknown_media, zed(r_max_));
  }

  // The two seeds are correlated.
  const double correlation = book.seed_correlation.a;
  const double z_a = zed(r_a_), z_n = correlation * z_a + std::sqrt(1 - correlation * correlation) * zed(r_n_);
  switch (loop_.start) {
    case records::Start::unseeded:
      m.start.r_a = at(book.r_unseeded, z_a);
      m.start.r_n = at(book.r_unseeded, z_n);
      break;
    case records::Start::fish:
      m.start.r_a = at(book.r_fish, z_a);
      m.start.r_n = at(book.r_fish, z_n);
      break;
    case records::Start::bottled_culture:
      m.start.r_a = std::exp(book.bottled_table.at(z_a));
      m.start.r_n = std::exp(book.bottled_table.at(z_n));
      break;
    case records::Start::seeded_media:
      if (loop_.seed_area) {
        const double per_litre = 1000 * loop_.seed_area->value() * book.survival_table.at(zed(survival_)) / litres;
        m.start.r_a = at(book.seed_rate, z_a) * per_litre;
        m.start.r_n = at(book.seed_rate, z_n) * per_litre;
      } else {
        m.start.r_a = at(book.r_seeded_unknown, z_a);
        m.start.r_n = at(book.r_seeded_unknown, z_n);
      }
      break;
  }

  // Source water, which is also the first fill.
  const records::SourceWater& source = loop_.source_water;
  if (source.alkalinity) {
    q.source_alk = source.alkalinity->value() / loop::kMgCaCO3PerMeq *
                   std::exp(book.source_alkalinity_stated_sd.a * zed(source_alk_));
  } else {
    q.source_alk = at(book.source_alkalinity, zed(source_alk_)) / loop::kMgCaCO3PerMeq;
  }
  if (source.nitrate) {
    const double n = source.nitrate->value() * records::to_standard_factor(records::Test::nitrate, records::Basis::no3);
    q.source_no3 = std::max(0.0, n * (1 + 0.2 * zed(source_no3_)));
  } else {
    q.source_no3 = std::max(0.0, at(book.source_nitrate, zed(source_no3_)));
  }
  q.source_p = at(book.phosphate_start, zed(phosphate_));
  const double ph = source.ph ? *source.ph + 0.1 * zed(source_ph_) : at(book.source_ph, zed(source_ph_));
  const chem::ConditionalConstants& c = constants_;
  const double h = std::exp(-ph * loop::kLn10);
  const double charge = (c.k1 * h + 2 * c.k1 * c.k2) / (h * h + c.k1 * h + c.k1 * c.k2);
  q.source_dic = std::max(q.source_alk - 1000 * (c.kw / h - h / c.gamma1), 0.01) / charge;

  switch (source.disinfectant.value_or(records::Disinfectant::none)) {
    case records::Disinfectant::chlorine: q.kill_log10 = at(book.kill_chlorine_log10, zed(kill_)); break;
    case records::Disinfectant::chloramine: q.kill_log10 = at(book.kill_chloramine_log10, zed(kill_)); break;
    case records::Disinfectant::none:
      q.kill_log10 = source.disinfectant ? 0 : at(book.kill_unknown_log10, zed(kill_));
      break;
  }
  q.kill_log10 = std::max(q.kill_log10, 0.0);

  m.start.tan = 0;
  m.start.no2 = 0;
  m.start.no3 = q.source_no3;
  m.start.alk = q.source_alk;
  m.start.dic = q.source_dic;
  m.start.org_n = 0;
  m.start.urea_n = 0;
  m.start.p = q.source_p;
  m.start.o2 = start_oxygen_;
  m.ln_h = -ph * loop::kLn10;
  if (carried_ != nullptr) {
    std::array<double, kWaterParts> water{};
    for (std::size_t i = 0; i < kWaterParts; ++i) {
      water[i] = joint[static_cast<std::size_t>(carried_place_[carried_place_.size() - kWaterParts + i])];
    }
    m.start = water_from_scale(water);
  }

  m.nitrate_efficiency = efficiency_ < 0 ? 0.4 : std::max(book.reduction_table.at(zed(efficiency_)), 0.02);
  m.kit_bias.resize(slots_.size());
  for (std::size_t i = 0; i < slots_.size(); ++i) {
    const double zi = zed(first_kit_ + static_cast<int>(i));
    switch (slots_[i].channel) {
      case Channel::ammonia: m.kit_bias[i] = book.kit_bias_ammonia.b * zi; break;
      case Channel::nitrite: m.kit_bias[i] = book.kit_bias_nitrite.b * zi; break;
      case Channel::nitrate: m.kit_bias[i] = book.kit_bias_nitrate.b * zi; break;
      case Channel::ph: m.kit_bias[i] = book.kit_bias_ph.b * zi; break;
      case Channel::alkalinity: m.kit_bias[i] = book.kit_bias_alkalinity.b * zi; break;
      case Channel::oxygen: m.kit_bias[i] = book.kit_bias_oxygen.b * zi; break;
    }
  }
  m.person_bias.resize(people_.size());
  for (std::size_t i = 0; i < people_.size(); ++i) {
    const Prior& prior = people_[i].channel == Channel::ph ? book.person_bias_ph : book.person_bias;
    m.person_bias[i] = at(prior, z[first_person_ + static_cast<int>(i)]);
  }
  if (altered_ != nullptr && altered_->member) altered_->member(m, z + first_altered_);
  return m;
}

}  // namespace helmwater::infer
