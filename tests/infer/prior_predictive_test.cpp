// SPDX-License-Identifier: Apache-2.0
// The outlook of an unread, unseeded, fishless start-up against a published simulation of the same equations
// with narrower priors (160 draws a row; days, 10/50/90 %). These are no measurements: they show that the
// whole way from a loop file to a date does what those equations do. Conditions: 2 mg N/L doses of ammonium
// chloride, again when ammonia is below 0.3 and nitrite below 3 mg N/L, alkalinity kept at 80 mg/L CaCO3 or
// more from 150.
//
// Only medians are compared. With the unknowns held to the priors of that simulation, within a factor
// of 1.15: the median of 160 draws with this spread is good to 5 % (one sigma), and the clear and ready
// thresholds differ by a few hundredths mg N/L. With our own, wider priors (growth rates ln-sd 0.40 for 0.30,
// seeds correlated by 0.3 for 0.7, unknown aeration, pH midpoint, phosphate, volume, media) the slow members
// grow slower still, and medians may come later: within a factor of 1.5 (seen when this was written: up
// to 1.36, for readiness at 20 degC).
#include <gtest/gtest.h>

#include <cmath>
#include <set>

#include "infer/outlook.hpp"
#include "log_text.hpp"

namespace helmwater::infer {
namespace {

struct Row {
  int temperature_c;
  double ammonia_clear, nitrite_peak_mg_n, nitrite_peak_day, complete;
};

constexpr double kFactor = 1.15, kWiderFactor = 1.5;

class PriorPredictive : public testing::TestWithParam<Row> {};

TEST_P(PriorPredictive, medians_are_those_of_the_published_simulation) {
  const Row row = GetParam();
  // 2.4318 mg/L as NH3 is 2 mg N/L, 9.853 as NO2 is 3 mg N/L, 0.3648 as NH3 is 0.3 mg N/L.
  const records::LoopLog log =
      tests::log_from("2026-03-01T08:30,dose,7.637,g,ammonium chloride,\n",
                      "typical_temperature_c = " + std::to_string(row.temperature_c) +
                          "\n[source_water]\nalkalinity_mg_l_caco3 = 150\n"
                          "[plan]\nredose = \"to_target\"\nredose_to_mg_l = 2.4318\nredose_below_mg_l = "
                          "0.3648\nready_load_mg_l = 2.4318\n"
                          "redose_while_nitrite_below_mg_l = 9.853\nbuffer_below_mg_l_caco3 = "
                          "80\nbuffer_to_mg_l_caco3 = 150\n");
  PosteriorOptions options;
  options.as_of = *log.loop.started;
  options.members = 4000;
  const Posterior ours = posterior_of(log, options);
  Posterior narrowed = ours;
  const auto& names = ours.priors->names();
  Eigen::MatrixXd& z = narrowed.draws.z;
  Eigen::RowVectorXd seed_a(z.cols());
  for (Eigen::Index d = 0; d < z.rows(); ++d) {
    const std::string& name = names[static_cast<std::size_t>(d)];
    if (name == "seed_ammonia_step") {
      seed_a = z.row(d);
    } else if (name == "seed_nitrite_step") {
      z.row(d) = (0.7 * seed_a + std::sqrt(1 - 0.49) * z.row(d) - 0.3 * seed_a) / std::sqrt(1 - 0.09);
    } else if (name == "mu_a" || name == "mu_n") {
      z.row(d) *= 0.30 / 0.40;
    } else if (name == "ph_high_midpoint") {
      z.row(d).setConstant((9.3 - 9.5) / 0.4);
    } else if (name == "phosphate_start") {
      z.row(d).setConstant(std::log(0.5 / 0.3));
    } else if (name == "nitrogen_sink") {
      z.row(d).setConstant(-6);
    } else if (!std::set<std::string>{"theta_a", "theta_n", "b_a", "b_n", "k_a", "k_n", "ki_n_fa",
                                      "ln_theta_ph"}
                    .contains(name)) {
      z.row(d).setZero();
    }
  }
  const auto medians = [&](const Posterior& p) {
    const Forecast f = forecast(log, p, 150, true);
    const auto median = [&](auto value_of) {
      std::vector<double> values;
      for (const Forecast::Dates& d : f.dates) values.push_back(value_of(d));
      return quantiles(values, f.weight).p50;
    };
    return Row{row.temperature_c, median([](const auto& d) { return d.ammonia_first_clear; }),
               median([](const auto& d) { return d.nitrite_peak_height * 14.007 / 46.005; }),
               median([](const auto& d) { return d.nitrite_peak; }),
               median([](const auto& d) { return d.ready_for_fish; })};
  };
  const Row same = medians(narrowed), wide = medians(ours);
  const auto compare = [](const char* what, double narrow, double wider, double published) {
    std::printf("%s: published %.1f, ours with its priors %.1f, with our priors %.1f\n", what, published,
                narrow, wider);
    EXPECT_LT(narrow, kFactor * published) << what;
    EXPECT_GT(narrow, published / kFactor) << what;
    EXPECT_LT(wider, kWiderFactor * published) << what;
    EXPECT_GT(wider, published / kWiderFactor) << what;
  };
  compare("ammonia clear, day", same.ammonia_clear, wide.ammonia_clear, row.ammonia_clear);
  compare("nitrite peak, mg N/L", same.nitrite_peak_mg_n, wide.nitrite_peak_mg_n, row.nitrite_peak_mg_n);
  compare("nitrite peak, day", same.nitrite_peak_day, wide.nitrite_peak_day, row.nitrite_peak_day);
  compare("ready, day", same.complete, wide.complete, row.complete);
}

INSTANTIATE_TEST_SUITE_P(unseeded, PriorPredictive,
                         testing::Values(Row{20, 21, 4.0, 30, 49}, Row{25, 12, 4.0, 21, 31}),
                         [](const auto& row) {
                           return "at_" + std::to_string(row.param.temperature_c) + "_degrees";
                         });

// A fed loop whose meter shows little oxygen is taken to be badly aerated, one near saturation well (mass balance: what
// fish, solids and filter take must come through the surface). Without readings the prior's median stays.
TEST(prior_predictive, oxygen_readings_speak_about_the_aeration) {
  const auto aeration = [](const std::string& oxygen) {
    std::string rows = "2026-03-01T09:00,fish in,40,,tilapia,\n";
    for (int day = 2; day <= 20; ++day) {
      const std::string date = "2026-03-" + std::string(day < 10 ? "0" : "") + std::to_string(day);
      rows += date + "T08:00,feed,100,g,32 % protein,\n";
      if (!oxygen.empty() && day % 3 == 0) rows += date + "T18:00,oxygen," + oxygen + ",mg/L,,meter\n";
    }
    const records::LoopLog log = tests::log_from(rows, "typical_temperature_c = 25\n");
    PosteriorOptions options;
    options.as_of = log.entries.back().when;
    options.members = 1000;
    const Posterior p = posterior_of(log, options);
    std::vector<double> k_la;
    for (Eigen::Index i = 0; i < p.draws.z.cols(); ++i) k_la.push_back(p.priors->member(p.draws.z.col(i).data()).parameters.k_la);
    return quantiles(k_la, p.draws.weight);
  };
  const Quantiles none = aeration(""), low = aeration("5.5"), high = aeration("8.0");
  std::printf("kLa, 5 to 95 %%: no reading %.0f (%.0f to %.0f), 5.5 mg/L %.0f (%.0f to %.0f), 8 mg/L %.0f (%.0f to %.0f)\n", none.p50,
              none.p05, none.p95, low.p50, low.p05, low.p95, high.p50, high.p05, high.p95);
  EXPECT_NEAR(none.p50, 60, 8);
  EXPECT_LT(low.p95, none.p50);
  EXPECT_GT(high.p50, none.p50);
  EXPECT_GT(high.p05, low.p95);
}

}  // namespace
}  // namespace helmwater::infer
