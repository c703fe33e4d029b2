// SPDX-License-Identifier: Apache-2.0
#include "steer/track_record.hpp"

#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>

#include "records/loop_folder.hpp"

namespace helmwater::steer {
namespace {

namespace fs = std::filesystem;

// Clopper & Pearson's exact limits: with no hit or all hits they have the closed form 1 - 0.025^(1/n); 8 of 10 is
// 0.4439 to 0.9748 in tables (from memory).
TEST(track_record, binomial_ranges_are_exact) {
  for (const int n : {1, 5, 20}) {
    EXPECT_NEAR(binomial_range(0, n).high, 1 - std::pow(0.025, 1.0 / n), 1e-6);
    EXPECT_EQ(binomial_range(0, n).low, 0);
    EXPECT_NEAR(binomial_range(n, n).low, std::pow(0.025, 1.0 / n), 1e-6);
    EXPECT_EQ(binomial_range(n, n).high, 1);
  }
  EXPECT_NEAR(binomial_range(8, 10).low, 0.4439, 1e-4);
  EXPECT_NEAR(binomial_range(8, 10).high, 0.9748, 1e-4);
}

TrackCase case_of(double rank, double lead) {
  TrackCase c;
  c.loop = "a";
  c.hindcast.what = "ammonia";
  c.hindcast.rank = rank;
  c.hindcast.lead_days = lead;
  c.hindcast.probability = 0.4;
  c.persistence = 0.2;
  return c;
}

TEST(track_record, counts_by_lead_and_speaks_plainly) {
  std::vector<TrackCase> cases;
  for (int i = 0; i < 39; ++i) cases.push_back(case_of(0.3 + 0.01 * i, 2));
  for (int i = 0; i < 4; ++i) cases.push_back(case_of(0.99, 3));
  cases.push_back(case_of(0.5, 6));
  const TrackRecord r = track_record_of(cases);
  EXPECT_EQ(r.near.n, 43);
  EXPECT_EQ(r.near.in_90, 39);
  EXPECT_EQ(r.far.n, 1);
  EXPECT_NEAR(*r.near.log_score - *r.near.persistence_log_score, std::log(2), 1e-12);
  EXPECT_NE(r.text.find("Of 43 later readings, looked at up to three days ahead, 39 (91 %)"), std::string::npos) << r.text;
  EXPECT_NE(r.text.find("as it should be"), std::string::npos) << r.text;
  EXPECT_NE(r.text.find("2.0 times as likely"), std::string::npos) << r.text;
  const TrackRecord few = track_record_of({case_of(0.5, 1), case_of(0.99, 1)});
  EXPECT_NE(few.text.find("too few to judge"), std::string::npos) << few.text;
  std::vector<TrackCase> wrong(40, case_of(0.99, 1));
  EXPECT_NE(track_record_of(wrong).text.find("too narrow"), std::string::npos);
  EXPECT_NE(track_record_of({}).text.find("nothing can be said"), std::string::npos);
}

TEST(track_record, a_second_call_takes_what_was_kept_until_the_log_changes) {
  const fs::path cache = fs::temp_directory_path() / ("helmwater-track-" + std::to_string(::getpid()));
  fs::remove_all(cache);
  const auto loop = records::parse_loop_toml("name = \"T\"\nvolume_l = 100\nstarted = 2026-03-01T08:00:00Z\n", "loop.toml");
  ASSERT_TRUE(loop.has_value());
  const std::string rows = "when,what,value,unit,detail\n2026-03-01T09:00,dose,0.76,g,ammonium chloride\n2026-03-02T09:00,ammonia,2,mg/L as NH3,\n"
                           "2026-03-05T09:00,ammonia,2.2,mg/L as NH3,\n2026-03-07T09:00,ph,7.6,,\n";
  const auto log = records::parse_log_csv(*loop, rows, "log.csv");
  ASSERT_TRUE(log.has_value());
  TrackOptions options;
  options.cache = cache;
  options.members = 500;
  const auto first = track_cases_of(*log, options);
  ASSERT_EQ(first.size(), 3u);  // from day 3 both later readings, from day 6 the pH
  int computed = 0;
  const auto again = track_cases_of(*log, options, [&](int, int) { ++computed; });
  EXPECT_EQ(computed, 0);
  ASSERT_EQ(again.size(), first.size());
  for (std::size_t i = 0; i < first.size(); ++i) {
    EXPECT_EQ(again[i].hindcast.when, first[i].hindcast.when);
    EXPECT_EQ(again[i].hindcast.as_of, first[i].hindcast.as_of);
    EXPECT_EQ(again[i].hindcast.value, first[i].hindcast.value);
    EXPECT_EQ(again[i].hindcast.rank, first[i].hindcast.rank);
    EXPECT_EQ(again[i].hindcast.low, first[i].hindcast.low);
    EXPECT_EQ(again[i].persistence, first[i].persistence);
  }
  EXPECT_TRUE(first[0].persistence.has_value());
  EXPECT_FALSE(first[1].persistence.has_value());  // the first pH has nothing before it
  // A spoilt file is no answer.
  for (const auto& file : fs::directory_iterator(cache)) {
    if (file.path().extension() == ".track") std::ofstream(file.path()) << "helmwater track 1\n3\n1 2";
  }
  EXPECT_EQ(track_cases_of(*log, options, [&](int, int) { ++computed; }).size(), 3u);
  EXPECT_GT(computed, 0);
  const auto longer = records::parse_log_csv(*loop, rows + "2026-03-08T09:00,ammonia,2,mg/L as NH3,\n", "log.csv");
  ASSERT_TRUE(longer.has_value());
  EXPECT_GT(track_cases_of(*longer, options).size(), 3u);
  fs::remove_all(cache);
}

}  // namespace
}  // namespace helmwater::steer
