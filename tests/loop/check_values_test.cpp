// SPDX-License-Identifier: Apache-2.0
// Single figures a start-up model must reproduce, each with where it comes from: [L..] stand in the sources
// named, "derived" is arithmetic from stated numbers, "memory" is recalled. The numbering follows the list of
// check values the model was designed to; numbers left out are checked elsewhere or need something the model
// does not have.
#include <gtest/gtest.h>

#include <cmath>

#include "central_loop.hpp"
#include "chem/ammonia.hpp"
#include "chem/nitrous_acid.hpp"
#include "chem/oxygen.hpp"
#include "loop/runge_kutta.hpp"
#include "piecewise.hpp"
#include "units/convert.hpp"

namespace helmwater::loop {
namespace {

using handbook::Handbook;
using loop_test::centre;
using loop_test::environment;
constexpr units::IonicStrength kFresh{0};  // the published tables have no ionic-strength term
constexpr double kLitres = 1000;           // a cubic metre, so that mg/L are g

State<double> feed(double grams, double protein_share, double f_tan) {
  auto q = loop_test::central_parameters();
  q.f_tan = f_tan;
  Loads loads;
  loads.feed_protein_mg_l_d = 1000 * grams * protein_share / kLitres;
  State<double> d{};
  Breath<double> breath{1.0, 0.0};
  add_feed_load(q, constants_of(q), loads, breath, d);
  return d;
}

// 1, 2: ammonia from feed = feed x protein x 0.092 (Timmons & Ebeling; memory). The prior's median is 0.088,
// because other texts give less; here the textbook's factor goes in as the parameter.
TEST(check_values, number_1_ammonia_from_100_g_of_feed) {
  EXPECT_NEAR(feed(100, 0.32, 0.092).tan * kLitres / 1000, 2.944, 0.001);
}
TEST(check_values, number_2_ammonia_from_1_kg_of_feed) {
  EXPECT_NEAR(feed(1000, 0.40, 0.092).tan * kLitres / 1000, 36.8, 0.01);
}
// 3: nitrogen of 100 g of feed with 32 % protein, and the share excreted as ammonia (16 % nitrogen in
// protein).
TEST(check_values, number_3_nitrogen_of_feed) {
  EXPECT_NEAR(100 * 0.32 * kNitrogenInProtein, 5.12, 0.001);
  EXPECT_NEAR(feed(100, 0.32, 0.092).tan / (1000 * 100 * 0.32 * kNitrogenInProtein / kLitres), 0.575, 0.001);
}

// Alkalinity lost per nitrogen oxidised, mg CaCO3/mg N, of the first step as the model has it.
double alkalinity_per_ammonia_n() {
  Nitrification<double> n{};
  n.rate_a = 1;
  State<double> d{};
  add_nitrification(n, d);
  return -d.alk * kMgCaCO3PerMeq;
}
// 5: 2 eq/mol (derived; measured in submerged filters 7.1 [Villaverde 1997]). With growth 1.98 eq/mol would
// be 7.074: the model leaves the nitrogen of growth out, so that figure is checked on its conversion factors
// only.
TEST(check_values, number_5_alkalinity_per_nitrogen) {
  EXPECT_NEAR(alkalinity_per_ammonia_n(), 7.145, 0.001);
  EXPECT_NEAR(1.98 / kGramsPerMolN * kMgCaCO3PerMeq, 7.074, 0.001);
  Nitrification<double> second{};
  second.rate_n = 1;
  State<double> d{};
  add_nitrification(second, d);
  EXPECT_EQ(d.alk, 0) << "the nitrite step takes no alkalinity";
}
// 6: nitrogen that arrives as NH3 brings 1 eq, so fully nitrified it takes only one (derived).
TEST(check_values, number_6_alkalinity_of_ammonia_solution_feed_and_decay) {
  const State<double> solution = loop_test::per_mmol("ammonia solution");
  const auto net = [](double alk, double tan) {
    return alkalinity_per_ammonia_n() - alk / tan * kMgCaCO3PerMeq;
  };
  EXPECT_NEAR(net(solution.alk, solution.tan), 3.572, 0.001);
  const State<double> fish = feed(100, 0.32, 0.092);
  EXPECT_NEAR(net(fish.alk, fish.tan), 3.572, 0.001);
  State<double> water{}, d{};
  Breath<double> breath{1.0, 0.0};
  water.org_n = 1;
  add_mineralisation(loop_test::central_parameters(), environment(20), Loads{}, water, breath, d);
  EXPECT_NEAR(net(d.alk, d.tan), 3.572, 0.001);
  d = {};
  water.org_n = 0, water.urea_n = 1;
  add_mineralisation(loop_test::central_parameters(), environment(20), Loads{}, water, breath, d);
  EXPECT_NEAR(net(d.alk, d.tan), 3.572, 0.001);
  const State<double> chloride = loop_test::per_mmol("ammonium chloride");
  EXPECT_NEAR(net(chloride.alk, chloride.tan), 7.145, 0.001);
}
// 4: 200 g of feed with 32 % protein, 61 % of its nitrogen excreted, times 1.2 as NH3; film of 0.57 g/m2/d (FAO 589
// appendix 4, from memory; arithmetic derived).
TEST(check_values, number_4_ammonia_of_a_small_unit) {
  const double as_nh3 = 1.2 * feed(200, 0.32, 0.61 * kNitrogenInProtein).tan * kLitres / 1000;
  EXPECT_NEAR(as_nh3, 7.50, 0.01);
  EXPECT_NEAR(as_nh3 / 0.57, 13.15, 0.01);
}
// 8: carbon dioxide set free, 1.88 mol per mol N with growth, 5.91 g/g (derived). The model leaves the carbon of growth
// out: two of acid turn two bicarbonates into CO2, which its equilibrium must show in closed water near pH 7.
TEST(check_values, number_8_carbon_dioxide_of_nitrification) {
  EXPECT_NEAR(1.88 * 44.009 / kGramsPerMolN, 5.91, 0.01);
  State<double> y{};
  y.alk = 2, y.dic = 2.4;
  const Equilibrium<double> e = solve_equilibrium(environment(25), y, -7 * kLn10, 40);
  EXPECT_NEAR(ph_of(e), 7, 0.2);
  EXPECT_NEAR(-2 * co2_slopes(e, y).by_alk, 2, 0.04);
}
// 19: 45 g of feed a day on a square metre, 32 % protein: 2.304 g of nitrogen, 1.325 g of it as ammonia (derived).
TEST(check_values, number_19_nitrogen_on_a_square_metre) {
  EXPECT_NEAR(45 * 0.32 * kNitrogenInProtein, 2.304, 0.001);
  EXPECT_NEAR(feed(45, 0.32, 0.092).tan * kLitres / 1000, 1.325, 0.001);
}
// 20: lettuce of 41 kg/m2 a year (Barbosa 2015), 5 % dry matter, 3.8 % nitrogen: 0.213 g N/m2/d; through the model's own
// uptake, of a square metre in a cubic metre with nitrate in plenty. The prior's centre lies in the published 0.1 to 0.6.
TEST(check_values, number_20_nitrogen_taken_by_lettuce) {
  auto q = loop_test::central_parameters();
  q.sink = 0;
  q.u_crop = 41000 * 0.05 * 0.038 / 365;
  Loads loads;
  loads.plant_area_m2_per_l = 1 / kLitres;
  State<double> y{}, d{};
  y.no3 = 1000;
  add_plant_uptake(q, constants_of(q), loads, y, d);
  EXPECT_NEAR(-d.no3 * kLitres / 1000, 0.213, 0.001);
  EXPECT_GE(centre("u_leafy"), 0.1);
  EXPECT_LE(centre("u_leafy"), 0.6);
}
// 7: oxygen taken, g/g N: 3.427 + 1.142 = 4.569 (derived), as the model takes it; with growth 1.83 mol, 4.181, which the
// model leaves out.
TEST(check_values, number_7_oxygen_demand) {
  Nitrification<double> first{}, second{};
  first.rate_a = 1, second.rate_n = 1;
  State<double> a{}, n{};
  add_nitrification(first, a);
  add_nitrification(second, n);
  EXPECT_NEAR(-a.o2, 3.427, 0.001);
  EXPECT_NEAR(-n.o2, 1.142, 0.001);
  EXPECT_NEAR(-a.o2 - n.o2, 4.569, 0.001);
  const double per_mol = units::kMolarMassO2 / units::kMolarMassN;
  EXPECT_NEAR(1.5 * per_mol, 3.427, 0.001);
  EXPECT_NEAR(0.5 * per_mol, 1.142, 0.001);
  EXPECT_NEAR(2.0 * per_mol, 4.569, 0.001);
  EXPECT_NEAR(1.83 * per_mol, 4.181, 0.001);
}
double grams_for_alkalinity(double meq_per_l, double litres) {
  const handbook::Reagent& soda = *Handbook::built_in().reagent("sodium bicarbonate");
  return meq_per_l / soda.alkalinity_eq_per_mol * soda.molar_mass.value * litres / 1000;
}
// 9: sodium bicarbonate that replaces the alkalinity of 1 g N, and raises 1000 L by 10 mg CaCO3/L (derived).
TEST(check_values, number_9_bicarbonate) {
  EXPECT_NEAR(grams_for_alkalinity(alkalinity_per_ammonia_n() / kMgCaCO3PerMeq, kLitres), 12.00, 0.01);
  EXPECT_NEAR(grams_for_alkalinity(10 / kMgCaCO3PerMeq, kLitres), 16.79, 0.01);
}
// 10: ammonium chloride for 100 L at 2.0 mg N/L (derived, 3.819 mg/mg N).
TEST(check_values, number_10_ammonium_chloride) {
  const handbook::Reagent& salt = *Handbook::built_in().reagent("ammonium chloride");
  EXPECT_NEAR(2.0 * 100 / 1000 / kGramsPerMolN / salt.ammonia_n_mol_per_mol * salt.molar_mass.value, 0.764,
              0.001);
}
// 11: free ammonia in per cent, Emerson et al. 1975. The model's own fraction is held to src/chem's in
// charge_balance_test.
TEST(check_values, number_11_free_ammonia_share) {
  const auto percent = [](double at_ph, double t) {
    return 100 * chem::free_ammonia_fraction(units::Ph{at_ph}, units::Celsius{t}, kFresh);
  };
  EXPECT_NEAR(percent(8.0, 25), 5.366, 0.005);
  EXPECT_NEAR(percent(7.0, 20), 0.394, 0.005);
  EXPECT_NEAR(percent(7.5, 28), 2.164, 0.005);
  EXPECT_NEAR(percent(8.5, 15), 7.942, 0.005);
}
// 12: free ammonia at 2 mg N/L, pH 8, 25 degC, through the model's own equilibrium (derived). The figure in
// Anthonisen's form, 0.1306 mg NH3/L, has another constant (17/14 exp(-6344/T)); the two agree within 0.3 %.
TEST(check_values, number_12_free_ammonia) {
  State<double> y{};
  y.tan = 2;
  const double fa = equilibrium_at(environment(25, 8, 0), y, -8 * kLn10).free_ammonia;
  EXPECT_NEAR(fa, 0.1073, 0.0005);
  EXPECT_NEAR(units::as_nh3(units::FreeAmmoniaN{fa}).value(), 0.1306, 0.0005);
}
// 13: nitrous acid at 5 mg NO2-N/L, pH 6.5, 25 degC (derived from Anthonisen 1976). The second figure counts
// HNO2 as 46/14 of its nitrogen, the product as 47.013/14.007: 2 % more.
TEST(check_values, number_13_nitrous_acid) {
  State<double> y{};
  y.no2 = 5;
  const double fna = equilibrium_at(environment(25, 8, 0), y, -6.5 * kLn10).nitrous_acid;
  EXPECT_NEAR(fna, 0.00355, 0.01 * 0.00355);
  EXPECT_NEAR(fna * 46 / 14, 0.01168, 0.01 * 0.01168);
  EXPECT_NEAR(chem::free_nitrous_acid(units::NitriteN{5}, units::Ph{6.5}, units::Celsius{25}, kFresh).value(),
              fna, 1e-9);
}

// Everything but temperature at its best.
Parameters<double> unlimited() {
  Parameters<double> q = loop_test::central_parameters();
  q.k_oa = q.k_on = q.k_alk = q.k_p = q.ln_theta_ph = q.k_la = q.sink = 0;
  q.ki_a_fa = q.ki_n_fa = q.ki_a_fna = q.ki_n_fna = q.r_max = 1e12;
  q.ph_high = 30;
  return q;
}
State<double> alkaline_water() {  // pH 10.3: the low-pH factor is 1 to 1e-7
  State<double> y{};
  y.alk = 40, y.dic = 27, y.p = 1;
  return y;
}
// Net relative growth at plenty of food, 1/d.
double net_growth(double temperature, bool nitrite_step) {
  Parameters<double> q = unlimited();
  q.k_a = q.k_n = 0;
  State<double> y = alkaline_water();
  y.tan = y.no2 = 1, y.r_a = y.r_n = 1e-3;
  double ln_h = -10 * kLn10;
  const State<double> d = derivatives(q, environment(temperature), {}, y, ln_h, 40);
  return nitrite_step ? d.r_n / y.r_n : d.r_a / y.r_a;
}
// 14: doubling times in hours (derived from the central values with a decay factor of 1.03 per degree; the
// handbook's is 1.029).
TEST(check_values, number_14_doubling_times) {
  const auto hours = [](double t, bool nitrite) { return 24 * std::log(2.0) / net_growth(t, nitrite); };
  EXPECT_NEAR(hours(20, false), 26.4, 0.1);
  EXPECT_NEAR(hours(30, false), 9.7, 0.1);
  EXPECT_NEAR(hours(20, true), 30.8, 0.1);
  EXPECT_NEAR(hours(30, true), 15.1, 0.1);
}
// 15: days to use 2 mg N/L at full rate from a rate of 0.001 mg N/L/d, t = ln(1 + mu' S0/R0)/mu' (derived).
// R0 is the rate at the running temperature there; a capacity counts at 20 degC, hence the division at 25
// degC. The model needs a half-saturation; a small one (0.001 mg N/L) makes the fall all but straight. Found
// by stepping until 99.9 % are gone.
TEST(check_values, number_15_time_to_use_the_first_dose) {
  const auto days_at = [](double t) {
    Parameters<double> q = unlimited();
    q.k_a = 1e-3;
    const Environment env = environment(t);
    State<double> y = alkaline_water();
    y.tan = 2;
    y.r_a = 1e-3 / std::exp(q.ln_theta_a * env.growth_dt);
    double ln_h = -10 * kLn10, day = 0;
    const double h = 1.0 / 512;
    while (y.tan > 2e-3 && day < 30) {
      y = rosenbrock_step(q, env, env, {}, y, ln_h, h, 8);
      day += h;
    }
    return day;
  };
  EXPECT_NEAR(days_at(20), 11.3, 0.1);
  EXPECT_NEAR(days_at(25), 7.3, 0.1);
}
// 16: temperature factors from activation energies 68 and 44 kJ/mol (Vannecke & Volcke supplement), theta =
// exp(E/RT^2) at 20 degC. The model takes theta as a parameter, so this is a check of the priors' centres:
// the first is rounded to 1.10, the second stands half a standard deviation above, at 1.07, between the
// source and others.
TEST(check_values, number_16_activation_energies) {
  const auto theta = [](double joule_per_mol) {
    return std::exp(joule_per_mol / (8.314462618 * 293.15 * 293.15));
  };
  EXPECT_NEAR(theta(68000), 1.0999, 0.0005);
  EXPECT_NEAR(theta(44000), 1.0635, 0.0005);
  EXPECT_NEAR(centre("theta_a"), theta(68000), 0.0005);
  EXPECT_NEAR(centre("theta_n"), theta(44000), Handbook::built_in().prior("theta_n").b);
}
// 17: capacity built = mu x nitrogen oxidised when nothing dies (identity of the capacity form).
TEST(check_values, number_17_capacity_built_by_5_mg) {
  Parameters<double> q = unlimited();
  q.b_a = q.b_n = 0;
  State<double> y = alkaline_water();
  y.tan = 8, y.r_a = 1;
  const State<double> end = integrate_reference(
      q, [](double) { return environment(20); }, {}, y, 0, 3, 0.01);
  ASSERT_GT(y.tan - end.tan, 5);
  EXPECT_NEAR((end.r_a - y.r_a) / (y.tan - end.tan) * 5, 3.50, 1e-9);
}
// 18: a film of 0.5 g/m2/d with half-saturation 1 at 1 mg N/L gives 0.25 g/m2/d (derived). 2 m2 in 1 m3 here.
// The second half of the check, 4 m2 for 0.8 g/d at 0.2 g/m2/d, is a division the model does not do.
TEST(check_values, number_18_areal_rate) {
  Parameters<double> q = unlimited();
  q.k_a = 1;
  State<double> y = alkaline_water();
  const double area = 2;
  y.tan = 1, y.r_a = 1000 * centre("a_max") * area / kLitres;
  const Environment env = environment(20);
  const Nitrification<double> n = nitrification(q, env, y, solve_equilibrium(env, y, -10 * kLn10, 40));
  EXPECT_NEAR(n.rate_a * kLitres / 1000 / area, 0.25, 1e-6);
}
// 21: phosphorus for 10 mg N/L (derived from yields 0.15 and 0.06 and 0.018 g P/g COD; the latter from
// memory).
TEST(check_values, number_21_phosphorus) {
  Nitrification<double> n{};
  n.rate_a = n.rate_n = 10;
  State<double> d{};
  add_nitrification(n, d);
  EXPECT_NEAR(-d.p, 0.038, 0.001);
}
// 22: nitrogen in 2 mg/L of monochloramine counted as Cl2 (derived).
TEST(check_values, number_22_nitrogen_of_chloramine) {
  EXPECT_NEAR(units::ammonia_in_chloramine(units::ChlorineCl2{2}).value(), 0.395, 0.001);
}
// 23: pH of 2 meq/L in balance with 420 ppm at 25 degC, and of 100 mg CaCO3/L with 10 mg CO2/L (derived with
// the bicarbonate approximation), through the model's own equilibrium.
TEST(check_values, number_23_ph_of_aerated_water) {
  const Environment env = environment(25, 8, 0);
  const auto ph_at_co2 = [&](double alk, double co2) {
    State<double> y{};
    y.alk = alk;
    double low = alk / 2, high = alk + 5;
    for (int i = 0; i < 60; ++i) {
      y.dic = (low + high) / 2;
      (solve_equilibrium(env, y, -8 * kLn10, 60).co2 < co2 ? low : high) = y.dic;
    }
    return loop_test::ph(env, y);
  };
  EXPECT_NEAR(ph_at_co2(2.0, 420 * env.k0 * 1e-3), 8.49, 0.02);
  EXPECT_NEAR(ph_at_co2(100 / kMgCaCO3PerMeq, units::as_mmol(units::CarbonDioxideCO2{10}).value()), 7.30,
              0.02);
}
// 24: oxygen saturation of fresh water at 1 atm (Benson & Krause 1984).
TEST(check_values, number_24_oxygen_saturation) {
  EXPECT_NEAR(chem::oxygen_saturation(units::Celsius{20}, units::Salinity{0}, units::Atm{1}).value(), 9.092,
              0.005);
  EXPECT_NEAR(chem::oxygen_saturation(units::Celsius{25}, units::Salinity{0}, units::Atm{1}).value(), 8.263,
              0.005);
}
// 25: the rate's factor for one pH unit below 7.2 (2.35 Ekama, 1.6 our judgement), taken as a ratio so that
// the other factors of the product's function drop out.
TEST(check_values, number_25_ph_factor) {
  const auto at_62 = [](double theta) {
    auto q = loop_test::central_parameters();
    q.ln_theta_ph = std::log(theta);
    auto without = q;
    without.ln_theta_ph = 0;
    return ph_factor(q, 6.2) / ph_factor(without, 6.2);
  };
  EXPECT_NEAR(at_62(2.35), 0.4255, 0.001);
  EXPECT_NEAR(at_62(1.6), 0.625, 0.001);
  EXPECT_NEAR(centre("ln_theta_ph"), std::log(1.6), 0.001);
}
// 26: ion counted instead of nitrogen (derived from atomic weights).
TEST(check_values, number_26_ion_factors) {
  EXPECT_NEAR(units::as_nh3(units::AmmoniaN{1}).value(), 1.2159, 0.0002);
  EXPECT_NEAR(units::as_nh4(units::AmmoniaN{1}).value(), 1.2879, 0.0002);
  EXPECT_NEAR(units::as_no2(units::NitriteN{1}).value(), 3.2844, 0.0002);
  EXPECT_NEAR(units::as_no3(units::NitrateN{1}).value(), 4.4266, 0.0002);
}
// 27 is reference_problem_test.cpp.

// The carbonate factor against what it was fitted to: no impairment from 45 mg/L upward, impaired at 40 and
// below (Biesterfeld et al. 2003), as 0.90 at 45, 0.64 at 20 and 0.10 at 5 (our fit).
TEST(check_values, carbonate_factor) {
  const auto q = loop_test::central_parameters();
  const auto at = [&](double caco3) { return alkalinity_factor(q, caco3 / kMgCaCO3PerMeq); };
  EXPECT_NEAR(at(45), 0.90, 0.005);
  EXPECT_NEAR(at(20), 0.64, 0.005);
  EXPECT_NEAR(at(5), 0.10, 0.005);
}
// Growth between 15 and 25 degC: 2.6-fold for the ammonia step, 2.0-fold for the nitrite step (derived from
// theta).
TEST(check_values, growth_between_15_and_25_degrees) {
  const auto q = unlimited();
  const auto gross = [&](double t, double ln_theta) { return std::exp(ln_theta * environment(t).growth_dt); };
  EXPECT_NEAR(gross(25, q.ln_theta_a) / gross(15, q.ln_theta_a), 2.6, 0.05);
  EXPECT_NEAR(gross(25, q.ln_theta_n) / gross(15, q.ln_theta_n), 2.0, 0.05);
}
// Inhibition of the nitrite step by free ammonia: 15 % at 0.11 mg N/L, 37 % at 0.35 (derived from a constant
// of 0.6).
TEST(check_values, free_ammonia_slows_the_nitrite_step) {
  const auto q = loop_test::central_parameters();
  const Environment env = environment(25);
  const auto rate = [&](double fa) {
    State<double> y = alkaline_water();
    y.no2 = 1, y.r_n = 1;
    Equilibrium<double> e = solve_equilibrium(env, y, -10 * kLn10, 40);
    e.free_ammonia = fa;
    return nitrification(q, env, y, e).rate_n;
  };
  EXPECT_NEAR(1 - rate(0.11) / rate(0), 0.15, 0.01);
  EXPECT_NEAR(1 - rate(0.35) / rate(0), 0.37, 0.01);
}

}  // namespace
}  // namespace helmwater::loop
