// SPDX-License-Identifier: Apache-2.0
// A loop with every uncertain number at the centre of its prior, and its water in balance with the air: what
// the checks of the model run on.
#pragma once
#include <cmath>
#include <stdexcept>
#include <string_view>

#include "chem/carbonate.hpp"
#include "handbook/handbook.hpp"
#include "loop/charge_balance.hpp"
#include "loop/nitrification.hpp"
#include "loop/parameters.hpp"
#include "loop/timeline.hpp"

namespace helmwater::loop_test {

// Median of a lognormal, mean of a normal or a beta, value of a fixed prior.
inline double centre(std::string_view name) {
  const handbook::Prior& prior = handbook::Handbook::built_in().prior(name);
  return prior.shape == handbook::Prior::Shape::beta ? prior.a / (prior.a + prior.b) : prior.a;
}

inline loop::Parameters<double> central_parameters() {
  loop::Parameters<double> q{};
  q.mu_a = centre("mu_a");
  q.mu_n = centre("mu_n");
  q.ln_theta_a = std::log(centre("theta_a"));
  q.ln_theta_n = std::log(centre("theta_n"));
  q.b_a = centre("b_a");
  q.b_n = centre("b_n");
  q.k_a = centre("k_a");
  q.k_n = centre("k_n");
  q.k_oa = centre("k_oa");
  q.k_on = centre("k_on");
  q.ki_a_fa = centre("ki_a_fa");
  q.ki_n_fa = centre("ki_n_fa");
  q.ki_a_fna = centre("ki_a_fna");
  q.ki_n_fna = centre("ki_n_fna");
  q.ln_theta_ph = centre("ln_theta_ph");
  q.ph_high = centre("ph_high_midpoint");
  q.k_alk = centre("k_alk");
  q.k_p = centre("k_p");
  q.r_max = centre("r_max_unknown_media");
  q.ln_theta_film = std::log(centre("theta_film"));
  q.k_la = centre("k_la");
  q.co2_ppm = centre("air_co2");
  q.sink = centre("nitrogen_sink");
  q.trickle = 0;  // below what these tests look at
  q.u_crop = centre("u_leafy");
  q.k_min = centre("k_min");
  q.k_urea = centre("k_urea");
  q.f_tan = centre("f_tan");
  q.f_sol = centre("f_sol");
  q.f_den = centre("f_den");
  q.feed_unknown = centre("feed_unknown");
  q.volume_factor = 1;
  q.effect_factor = 1;
  q.kill_log10 = centre("kill_chlorine_log10");
  q.seed_factor_a = 1;
  q.seed_factor_n = 1;
  q.source_alk = centre("source_alkalinity") / loop::kMgCaCO3PerMeq;
  q.source_dic = q.source_alk;
  q.source_no3 = centre("source_nitrate");
  q.source_p = centre("phosphate_start");
  return q;
}

inline constexpr double kIonicStrength = 0.005;  // mol/L, the timeline's default

// Dissolved oxygen held at `oxygen_mg_l`; below zero it is a state.
inline loop::Environment environment(double temperature_c, double oxygen_mg_l = 8,
                                     double ionic_strength = kIonicStrength) {
  auto env = loop::environment_at(units::Celsius{temperature_c}, units::IonicStrength{ionic_strength});
  env.oxygen_held_mg_l = oxygen_mg_l;
  return env;
}
inline constexpr double kFreeOxygen = -1;

// Water of this alkalinity (meq/L) that has come to balance with air of this CO2; the carbon from src/chem.
inline loop::State<double> aerated_water(double alk_meq, double co2_ppm, double temperature_c,
                                         double phosphate = 0.5) {
  const chem::Equilibrium water({units::Celsius{temperature_c}, units::IonicStrength{kIonicStrength}},
                                {.phosphate = units::PhosphateP{phosphate}});
  const auto found = water.from_alkalinity_and_pco2(units::AlkalinityMeq{alk_meq}, units::GasPpm{co2_ppm});
  if (!found) throw std::logic_error(found.error().message);
  loop::State<double> y{};
  y.alk = alk_meq;
  y.dic = found->total_carbon.value();
  y.r_a = centre("r_unseeded");
  y.r_n = centre("r_unseeded");
  y.p = phosphate;
  y.o2 = 8;
  return y;
}

inline double ph(const loop::Environment& env, const loop::State<double>& y) {
  return loop::ph_of(loop::solve_equilibrium(env, y, -7.5 * loop::kLn10, 60));
}

inline loop::Timeline steady_timeline(double temperature_c, double oxygen_mg_l = 8) {
  loop::Timeline timeline;
  timeline.temperature_c = {{0, temperature_c}};
  if (oxygen_mg_l >= 0) timeline.oxygen_held = {{0, oxygen_mg_l}};
  timeline.ionic_strength_mol_l = kIonicStrength;
  return timeline;
}

// One mmol/L of a reagent of the handbook, as the change it makes.
inline loop::State<double> per_mmol(std::string_view reagent_name) {
  const handbook::Reagent* r = handbook::Handbook::built_in().reagent(reagent_name);
  if (r == nullptr) throw std::logic_error("no such reagent: " + std::string(reagent_name));
  loop::State<double> c{};
  c.tan = r->ammonia_n_mol_per_mol * loop::kGramsPerMolN;
  c.no3 = r->nitrate_n_mol_per_mol * loop::kGramsPerMolN;
  c.urea_n = r->urea_n_mol_per_mol * loop::kGramsPerMolN;
  c.alk = r->alkalinity_eq_per_mol;
  c.dic = r->carbon_mol_per_mol;
  c.p = r->phosphate_p_mol_per_mol * loop::kGramsPerMolP;
  return c;
}

inline loop::Event dose(double day, std::string_view reagent_name, double mmol_per_l) {
  loop::DoseEvent event;
  event.change = loop::plus(loop::State<double>{}, mmol_per_l, per_mmol(reagent_name));
  return {day, event};
}

inline loop::Event ammonium_chloride(double day, double mg_n_per_l) {
  return dose(day, "ammonium chloride", mg_n_per_l / loop::kGramsPerMolN);
}

}  // namespace helmwater::loop_test
