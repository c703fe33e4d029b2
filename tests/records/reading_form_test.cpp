// SPDX-License-Identifier: Apache-2.0
// Every reading form. The expected numbers are the formulas of docs/reference/loop_folder.md worked by hand; roots and
// exponentials are written out so that a reader can check them with a pocket calculator.
#include <cmath>
#include <limits>

#include "loop_text.hpp"

namespace helmwater::records {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();

// The invented chart of these tests.
const char* const kKits =
    "[[kit]]\ntest = \"ammonia\"\nbasis = \"ion\"\nsteps = [0, 0.25, 0.5, 1, 2, 4]\n"
    "[[kit]]\ntest = \"nitrate\"\nbasis = \"N\"\nsteps = [2, 5, 10]\n"
    "[[kit]]\ntest = \"ph\"\nsteps = [6, 6.6, 7, 7.6]\n"
    "[[kit]]\ntest = \"alkalinity\"\nbasis = \"dKH\"\n";

Reading read(const std::string& what, const std::string& value, const std::string& unit, const std::string& toml = kKits) {
  const LoopLog log = log_from(loop_from(toml), "2026-03-01," + what + ",\"" + value + "\"," + unit + ",\n");
  return std::get<Reading>(log.entries.at(0).body);
}
Seen ammonia(const std::string& value) { return read("ammonia", value, "mg/L").seen; }
Seen nitrate(const std::string& value) { return read("nitrate", value, "mg/L").seen; }
Seen ph(const std::string& value) { return read("ph", value, "").seen; }
std::string doubts_of(const std::string& what, const std::string& value, const std::string& unit) {
  return codes(log_from(loop_from(kKits), "2026-03-01," + what + "," + value + "," + unit + ",\n"));
}

void expect_interval(const Seen& seen, double low, double high) {
  EXPECT_EQ(seen.shape, Seen::Shape::interval);
  EXPECT_TRUE(seen.kit_noise);
  EXPECT_DOUBLE_EQ(seen.low, low);
  EXPECT_DOUBLE_EQ(seen.high, high);
}

TEST(ChartStep, reaches_to_the_geometric_midpoints) {
  expect_interval(ammonia("1"), std::sqrt(0.5), std::sqrt(2.0));
  expect_interval(ammonia("0.5"), std::sqrt(0.125), std::sqrt(0.5));
  expect_interval(ammonia("2.0"), std::sqrt(2.0), std::sqrt(8.0));
}
TEST(ChartStep, beside_zero_begins_at_half_the_first_step) {
  expect_interval(ammonia("0.25"), 0.125, std::sqrt(0.125));
  expect_interval(ammonia("0"), 0, 0.125);
}
TEST(ChartStep, the_top_is_open_above) { expect_interval(ammonia("4"), std::sqrt(8.0), kInfinity); }
TEST(ChartStep, a_lowest_step_above_zero_is_open_below) {
  expect_interval(nitrate("2"), 0, std::sqrt(10.0));
  expect_interval(nitrate("10"), std::sqrt(50.0), kInfinity);
}
TEST(ChartStep, ph_uses_arithmetic_midpoints_and_is_open_at_both_ends) {
  expect_interval(ph("6.6"), (6 + 6.6) / 2, (6.6 + 7) / 2);
  expect_interval(ph("6"), -kInfinity, (6 + 6.6) / 2);
  expect_interval(ph("7.6"), (7 + 7.6) / 2, kInfinity);
}

TEST(Range, is_taken_as_written) {
  expect_interval(ammonia("0.5..1"), 0.5, 1);
  expect_interval(ammonia("0.3 .. 0.4"), 0.3, 0.4);
  expect_interval(ph("6.8..7.2"), 6.8, 7.2);
  EXPECT_TRUE(says(row_refusal("2026-03-01,ammonia,1..0.5,mg/L as N,"), {"log.csv:2:20", "backwards", "0.5..1"}));
}
TEST(LessAndMore, are_open_at_the_other_end) {
  expect_interval(ammonia("<0.25"), 0, 0.25);
  expect_interval(ph("<6.6"), -kInfinity, 6.6);
  expect_interval(ammonia(">4"), 4, kInfinity);
  expect_interval(ammonia("> 2"), 2, kInfinity);
}
TEST(Hint, is_seen_but_less_than_the_first_step) {
  expect_interval(ammonia("hint"), 0.25 / 8, 0.25);
  expect_interval(nitrate("Hint"), 2.0 / 8, 2);
}

TEST(About, on_a_step_reaches_to_its_neighbours) {
  expect_interval(ammonia("~1"), 0.5, 2);
  expect_interval(ammonia("~0.25"), 0, 0.5);
  expect_interval(ammonia("~0"), 0, 0.25);
  expect_interval(ammonia("~4"), 2, kInfinity);
  expect_interval(nitrate("~2"), 0, 5);
  expect_interval(ph("~7"), 6.6, 7.6);
  EXPECT_EQ(doubts_of("ammonia", "~1", "mg/L"), "");
}
TEST(OffTheSteps, takes_the_two_steps_around_and_says_so) {
  for (const char* value : {"3", "~3"}) {
    expect_interval(ammonia(value), 2, 4);
    EXPECT_EQ(doubts_of("ammonia", value, "mg/L"), "value_off_steps");
  }
  expect_interval(ammonia("0.1"), 0.1 / 4, 0.25);   // beside zero
  expect_interval(ammonia("~0.2"), 0.2 / 4, 0.25);
  expect_interval(ammonia("6"), 4, kInfinity);      // above the top
  expect_interval(ammonia("~6"), 4, kInfinity);
  expect_interval(nitrate("1"), 0, 2);              // below the lowest
  expect_interval(nitrate("0"), 0, 2);
  expect_interval(nitrate("~0"), 0, 2);
  expect_interval(ph("7.3"), 7, 7.6);
  expect_interval(ph("5"), -kInfinity, 6);
  EXPECT_EQ(doubts_of("ph", "7.3", ""), "value_off_steps");
}

TEST(PlusMinus, is_normal_and_nothing_comes_on_top) {
  for (const char* value : {"0.8\xC2\xB1" "0.1", "0.8+-0.1", "0.8 +- 0.1"}) {
    const Seen seen = ammonia(value);
    EXPECT_EQ(seen.shape, Seen::Shape::normal);
    EXPECT_DOUBLE_EQ(seen.centre, 0.8);
    EXPECT_DOUBLE_EQ(seen.sd, 0.1);
    EXPECT_DOUBLE_EQ(seen.low, 0.7);
    EXPECT_DOUBLE_EQ(seen.high, 0.9);
    EXPECT_FALSE(seen.kit_noise);
  }
  EXPECT_TRUE(says(row_refusal("2026-03-01,ph,7+-0,,"), {"2:15", "no width"}));
}
TEST(QuestionMark, doubts_any_form) {
  EXPECT_TRUE(ammonia("1?").doubted);
  expect_interval(ammonia("1?"), std::sqrt(0.5), std::sqrt(2.0));
  EXPECT_TRUE(ammonia(">2?").doubted);
  EXPECT_TRUE(ammonia("0.5..1?").doubted);
  EXPECT_FALSE(ammonia("1").doubted);
}
TEST(Dilution, multiplies_the_interval) {
  expect_interval(ammonia("1*10"), 10 * std::sqrt(0.5), 10 * std::sqrt(2.0));
  expect_interval(ammonia(">2*10"), 20, kInfinity);
  expect_interval(ammonia("<0.25*4"), 0, 1);
  expect_interval(ammonia("~1*10"), 5, 20);
  expect_interval(ammonia("0*10"), 0, 1.25);
  expect_interval(ammonia("hint*2"), 0.25 / 4, 0.5);
  EXPECT_TRUE(ammonia("1*10?").doubted);
  EXPECT_TRUE(ammonia("1?*10").doubted);
  const Seen seen = ammonia("0.8+-0.1*10");
  EXPECT_DOUBLE_EQ(seen.centre, 8);
  EXPECT_DOUBLE_EQ(seen.sd, 1);
  EXPECT_TRUE(says(row_refusal("2026-03-01,ph,7*10,,"), {"2:15", "only concentrations can be diluted"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,ammonia,1*0,mg/L as N,"), {"2:20", "above 1"}));
}

TEST(WithoutSteps, a_plain_number_is_lognormal) {
  const Reading reading = read("ammonia", "2", "mg/L as N", "");
  EXPECT_EQ(reading.seen.shape, Seen::Shape::lognormal);
  EXPECT_DOUBLE_EQ(reading.seen.centre, 2);
  EXPECT_DOUBLE_EQ(reading.seen.sd, 0.25);
  EXPECT_DOUBLE_EQ(reading.seen.low, 2 * std::exp(-0.25));
  EXPECT_DOUBLE_EQ(reading.seen.high, 2 * std::exp(0.25));
  EXPECT_TRUE(reading.seen.kit_noise);
  EXPECT_EQ(reading.kit, -1);
  EXPECT_DOUBLE_EQ(read("alkalinity", "5", "dKH").seen.sd, 0.25);  // a kit without steps
  EXPECT_DOUBLE_EQ(read("ammonia", "2*10", "mg/L as N", "").seen.centre, 20);
}
// The limits for "0" are estimates of docs/reference/loop_folder.md, converted with IUPAC atomic weights:
// NH3/N = 17.031/14.007, NO2/N = 46.005/14.007.
TEST(WithoutSteps, zero_is_a_small_interval) {
  expect_interval(read("ammonia", "0", "mg/L as N", "").seen, 0, 0.1);
  const Seen nh3 = read("ammonia", "0", "mg/L as ion", "").seen;
  EXPECT_NEAR(nh3.high, 0.1 * 17.031 / 14.007, 1e-12);
  EXPECT_NEAR(read("nitrite", "0", "mg/L as NO2", "").seen.high, 0.06 * 46.005 / 14.007, 1e-12);
  EXPECT_NEAR(read("nitrate", "0", "mg/L as NO3", "").seen.high, 2, 1e-12);
  EXPECT_NEAR(read("nitrate", "0", "mg/L as N", "").seen.high, 2 * 14.007 / 62.004, 1e-12);
  EXPECT_NEAR(read("alkalinity", "0", "meq/L", "").seen.high, 0.25, 1e-12);
  EXPECT_NEAR(read("ammonia", "~0", "mg/L as N", "").seen.high, 0.2, 1e-12);
}
TEST(WithoutSteps, ph_is_normal_with_the_kits_bias_still_on_top) {
  const Seen seen = read("ph", "7.4", "", "").seen;
  EXPECT_EQ(seen.shape, Seen::Shape::normal);
  EXPECT_DOUBLE_EQ(seen.sd, 0.2);
  EXPECT_TRUE(seen.kit_noise);
}

Reading metered(const std::string& what, const std::string& value, const std::string& unit) {
  const LoopLog log = log_from(loop_from(kKits), "2026-03-01," + what + "," + value + "," + unit + ",,meter\n",
                               "when,what,value,unit,detail,kit\n");
  return std::get<Reading>(log.entries.at(0).body);
}
TEST(Meters, have_their_own_width_and_no_kit_noise) {
  const Reading ph_reading = metered("ph", "7.42", "");
  EXPECT_TRUE(ph_reading.meter);
  EXPECT_DOUBLE_EQ(ph_reading.seen.centre, 7.42);
  EXPECT_DOUBLE_EQ(ph_reading.seen.sd, 0.1);
  EXPECT_FALSE(ph_reading.seen.kit_noise);
  const Reading temperature = read("temperature", "24", "degC");
  EXPECT_TRUE(temperature.meter);
  EXPECT_DOUBLE_EQ(temperature.seen.sd, 0.5);
  EXPECT_FALSE(temperature.seen.kit_noise);
  EXPECT_DOUBLE_EQ(read("oxygen", "7.5", "mg/L").seen.sd, 0.3);
  EXPECT_DOUBLE_EQ(read("conductivity", "600", "uS/cm").seen.sd, 12);  // 2 %
  EXPECT_DOUBLE_EQ(read("conductivity", "0.6", "mS/cm").seen.centre, 600);
  EXPECT_DOUBLE_EQ(metered("ph", "7.42+-0.02", "").seen.sd, 0.02);
}
TEST(Meters, fahrenheit_becomes_celsius) {
  EXPECT_NEAR(read("temperature", "77", "degF").seen.centre, 25, 1e-12);  // 77 F = 25 C
  EXPECT_NEAR(read("temperature", "77", "\xC2\xB0" "F").seen.centre, 25, 1e-12);
  const Seen spread = read("temperature", "68+-1.8", "degF").seen;
  EXPECT_NEAR(spread.centre, 20, 1e-12);
  EXPECT_NEAR(spread.sd, 1, 1e-12);
  const Seen range = read("temperature", "50..59", "degF").seen;
  EXPECT_NEAR(range.low, 10, 1e-12);
  EXPECT_NEAR(range.high, 15, 1e-12);
}

TEST(Basis, comes_from_the_unit_or_the_kit) {
  EXPECT_EQ(read("ammonia", "1", "mg/L").basis, Basis::nh3);
  EXPECT_EQ(read("ammonia", "1", "ppm").basis, Basis::nh3);
  EXPECT_EQ(read("nitrate", "5", "mg/L").basis, Basis::n);
  EXPECT_EQ(read("ammonia", "1", "mg/L as N", "").basis, Basis::n);
  EXPECT_EQ(read("ammonia", "1", "mg/L as NH4", "").basis, Basis::nh4);
  EXPECT_EQ(read("nitrite", "1", "mg/L as NO2", "").basis, Basis::no2);
  EXPECT_EQ(read("nitrite", "1", "mg/L as ion", "").basis, Basis::no2);
  EXPECT_EQ(read("nitrate", "1", "mg/L as ion", "").basis, Basis::no3);
  EXPECT_EQ(read("alkalinity", "100", "mg/L as CaCO3", "").basis, Basis::caco3);
  EXPECT_EQ(read("alkalinity", "2", "meq/L", "").basis, Basis::meq);
  EXPECT_EQ(read("phosphate", "1", "mg/L as PO4", "").basis, Basis::po4);
  EXPECT_EQ(read("iron", "2", "mg/L", "").basis, Basis::none);
}
TEST(Basis, another_one_than_the_kits_leaves_the_chart_out) {
  const LoopLog log = log_from(loop_from(kKits), "2026-03-01,ammonia,1,mg/L as N,\n");
  const Reading& reading = std::get<Reading>(log.entries[0].body);
  EXPECT_EQ(reading.kit, -1);
  EXPECT_EQ(reading.seen.shape, Seen::Shape::lognormal);
  EXPECT_EQ(codes(log), "basis_not_of_kit");
}
// Factors from the IUPAC abridged atomic weights; alkalinity: 1 meq/L = 50.04 mg/L CaCO3, 1 dKH = 17.848 mg/L CaCO3.
TEST(Basis, standard_factors) {
  EXPECT_NEAR(to_standard_factor(records::Test::ammonia, Basis::nh3), 14.007 / 17.031, 1e-9);
  EXPECT_NEAR(to_standard_factor(records::Test::ammonia, Basis::nh4), 14.007 / 18.039, 1e-9);
  EXPECT_NEAR(to_standard_factor(records::Test::nitrite, Basis::no2), 14.007 / 46.005, 1e-9);
  EXPECT_NEAR(to_standard_factor(records::Test::nitrate, Basis::no3), 14.007 / 62.004, 1e-9);
  EXPECT_NEAR(to_standard_factor(records::Test::alkalinity, Basis::caco3), 1 / 50.04, 1e-5);
  EXPECT_NEAR(to_standard_factor(records::Test::alkalinity, Basis::dkh), 17.848 / 50.04, 1e-4);
  EXPECT_NEAR(to_standard_factor(records::Test::phosphate, Basis::po4), 30.974 / 94.970, 1e-9);
  EXPECT_EQ(to_standard_factor(records::Test::iron, Basis::none), 1);
}

TEST(Readings, keep_the_logs_text) { EXPECT_EQ(read("ammonia", " ~1 ", "mg/L").value_text, " ~1 "); }

TEST(Readings, that_are_none_are_refused_with_the_place_and_the_forms) {
  EXPECT_TRUE(says(row_refusal("2026-03-01,ammonia,lots,mg/L as N,"), {"log.csv:2:20", "\"lots\"", "a..b", "hint"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,ammonia,,mg/L as N,"), {"2:20", "missing"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,ammonia,NaN,mg/L as N,"), {"2:20", "NaN"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,ammonia,inf,mg/L as N,"), {"2:20", "inf"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,ammonia,-1,mg/L as N,"), {"2:20", "negative", "0 to"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,ammonia,\"0,25\",mg/L as N,"), {"2:20", "decimal comma", "decimal point"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,ammonia,1-2,mg/L as N,"), {"2:20", "two dots"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,ammonia,2 ppm,mg/L as N,"), {"2:20", "unit column"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,ammonia,1e400,mg/L as N,"), {"2:20", "too large"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,ammonia,<0,mg/L as N,"), {"2:20", "less than 0"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,ammonia,>2+-1,mg/L as N,"), {"2:20"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,ammonia,?,mg/L as N,"), {"2:20"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,ph,15,,"), {"2:15", "pH 0 to 14"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,temperature,175,degC,"), {"2:24", "-5 to 60"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,ph,hint,,"), {"2:15", "hint"}));
}
TEST(Readings, without_their_unit_are_refused) {
  EXPECT_TRUE(says(row_refusal("2026-03-01,ammonia,1,,"), {"2:22", "needs a unit", "mg/L as N"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,ammonia,1,mg/L,"), {"2:22", "counted as", "leaflet"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,nitrite,1,mg/L as NH3,"), {"2:22", "not a unit of nitrite"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,ammonia,1,furlong,"), {"2:22", "furlong"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,alkalinity,4,mg/L,"), {"2:25", "CaCO3"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,alkalinity,4,mg/L,", loop_from(kKits)), {"2:25", "dKH"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,temperature,24,,"), {"2:27", "degC, degF"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,ph,7,mg/L,"), {"2:17", "allowed: none"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,phosphate,1,mg/L,"), {"2:24", "as P"}));
  EXPECT_TRUE(says(row_refusal("2026-03-01,oxygen,7,g/L,"), {"2:21", "mg/L, %"}));
}

TEST(TypedValue, a_leading_zero_is_doubted) {
  const LoopLog log = log_from(loop_from(), "2026-03-01,ammonia,01,mg/L as N,\n");
  EXPECT_EQ(codes(log), "typed_value");
  EXPECT_EQ(std::get<Reading>(log.entries[0].body).seen.centre, 1);
  EXPECT_EQ(codes(log_from(loop_from(), "2026-03-01,ammonia,0.1,mg/L as N,\n")), "");
}

const char* const kTwoKits =
    "[[kit]]\ntest = \"nitrite\"\nbasis = \"NO2\"\nid = \"A\"\nsteps = [0, 1, 4]\n"
    "[[kit]]\ntest = \"nitrite\"\nbasis = \"N\"\nid = \"B\"\nsteps = [0, 2, 8]\n";
const char* const kKitColumns = "when,what,value,unit,detail,kit\n";

TEST(Kits, the_kit_column_names_one_of_several) {
  const LoopLog log = log_from(loop_from(kTwoKits), "2026-03-01,nitrite,0,mg/L,,A\n2026-03-02,nitrite,0,mg/L,,b\n", kKitColumns);
  EXPECT_EQ(std::get<Reading>(log.entries[0].body).basis, Basis::no2);
  EXPECT_EQ(std::get<Reading>(log.entries[0].body).seen.high, 0.5);
  EXPECT_EQ(std::get<Reading>(log.entries[1].body).basis, Basis::n);
  EXPECT_EQ(std::get<Reading>(log.entries[1].body).seen.high, 1);
  EXPECT_EQ(std::get<Reading>(log.entries[1].body).kit, 1);
}
TEST(Kits, two_that_are_valid_at_once_are_refused) {
  EXPECT_TRUE(says(row_refusal("2026-03-01,nitrite,0,mg/L,", loop_from(kTwoKits)),
                   {"log.csv:2:20", "two nitrite kits", "\"A\"", "\"B\"", "kit column"}));
}
TEST(Kits, an_unknown_one_is_doubted_and_its_chart_not_guessed) {
  const LoopLog log = log_from(loop_from(kTwoKits), "2026-03-01,nitrite,1,mg/L as NO2,,C\n", kKitColumns);
  EXPECT_EQ(codes(log), "unknown_kit");
  EXPECT_EQ(std::get<Reading>(log.entries[0].body).kit, -1);
  EXPECT_TRUE(says(csv_refusal(loop_from(kTwoKits), std::string(kKitColumns) + "2026-03-01,nitrite,1,mg/L,,C\n"),
                   {"2:22", "counted as"}));
}
TEST(Kits, from_and_until_choose_by_time) {
  // A date in until is the last day; on the day of the change the new kit counts.
  const Loop loop = loop_from(
      "time_zone = \"Europe/Vienna\"\n"
      "[[kit]]\ntest = \"nitrite\"\nbasis = \"NO2\"\nid = \"A\"\nuntil = 2026-03-10\n"
      "[[kit]]\ntest = \"nitrite\"\nbasis = \"N\"\nid = \"B\"\nfrom = 2026-03-10\nuntil = 2026-03-20\n");
  const LoopLog log = log_from(loop,
                               "2026-03-09T23:59,nitrite,1,mg/L,\n2026-03-10T00:00,nitrite,1,mg/L,\n"
                               "2026-03-20T23:59,nitrite,1,mg/L,\n");
  EXPECT_EQ(std::get<Reading>(log.entries[0].body).kit, 0);
  EXPECT_EQ(std::get<Reading>(log.entries[1].body).kit, 1);
  EXPECT_EQ(std::get<Reading>(log.entries[2].body).kit, 1);
  EXPECT_TRUE(says(row_refusal("2026-03-21T00:00,nitrite,1,mg/L,", loop), {"counted as"}));
}

}  // namespace
}  // namespace helmwater::records
