// SPDX-License-Identifier: Apache-2.0
// helmwater outlook at the shell: what it may look at and what it must honour.
#include <gtest/gtest.h>

#include "json_checks.hpp"
#include "loop_on_disk.hpp"
#include "run_program.hpp"

namespace helmwater::cli_test {
namespace {

using Words = std::vector<std::string>;

Json outlook(const std::string& loop, const Words& more = {}) {
  Words words{"outlook", loop, "--json", "--members", "400"};
  words.insert(words.end(), more.begin(), more.end());
  return answer_of(helmwater(words));
}

// The first n rows are up to 2026-03-10; what follows is later.
const std::string kEarly =
    "2026-03-01T09:00,dose,0.8,g,ammonium chloride\n"
    "2026-03-02T09:00,temperature,25,degC,\n"
    "2026-03-02T09:00,alkalinity,120,mg/L as CaCO3,\n"
    "2026-03-04T09:00,ammonia,2.5,mg/L as NH3,\n"
    "2026-03-06T09:00,nitrite,0.2,mg/L as NO2,\n"
    "2026-03-08T09:00,ammonia,2,mg/L as NH3,\n"
    "2026-03-10T09:00,nitrite,1.2,mg/L as NO2,\n";
const std::string kLater =
    "2026-03-12T09:00,ammonia,0.5,mg/L as NH3,\n"
    "2026-03-12T10:00,dose,0.6,g,ammonium chloride\n"
    "2026-03-13T09:00,temperature,25,degC,\n"
    "2026-03-14T09:00,nitrite,6,mg/L as NO2,\n"
    "2026-03-14T09:00,ph,7.9,,\n"
    "2026-03-14T09:00,alkalinity,90,mg/L as CaCO3,\n"
    "2026-03-15T09:00,nitrate,20,mg/L as NO3,\n"
    "2026-03-16T09:00,oxygen,7,mg/L,\n";

std::string replaced(std::string text, const std::string& what, const std::string& with) {
  const auto at = text.find(what);
  EXPECT_NE(at, std::string::npos) << what;
  return text.replace(at, what.size(), with);
}

double p50_at(const Json& outlook, const char* what, const char* when) {
  for (const Json& moment : outlook["series"])
    if (moment["when"] == when) return moment[what]["p50"].get<double>();
  ADD_FAILURE() << "no " << when << " in the series";
  return 0;
}

TEST(OutlookEvidence, no_reading_after_as_of_is_used_of_any_kind) {
  const LoopOnDisk loop(std::string(kPlainLoop), log_of(kEarly + kLater));
  std::string other = kLater;
  other = replaced(other, "ammonia,0.5", "ammonia,8");
  other = replaced(other, "temperature,25", "temperature,5");
  other = replaced(other, "nitrite,6", "nitrite,0");
  other = replaced(other, "ph,7.9", "ph,5.0");
  other = replaced(other, "alkalinity,90", "alkalinity,3");
  other = replaced(other, "nitrate,20", "nitrate,200");
  other = replaced(other, "oxygen,7", "oxygen,0.5");
  const LoopOnDisk perturbed(std::string(kPlainLoop), log_of(kEarly + other));
  const Words as_of{"--as-of", "2026-03-10T09:00", "--days", "20"};
  const Json a = outlook(loop.path(), as_of), b = outlook(perturbed.path(), as_of);
  // All but the doubts, which are about the lines of the log.
  for (const char* part : {"as_of", "started", "readings_used", "effective_members", "now", "stage",
                           "milestones", "risk", "series", "advice", "plan"})
    EXPECT_EQ(a[part], b[part]) << part;
  // The same change is seen once the readings are no longer later: the test could fail.
  EXPECT_NE(outlook(loop.path(), {"--days", "1"})["now"], outlook(perturbed.path(), {"--days", "1"})["now"]);
}

TEST(OutlookEvidence, deeds_after_as_of_are_honoured) {
  const LoopOnDisk loop(std::string(kPlainLoop), log_of(kEarly + kLater));
  const LoopOnDisk twice(std::string(kPlainLoop), log_of(kEarly + replaced(kLater, "dose,0.6", "dose,1.6")));
  const Words as_of{"--as-of", "2026-03-10T09:00", "--days", "20"};
  const Json a = outlook(loop.path(), as_of), b = outlook(twice.path(), as_of);
  EXPECT_EQ(a["now"], b["now"]) << "a later deed says nothing about the water now";
  // Before the dose the same; four hours after it 1 g NH4Cl in 100 L is 3.18 mg/L as NH3 more (molar masses),
  // less what is eaten in four hours; the volume is good to 10 %.
  EXPECT_EQ(p50_at(a, "ammonia", "2026-03-12T08:00:00Z"), p50_at(b, "ammonia", "2026-03-12T08:00:00Z"));
  EXPECT_NEAR(p50_at(b, "ammonia", "2026-03-12T14:00:00Z") - p50_at(a, "ammonia", "2026-03-12T14:00:00Z"),
              3.18, 0.5);
}

TEST(OutlookEvidence, a_water_change_after_as_of_is_honoured) {
  const LoopOnDisk loop(std::string(kPlainLoop) + "[source_water]\nnitrate_mg_l = 0\n",
                        log_of(kEarly + "2026-03-12T10:00,water change,50,%,\n"));
  const Json o = outlook(loop.path(), {"--as-of", "2026-03-10T09:00", "--days", "4"});
  // Half of the water goes out, and with it half of what is in it; bacteria change little in six hours.
  const double before = p50_at(o, "nitrate", "2026-03-12T08:00:00Z"),
               after = p50_at(o, "nitrate", "2026-03-12T14:00:00Z");
  EXPECT_NEAR(after / before, 0.5, 0.1) << before;
}

TEST(OutlookEvidence, without_a_plan_nothing_is_added_after_the_log) {
  const Json planned = outlook(demo("north-bench")), bare = outlook(demo("north-bench"), {"--plan", "none"});
  EXPECT_EQ(planned["now"], bare["now"]);
  const Json& last = bare["series"].back();
  const Json& last_planned = planned["series"].back();
  // Nitrogen that is not added is not there as nitrate: two months of 2 mg/L doses end in more of it.
  EXPECT_GT(last_planned["nitrate"]["p50"].get<double>(), 1.2 * last["nitrate"]["p50"].get<double>());
  // Nothing feeds this loop, so ammonia, all but gone at as_of, never comes back.
  const auto as_of = instant(bare["as_of"]);
  for (const Json& moment : bare["series"])
    if (instant(moment["when"]) > as_of) {
      EXPECT_LT(moment["ammonia"]["p95"].get<double>(), 0.5) << moment["when"];
    }
}

TEST(OutlookEvidence, counts_the_readings_up_to_as_of_and_a_line_written_twice_once) {
  const std::string twice = "2026-03-04T09:00,ammonia,2.5,mg/L as NH3,\n";
  const std::string another = "2026-03-04T09:00,ammonia,2,mg/L as NH3,\n";
  const LoopOnDisk once_loop(std::string(kPlainLoop), log_of(kEarly));
  const LoopOnDisk twice_loop(std::string(kPlainLoop), log_of(kEarly + twice));
  const LoopOnDisk two_loop(std::string(kPlainLoop), log_of(kEarly + another));
  const Json once = outlook(once_loop.path(), {"--days", "1"});
  const Json doubled = outlook(twice_loop.path(), {"--days", "1"});
  const Json two = outlook(two_loop.path(), {"--days", "1"});
  // Two of ammonia, two of nitrite, one of alkalinity. Whether a temperature counts is left open: it is an
  // input.
  EXPECT_GE(once["readings_used"].get<int>(), 5);
  EXPECT_LE(once["readings_used"].get<int>(), 6);
  EXPECT_EQ(doubled["readings_used"], once["readings_used"]);
  EXPECT_EQ(doubled["now"], once["now"]);
  EXPECT_GT(doubled["doubts"].size(), once["doubts"].size());
  EXPECT_EQ(two["readings_used"].get<int>(), once["readings_used"].get<int>() + 1);
  EXPECT_EQ(outlook(once_loop.path(), {"--days", "1", "--as-of", "2026-03-07"})["readings_used"].get<int>(),
            once["readings_used"].get<int>() - 2);
}

TEST(OutlookEvidence, the_order_of_the_lines_does_not_matter) {
  // Every line at an instant of its own: where two share one, their order may change the last digits.
  std::string rows, reversed;
  for (const char* row :
       {"2026-03-01T09:00,dose,0.8,g,ammonium chloride\n", "2026-03-02T09:00,temperature,25,degC,\n",
        "2026-03-04T09:00,ammonia,2.5,mg/L as NH3,\n", "2026-03-06T09:00,nitrite,0.2,mg/L as NO2,\n",
        "2026-03-07T09:00,water change,10,%,\n", "2026-03-08T09:00,ph,8.2,,\n"}) {
    rows += row;
    reversed = row + reversed;
  }
  const LoopOnDisk loop(std::string(kPlainLoop), log_of(rows));
  const LoopOnDisk other(std::string(kPlainLoop), log_of(reversed));
  const Json a = outlook(loop.path(), {"--days", "3"}), b = outlook(other.path(), {"--days", "3"});
  EXPECT_EQ(a["now"], b["now"]);
  EXPECT_EQ(a["milestones"], b["milestones"]);
}

TEST(OutlookEvidence, the_same_water_in_another_basis_gives_the_same_outlook) {
  const std::string dose = "2026-03-01T09:00,dose,1.2,g,ammonium chloride\n";
  const LoopOnDisk as_ion(
      std::string(kPlainLoop),
      log_of(dose + "2026-03-09T09:00,ammonia,2,mg/L as NH3,\n2026-03-09T09:00,nitrite,3,mg/L as ion,\n"
                    "2026-03-09T09:00,nitrate,20,mg/L as NO3,\n"));
  // 14.007 g/mol N against 17.031, 46.005 and 62.004 g/mol.
  const LoopOnDisk as_n(
      std::string(kPlainLoop),
      log_of(dose +
             "2026-03-09T09:00,ammonia,1.64488,mg/L as N,\n2026-03-09T09:00,nitrite,0.91340,mg/L as N,\n"
             "2026-03-09T09:00,nitrate,4.51810,mg/L as N,\n"));
  const Json a = outlook(as_ion.path(), {"--days", "1"}), b = outlook(as_n.path(), {"--days", "1"});
  // 15 %: the spread of a median of 400 members; mistaking a basis is 22 % at least.
  for (const char* what : {"ammonia", "nitrite", "nitrate"})
    EXPECT_NEAR(b["now"][what]["p50"].get<double>() / a["now"][what]["p50"].get<double>(), 1, 0.15) << what;
  EXPECT_NEAR(a["now"]["nitrite"]["p50"].get<double>() / 3, 1, 0.4)
      << "in mg/L as ion, near what the vial showed";
}

// Keepers forget to log doses, and an imported sheet holds none. Ammonia that vials keep showing is there.
TEST(OutlookEvidence, ammonia_shown_by_vial_after_vial_is_believed_although_no_dose_is_logged) {
  std::string rows;
  for (const char* day : {"04", "05", "06", "07", "08"})
    rows += std::string("2026-03-") + day + "T09:00,ammonia,2,mg/L as NH3,\n";
  const LoopOnDisk loop(std::string(kPlainLoop), log_of(rows));
  const Json o = outlook(loop.path(), {"--days", "3"});
  EXPECT_NEAR(o["now"]["ammonia"]["p50"].get<double>(), 2, 0.8);
  for (const Json& advice : o["advice"])
    EXPECT_NE(advice["code"], "dose_ammonia") << "on top of what is there already";
}

// An unseeded loop at 12 degC whose ammonia is gone two days after every dose, from the first on: nobody's bacteria do that.
TEST(OutlookEvidence, a_loop_unlike_any_other_is_doubted) {
  std::string rows = "2026-03-01T09:00,dose,0.76,g,ammonium chloride\n2026-03-01T20:00,ammonia,2,mg/L as NH3,\n";
  for (const char* day : {"03", "05", "07", "09"}) {
    rows += std::string("2026-03-") + day + "T08:00,ammonia,0,mg/L as NH3,\n2026-03-" + day + "T08:00,nitrite,0,mg/L as NO2,\n";
    if (std::string(day) != "09") rows += std::string("2026-03-") + day + "T09:00,dose,0.76,g,ammonium chloride\n";
  }
  const auto doubted = [](const Json& o) {
    for (const Json& d : o["doubts"])
      if (d["code"] == "unlike_any_loop") return true;
    return false;
  };
  const LoopOnDisk cold(std::string(kPlainLoop) + "typical_temperature_c = 12\n", log_of(rows));
  const Json o = outlook(cold.path());
  EXPECT_TRUE(o["conflict"]["said"].get<bool>()) << o["conflict"];
  EXPECT_LE(o["conflict"]["p"].get<double>(), 0.01);
  EXPECT_TRUE(doubted(o));
  const LoopOnDisk usual(std::string(kPlainLoop), log_of(kEarly));
  const Json plain = outlook(usual.path());
  EXPECT_FALSE(plain["conflict"]["said"].get<bool>()) << plain["conflict"];
  EXPECT_TRUE(plain["conflict"]["text"].is_null());
  EXPECT_FALSE(doubted(plain));
}

}  // namespace
}  // namespace helmwater::cli_test
