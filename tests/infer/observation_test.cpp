// SPDX-License-Identifier: Apache-2.0
// What a reading says: its probability against numerical integration and against drawn readings.
#include "infer/observation.hpp"

#include <gtest/gtest.h>

#include <cmath>

#include "infer/distributions.hpp"
#include "infer/random.hpp"
#include "log_text.hpp"

namespace helmwater::infer {
namespace {

using tests::evidence_of;
using tests::log_from;
using Shape = records::Seen::Shape;

constexpr double kInfinity = std::numeric_limits<double>::infinity();

// Charts of our own.
const char* const kKits = R"(
[[kit]]
test = "ammonia"
basis = "NH3"
steps = [0, 0.2, 0.5, 1, 2, 4, 8]
[[kit]]
test = "nitrite"
basis = "NO2"
steps = [0, 0.3, 0.8, 1.6, 3.2, 8]
[[kit]]
test = "nitrate"
basis = "NO3"
steps = [0, 5, 12, 25, 50, 100]
[[kit]]
test = "ph"
steps = [6.0, 6.4, 6.8, 7.2, 7.6, 8.0, 8.4]
[[kit]]
test = "alkalinity"
basis = "dKH"
steps = [0, 1, 2, 3, 4, 5, 6, 8, 10]
)";

Observation only(const std::string& row) {
  const Evidence evidence = evidence_of(log_from(row + "\n", kKits));
  if (evidence.observations.size() != 1) throw std::runtime_error("not one observation: " + row);
  return evidence.observations[0];
}

// A value the water might have, model units.
double some_value(Channel channel, int i) {
  static const double kTimes[] = {0.0, 0.1, 0.5, 1.0, 3.0};
  switch (channel) {
    case Channel::ph: return 6.2 + 0.5 * i;
    case Channel::nitrate: return 6 * kTimes[i];
    case Channel::alkalinity: return 2 * kTimes[i];
    case Channel::oxygen: return 3 * kTimes[i];
    default: return kTimes[i];
  }
}

const char* const kRows[] = {"2026-03-02T08:00,ammonia,1,mg/L,,",
                             "2026-03-02T08:00,ammonia,0,mg/L,,",
                             "2026-03-02T08:00,ammonia,8,mg/L,,",
                             "2026-03-02T08:00,ammonia,~1,mg/L,,",
                             "2026-03-02T08:00,nitrite,0.5..2,mg/L,,",
                             "2026-03-02T08:00,nitrite,>3,mg/L,,",
                             "2026-03-02T08:00,nitrite,hint,mg/L,,",
                             "2026-03-02T08:00,nitrite,0.8?,mg/L,,",
                             "2026-03-02T08:00,nitrite,3.2*10,mg/L,,",
                             "2026-03-02T08:00,nitrate,25,mg/L,,",
                             "2026-03-02T08:00,ph,7.6,,,",
                             "2026-03-02T08:00,ph,6.0,,,",
                             "2026-03-02T08:00,ph,8.4,,,",
                             "2026-03-02T08:00,alkalinity,4,dKH,,",
                             "2026-03-02T08:00,ammonia,1.5±0.2,mg/L,,",
                             "2026-03-02T08:00,ph,7.31±0.05,,,",
                             "2026-03-02T08:00,alkalinity,<1,dKH,,",
                             "2026-03-02T08:00,oxygen,6.5,mg/L,,"};

// Drawn readings fall into an interval as often as the probability says (4 standard errors), for the interval
// that was read and for others.
TEST(observation, readings_drawn_fall_where_the_probability_says) {
  constexpr int kDraws = 20000;
  std::uint32_t stream = 0;
  for (const char* row : kRows) {
    SCOPED_TRACE(row);
    const Observation o = only(row);
    for (int i = 0; i < 5; ++i) {
      const double met = some_value(o.channel, i), bias = 0.15 * (i - 2);
      for (const auto& [low, high] :
           {std::pair{o.low, o.high}, {o.low, kInfinity}, {0.8 * met, 1.2 * met + 0.05}}) {
        const Draws random(6, ++stream);
        int inside = 0;
        for (std::uint32_t k = 0; k < kDraws; ++k) {
          const double shown = draw_shown(o, met, bias, random.uniform(k, 0), random.uniform(k, 1));
          inside += shown >= low && shown <= high;
        }
        const double p = probability_shown(o, met, bias, low, high);
        EXPECT_NEAR(inside / static_cast<double>(kDraws), p,
                    4 * std::sqrt(std::max(p * (1 - p), 1e-4) / kDraws))
            << "met " << met << ", between " << low << " and " << high;
      }
    }
  }
}

// The likelihood of an interval is its probability.
TEST(observation, likelihood_of_an_interval_is_the_probability_of_showing_it) {
  for (const char* row : kRows) {
    SCOPED_TRACE(row);
    const Observation o = only(row);
    if (o.shape != Shape::interval) continue;
    for (int i = 0; i < 5; ++i) {
      const double met = some_value(o.channel, i), bias = 0.1 * i;
      EXPECT_NEAR(std::exp(log_likelihood(o, met, bias)), probability_shown(o, met, bias, o.low, o.high),
                  3e-6);
    }
  }
}

// The same by integrating the density of what is shown: ln(shown + floor) is normal about ln(met e^bias +
// floor), pH about met + bias (docs/model/readings.md). Without misreads, which the test above covers.
TEST(observation, probability_is_the_integral_of_the_density) {
  for (const char* row : kRows) {
    SCOPED_TRACE(row);
    Observation o = only(row);
    if (o.shape != Shape::interval) continue;
    o.misread = 0;
    prepare(o);
    for (int i = 0; i < 5; ++i) {
      const double met = some_value(o.channel, i), bias = o.kit_slot < 0 ? 0 : 0.1 * i;
      const bool ph = o.channel == Channel::ph;
      const double centre = ph ? met + bias : std::log(met * std::exp(bias) + o.floor);
      // Of a concentration below zero there is none: the mass there counts as zero, at the lower end.
      const double low = ph ? std::max(o.low, centre - 12 * o.noise_sd) : std::max(o.low, 1e-12);
      const double high =
          std::min(o.high, ph ? centre + 12 * o.noise_sd : std::exp(centre + 12 * o.noise_sd));
      constexpr int kCells = 200000;
      double sum = 0;
      for (int k = 0; k < kCells; ++k) {
        // Even steps of the logarithm for concentrations.
        const double a =
            ph ? low + (high - low) * k / kCells
               : (low + o.floor) * std::pow((high + o.floor) / (low + o.floor), k / double{kCells});
        const double b =
            ph ? low + (high - low) * (k + 1) / kCells
               : (low + o.floor) * std::pow((high + o.floor) / (low + o.floor), (k + 1) / double{kCells});
        const double middle = (a + b) / 2, x = ph ? middle : std::log(middle);
        const double z = (x - centre) / o.noise_sd;
        sum += std::exp(-0.5 * z * z) / (o.noise_sd * 2.5066282746) / (ph ? 1 : middle) * (b - a);
      }
      if (!ph && o.low <= 0) {  // the mass below zero
        sum += 0.5 * std::erfc((centre - std::log(o.floor)) / o.noise_sd / std::sqrt(2.0));
      }
      EXPECT_NEAR(probability_shown(o, met, bias, o.low, o.high), sum, 2e-6) << met;
    }
  }
}

// Whatever the water, the chart shows one of its steps.
TEST(observation, the_cells_of_a_whole_chart_share_out_all_probability) {
  const struct {
    const char* test;
    const char* unit;
    std::vector<const char*> steps;
  } charts[] = {{"ammonia", "mg/L", {"0", "0.2", "0.5", "1", "2", "4", "8"}},
                {"nitrite", "mg/L", {"0", "0.3", "0.8", "1.6", "3.2", "8"}},
                {"nitrate", "mg/L", {"0", "5", "12", "25", "50", "100"}},
                {"ph", "", {"6.0", "6.4", "6.8", "7.2", "7.6", "8.0", "8.4"}},
                {"alkalinity", "dKH", {"0", "1", "2", "3", "4", "5", "6", "8", "10"}}};
  for (const auto& chart : charts) {
    SCOPED_TRACE(chart.test);
    for (int i = 0; i < 5; ++i) {
      double shown = 0, likelihood = 0, above = -kInfinity;
      for (const char* step : chart.steps) {
        const Observation o =
            only(std::string("2026-03-02T08:00,") + chart.test + "," + step + "," + chart.unit + ",,");
        const double met = some_value(o.channel, i);
        shown += probability_shown(o, met, 0.1, o.low, o.high);
        likelihood += std::exp(log_likelihood(o, met, 0.1));
        if (std::isfinite(above)) {
          EXPECT_NEAR(o.low, above, 1e-12);
        }
        above = o.high;
      }
      EXPECT_EQ(above, kInfinity);
      EXPECT_NEAR(shown, 1, 1e-9);
      EXPECT_NEAR(likelihood, 1, 2e-5);  // the quick distribution function, nine cells
    }
  }
}

TEST(observation, an_open_end_is_never_held_against_the_water) {
  const Observation above = only("2026-03-02T08:00,ammonia,8,mg/L,,"),
                    below = only("2026-03-02T08:00,ammonia,0,mg/L,,");
  EXPECT_EQ(above.high, kInfinity);
  EXPECT_EQ(below.low, 0);
  double last = -kInfinity;
  for (double met : {1.0, 2.0, 5.0, 10.0, 40.0}) {
    const double l = log_likelihood(above, met, 0);
    EXPECT_GE(l, last);
    last = l;
  }
  EXPECT_NEAR(std::exp(last), 1 - above.misread + above.misread * above.misread_likelihood, 1e-6);
  last = kInfinity;
  for (double met : {0.0, 0.05, 0.1, 0.3, 1.0}) {
    const double l = log_likelihood(below, met, 0);
    EXPECT_LE(l, last);
    last = l;
  }
  EXPECT_GT(std::exp(log_likelihood(below, 0, 0)), 0.9);
}

TEST(observation, a_diluted_sample_speaks_of_ten_times_as_much) {
  const Observation plain = only("2026-03-02T08:00,nitrite,3.2,mg/L,,"),
                    diluted = only("2026-03-02T08:00,nitrite,3.2*10,mg/L,,");
  EXPECT_NEAR(diluted.low, 10 * plain.low, 1e-12);
  EXPECT_NEAR(diluted.high, 10 * plain.high, 1e-12);
  EXPECT_GT(log_likelihood(diluted, 10, 0), log_likelihood(diluted, 1, 0));
}

// 1 mg/L as NH3 is 14.007/17.031 mg N/L, as NO2 14.007/46.005, as NO3 14.007/62.004 (IUPAC 2021 masses); 1
// dKH is 0.3566 meq/L (10 mg CaO per litre, 28.04 mg/meq).
TEST(observation, readings_are_turned_into_the_models_units) {
  const Observation ammonia = only("2026-03-02T08:00,ammonia,0.5..2,mg/L,,"),
                    nitrite = only("2026-03-02T08:00,nitrite,0.5..2,mg/L,,"),
                    nitrate = only("2026-03-02T08:00,nitrate,5..20,mg/L,,"),
                    alkalinity = only("2026-03-02T08:00,alkalinity,2..6,dKH,,"),
                    as_n = only("2026-03-02T08:00,ammonia,0.5..2,mg/L as N,,");
  EXPECT_NEAR(ammonia.high, 2 * 14.007 / 17.031, 1e-6);
  EXPECT_NEAR(as_n.high, 2, 1e-12);
  EXPECT_NEAR(nitrite.high, 2 * 14.007 / 46.005, 1e-6);
  EXPECT_NEAR(nitrate.high, 20 * 14.007 / 62.004, 1e-5);
  EXPECT_NEAR(alkalinity.high, 6 * 0.3566, 1e-3);
  for (const Observation& o : {ammonia, nitrite, nitrate, alkalinity, as_n})
    EXPECT_NEAR(o.high * o.to_kit,
                o.channel == Channel::nitrate      ? 20
                : o.channel == Channel::alkalinity ? 6
                                                   : 2,
                1e-9);
}

TEST(observation, nitrite_only_ever_raises_a_nitrate_reading) {
  const Observation o = only("2026-03-02T08:00,nitrate,25,mg/L,,");
  Met water;
  water.nitrate = 5;
  EXPECT_EQ(met_value(o, water, 0.4), 5);
  double last = 5;
  for (double nitrite : {0.1, 0.5, 2.0}) {
    water.nitrite = nitrite;
    const double met = met_value(o, water, 0.4);
    EXPECT_NEAR(met, 5 + nitrite / 0.4, 1e-12);  // nitrite counts in full, nitrate by the kit's efficiency
    EXPECT_GT(met, last);
    EXPECT_GT(met_value(o, water, 0.1), met);  // the worse the kit, the more
    last = met;
  }
  water.nitrite = -1e-7;  // a rounding error of the integrator is no nitrite
  EXPECT_EQ(met_value(o, water, 0.4), 5);
}

TEST(observation, a_doubted_reading_counts_less) {
  const Observation sure = only("2026-03-02T08:00,nitrite,0.8,mg/L,,"),
                    doubted = only("2026-03-02T08:00,nitrite,0.8?,mg/L,,");
  EXPECT_EQ(doubted.misread, 0.5);
  EXPECT_EQ(doubted.low, sure.low);
  EXPECT_EQ(doubted.high, sure.high);
  const double right = 0.8 * 14.007 / 46.005, wrong = 4;
  const double sure_against = log_likelihood(sure, right, 0) - log_likelihood(sure, wrong, 0);
  const double doubted_against = log_likelihood(doubted, right, 0) - log_likelihood(doubted, wrong, 0);
  EXPECT_GT(sure_against, doubted_against);
  EXPECT_GT(doubted_against, 0);
}

TEST(observation, no_reading_can_rule_a_water_out) {
  for (const char* row : kRows) {
    const Observation o = only(row);
    for (double met : {0.0, 1e-3, 1.0, 100.0}) {
      const double l = log_likelihood(o, met, 0);
      EXPECT_TRUE(std::isfinite(l)) << row;
      EXPECT_GT(l, -28) << row;  // ln 1e-12
    }
  }
}

TEST(observation, a_dose_just_given_widens_readings_until_it_has_mixed) {
  const auto noise_after = [](const std::string& reading_at, const std::string& dose, double turnover = 1,
                              const char* test = "ammonia,1,mg/L") {
    const Evidence e = evidence_of(
        log_from("2026-03-02T08:00,dose,5,g," + dose + ",\n2026-03-02T" + reading_at + "," + test + ",,\n",
                 "turnover_per_h = " + std::to_string(turnover) + "\n" + kKits));
    return e.observations.at(0);
  };
  const double calm = only("2026-03-02T12:00,ammonia,1,mg/L,,").noise_sd;
  double last = kInfinity;
  for (const char* at : {"08:06", "08:30", "09:00", "10:00"}) {
    const Observation o = noise_after(at, "ammonium chloride");
    EXPECT_TRUE(o.unmixed) << at;
    EXPECT_LT(o.noise_sd, last) << at;
    EXPECT_GT(o.noise_sd, calm) << at;
    last = o.noise_sd;
  }
  // Fades as exp(-turnover x hours): nothing left after four turnovers, and twice the pump needs half the
  // time.
  EXPECT_FALSE(noise_after("12:00", "ammonium chloride").unmixed);
  EXPECT_NEAR(noise_after("12:00", "ammonium chloride").noise_sd, calm, 1e-12);
  EXPECT_NEAR(noise_after("09:00", "ammonium chloride", 1).noise_sd,
              noise_after("08:30", "ammonium chloride", 2).noise_sd, 1e-6);
  // Only what the dose changes: bicarbonate says nothing of ammonia, but of pH.
  EXPECT_FALSE(noise_after("08:06", "sodium bicarbonate").unmixed);
  EXPECT_TRUE(noise_after("08:06", "sodium bicarbonate", 1, "ph,7.6,").unmixed);
  EXPECT_FALSE(noise_after("08:06", "ammonium chloride", 1, "nitrite,0.8,mg/L").unmixed);
}

TEST(observation, a_meter_and_a_stated_error_have_no_kit_bias) {
  const Observation vial = only("2026-03-02T08:00,ph,7.6,,,"),
                    meter = only("2026-03-02T08:00,ph,7.6,,,meter"),
                    stated = only("2026-03-02T08:00,ph,7.6±0.05,,,");
  EXPECT_EQ(vial.kit_slot, 0);
  EXPECT_EQ(meter.kit_slot, -1);
  EXPECT_EQ(stated.kit_slot, -1);
  EXPECT_EQ(meter.shape, Shape::normal);
  EXPECT_DOUBLE_EQ(noise_on_scale(stated), 0.05);
  for (const Observation& o : {meter, stated})
    EXPECT_EQ(log_likelihood(o, 7.4, 0.3), log_likelihood(o, 7.4, -0.3));
  EXPECT_NE(log_likelihood(vial, 7.4, 0.3), log_likelihood(vial, 7.4, -0.3));
}

TEST(observation, each_kit_has_one_bias_and_only_kits_that_were_used) {
  const Evidence e =
      evidence_of(log_from("2026-03-02T08:00,ammonia,1,mg/L,,\n2026-03-03T08:00,ammonia,2,mg/L,,\n"
                           "2026-03-03T08:00,nitrite,0.8,mg/L,,\n2026-03-04T08:00,temperature,22,degC,,\n",
                           kKits));
  ASSERT_EQ(e.observations.size(), 3u);
  ASSERT_EQ(e.slots.size(), 2u);
  EXPECT_EQ(e.observations[0].kit_slot, e.observations[1].kit_slot);
  EXPECT_NE(e.observations[0].kit_slot, e.observations[2].kit_slot);
}

// 80 % of saturation at 25 degC is 0.8 x 8.263 mg/L, at 20 degC 0.8 x 9.092 (Benson & Krause 1984).
TEST(observation, oxygen_in_percent_counts_at_the_waters_temperature) {
  const auto reading = [](const std::string& rows, const std::string& more = "") {
    for (const Observation& o : evidence_of(log_from(rows, more)).observations) {
      if (o.channel == Channel::oxygen) return o;
    }
    throw std::runtime_error("no oxygen");
  };
  const std::string percent = "2026-03-04T08:00,oxygen,80,%,,\n";
  EXPECT_NEAR(reading(percent, "typical_temperature_c = 25\n").centre, 0.8 * 8.263, 0.005);
  EXPECT_NEAR(reading("2026-03-03T08:00,temperature,20,degC,,\n" + percent, "typical_temperature_c = 25\n").centre,
              0.8 * 9.092, 0.005);
  // What is read later was not known.
  EXPECT_NEAR(reading(percent + "2026-03-04T09:00,temperature,20,degC,,\n", "typical_temperature_c = 25\n").centre,
              0.8 * 8.263, 0.005);
  EXPECT_NEAR(reading(percent, "typical_temperature_c = 25\n").to_kit * 0.8 * 8.263, 80, 0.05);
  EXPECT_DOUBLE_EQ(reading("2026-03-04T08:00,oxygen,7.2,mg/L,,\n").centre, 7.2);
}

// A meter is good to 0.3 mg/L (the reading rules) and the hour swings by 0.26: 0.4 in all (estimate).
TEST(observation, oxygen_of_a_meter_swings_with_the_hour) {
  const Observation meter = only("2026-03-02T08:00,oxygen,7.2,mg/L,,");
  EXPECT_EQ(meter.channel, Channel::oxygen);
  EXPECT_EQ(meter.kit_slot, -1);
  EXPECT_NEAR(noise_on_scale(meter), 0.4, 0.01);
  Met water;
  water.oxygen = 6.5;
  EXPECT_EQ(met_value(meter, water, 0.4), 6.5);
  EXPECT_GT(log_likelihood(meter, 7, 0), log_likelihood(meter, 6, 0));
  EXPECT_GT(log_likelihood(meter, 6, 0), log_likelihood(meter, 4, 0));
}

TEST(observation, an_oxygen_kit_has_steps_noise_and_a_bias) {
  const Evidence e = evidence_of(log_from("2026-03-02T08:00,oxygen,6,mg/L,,\n",
                                          "[[kit]]\ntest = \"oxygen\"\nsteps = [2, 4, 6, 8, 10]\n"));
  ASSERT_EQ(e.observations.size(), 1u);
  const Observation& o = e.observations[0];
  EXPECT_EQ(o.kit_slot, 0);
  EXPECT_EQ(o.shape, Shape::interval);
  EXPECT_GT(o.noise_sd, 0.15);
  EXPECT_NE(log_likelihood(o, 6, 0.3), log_likelihood(o, 6, -0.3));
}

TEST(observation, readings_up_to_a_moment_include_that_moment) {
  const records::LoopLog log = log_from(
      "2026-03-02T08:00,ammonia,1,mg/L,,\n2026-03-03T08:00,ammonia,2,mg/L,,\n2026-03-04T08:00,ammonia,2,mg/"
      "L,,\n",
      kKits);
  EXPECT_EQ(up_to(evidence_of(log).observations, log.entries[1].when).size(), 2u);
}

}  // namespace
}  // namespace helmwater::infer
