// SPDX-License-Identifier: Apache-2.0
// The data folder as the history of each of its loops.
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>

#include "scratch_folder.hpp"
#include "server/api.hpp"

namespace helmwater::server {
namespace {

using nlohmann::json;

// A start-up with mature media, over in three weeks; `month` sets it apart.
void add_loop(const std::filesystem::path& data, const std::string& name, const std::string& month) {
  std::filesystem::create_directory(data / name);
  std::ofstream(data / name / "loop.toml") << "name = \"" << name << "\"\nvolume_l = 500\nstarted = 2026-" << month
                                           << "-01T08:00:00Z\nstart = \"seeded media\"\n[source_water]\nalkalinity_mg_l_caco3 = 150\n";
  const char* ammonia[] = {"2", "2", "1", "0.5", "0.25", "0", "0", "0", "0", "0"};
  const char* nitrite[] = {"0", "0.3", "1", "1", "2", "2", "1", "0.3", "0", "0"};
  std::ofstream log(data / name / "log.csv");
  log << "when,what,value,unit,detail\n2026-" << month << "-01T09:00Z,dose,1.6,g,ammonium chloride\n";
  for (int k = 0; k < 10; ++k) {
    const int day = 2 + 2 * k;
    const std::string when = "2026-" + month + (day < 10 ? "-0" : "-") + std::to_string(day) + "T18:00Z";
    log << when << ",ammonia," << ammonia[k] << ",mg/L as NH3,\n" << when << ",nitrite," << nitrite[k] << ",mg/L as NO2,\n";
  }
}

class HistoryTest : public testing::Test {
 protected:
  HistoryTest() {
    add_loop(data_.path(), "spring", "03");
    add_loop(data_.path(), "summer", "05");
    add_loop(data_.path(), "autumn", "09");
  }
  json outlook(const std::string& id, const std::string& as_of) {
    Request request;
    EXPECT_TRUE(read_target("/api/loops/" + id + "/outlook?as_of=" + as_of, request));
    request.method = "GET";
    return json::parse(api_.answer(request).body);
  }

  ScratchFolder data_;
  Api api_{{data_.path(), "0.1.0", [] { return records::parse_instant("2026-10-01", "UTC")->when; }}};
};

TEST_F(HistoryTest, OtherLoopsOfTheFolderNeverTheLoopItself) {
  const json late = outlook("autumn", "2026-09-03");
  EXPECT_EQ(late["history"]["loops"], 2) << late["history"];
  EXPECT_EQ(late["history"]["of"], json({"spring", "summer"}));
  EXPECT_EQ(outlook("spring", "2026-03-10")["history"]["loops"], 0);
  // By December all are over; each rests on the two others.
  EXPECT_EQ(outlook("spring", "2026-12-01")["history"]["of"], json({"summer", "autumn"}));
}

TEST_F(HistoryTest, AnEarlierLogThatChangesChangesTheAnswer) {
  const json before = outlook("autumn", "2026-09-03");
  std::filesystem::remove_all(data_.path() / "summer");
  const json after = outlook("autumn", "2026-09-03");
  EXPECT_EQ(after["history"]["loops"], 0);
  EXPECT_NE(after["milestones"], before["milestones"]);
  add_loop(data_.path(), "summer", "05");
  EXPECT_EQ(outlook("autumn", "2026-09-03")["history"], before["history"]);
}

TEST_F(HistoryTest, WhatToExpectOfANewLoopRestsOnThemToo) {
  Request request;
  ASSERT_TRUE(read_target("/api/expect?volume_l=500&start=seeded%20media", request));
  request.method = "GET";
  const json j = json::parse(api_.answer(request).body);
  EXPECT_EQ(j["history"]["loops"], 3) << j["history"];
}

}  // namespace
}  // namespace helmwater::server
