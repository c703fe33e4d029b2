// SPDX-License-Identifier: Apache-2.0
// The routes as plain functions.
#include "server/api.hpp"

#include <gtest/gtest.h>

#include <fstream>
#include <nlohmann/json.hpp>

#include "scratch_folder.hpp"

namespace helmwater::server {
namespace {

using nlohmann::json;

class ApiTest : public testing::Test {
 protected:
  Response get(const std::string& target) { return ask("GET", target, "", ""); }
  Response post(const std::string& target, const std::string& type, const std::string& body) { return ask("POST", target, type, body); }
  Response what_if(const std::string& body) { return post("/api/loops/north-bench/what-if", "application/json", body); }
  Response ask(const std::string& method, const std::string& target, const std::string& type, const std::string& body) {
    Request request;
    EXPECT_TRUE(read_target(target, request)) << target;
    request.method = method;
    request.headers["x-helmwater"] = "1";
    request.headers["content-type"] = type;
    request.body = body;
    return api_.answer(request);
  }
  std::string loop_form() const {
    const auto folder = data_.path() / "north-bench";
    return form_of({{"loop.toml", text_of(folder / "loop.toml")}, {"log.csv", text_of(folder / "log.csv")}});
  }
  static json without_time(const Response& r) {
    json j = json::parse(r.body);
    j.erase("elapsed_ms");
    return j;
  }

  ScratchFolder data_;
  Api api_{{data_.path(), "0.1.0", [] { return records::parse_instant("2026-03-01", "UTC")->when; }}};
};

constexpr const char* kForm = "multipart/form-data; boundary=b";

TEST_F(ApiTest, ReadingsAreInThePagesUnits) {
  // 1.5 mg/L as NH4 is 1.416 mg/L as NH3 (17.031/18.039, IUPAC weights); 1 dKH is 17.85 mg/L CaCO3.
  const json sheet = json::parse(get("/api/loops/north-bench").body);
  for (const json& kit : sheet["loop"]["kits"]) {
    if (kit["test"] == "ammonia") {
      EXPECT_NEAR(kit["steps_page"][3].get<double>(), 1.416, 0.002);
    }
    if (kit["test"] == "alkalinity") {
      EXPECT_NEAR(kit["steps_page"][1].get<double>(), 17.85, 0.01);
    }
  }
  for (const json& entry : sheet["entries"]) {
    if (entry["what"] != "ammonia" || entry["value"] != "1.5") continue;
    // A step stands for the geometric middle on either side: (sqrt(0.7 x 1.5), sqrt(1.5 x 3)) as NH4.
    EXPECT_NEAR(entry["reading"]["low"].get<double>(), 1.0247 * 17.031 / 18.039, 0.002);
    EXPECT_NEAR(entry["reading"]["high"].get<double>(), 2.1213 * 17.031 / 18.039, 0.002);
    EXPECT_EQ(entry["reading"]["form"], "step");
    return;
  }
  FAIL() << "the demo has no such reading any more; choose another";
}

TEST_F(ApiTest, IdsLeadNowhereElse) {
  std::ofstream(data_.path().parent_path() / "loop.toml").close();
  for (const char* id : {"..", ".", "%2e%2e", "..%2fnorth-bench", "North-Bench", "north-bench%00", "a.b", "%c3%a9"}) {
    Request request;
    if (!read_target(std::string("/api/loops/") + id, request)) continue;
    request.method = "GET";
    EXPECT_EQ(api_.answer(request).status, 404) << id;
  }
  std::filesystem::remove(data_.path().parent_path() / "loop.toml");
}

TEST_F(ApiTest, ABrokenLoopIsListedWithItsError) {
  std::filesystem::create_directory(data_.path() / "broken");
  std::ofstream(data_.path() / "broken/loop.toml") << "name = 3\n";
  std::ofstream(data_.path() / "broken/log.csv") << "when,what,value,unit,detail\n";
  const json loops = json::parse(get("/api/loops").body)["loops"];
  ASSERT_EQ(loops.size(), 3u);
  EXPECT_EQ(loops[0]["id"], "broken");
  EXPECT_TRUE(loops[0]["error"].is_string());
  EXPECT_EQ(get("/api/loops/broken").status, 422);
  EXPECT_EQ(get("/api/loops/broken").body.find(data_.path().string()), std::string::npos) << "the path is nobody's business";
}

TEST_F(ApiTest, AskingTwiceChangesNothing) {
  const std::string before = data_.everything();
  const Response first = get("/api/loops/north-bench/outlook"), second = get("/api/loops/north-bench/outlook");
  EXPECT_EQ(without_time(first), without_time(second));
  EXPECT_LT(json::parse(second.body)["elapsed_ms"].get<int>(), 50);
  EXPECT_EQ(get("/api/loops/north-bench").body, get("/api/loops/north-bench").body);
  EXPECT_EQ(data_.everything(), before);
}

TEST_F(ApiTest, AChangedLogGetsANewOutlook) {
  const json before = without_time(get("/api/loops/north-bench/outlook"));
  std::ofstream log(data_.path() / "north-bench/log.csv", std::ios::app);
  log << "2026-03-19T20:00Z,nitrite,15,mg/L,\n";
  log.close();
  const json after = without_time(get("/api/loops/north-bench/outlook"));
  EXPECT_EQ(after["as_of"], "2026-03-19T20:00:00Z");
  EXPECT_EQ(after["readings_used"].get<int>(), before["readings_used"].get<int>() + 1);
}

TEST_F(ApiTest, QueriesAreChecked) {
  for (const char* query : {"days=0", "days=366", "days=nan", "days=x", "seed=1.5", "seed=-1", "plan=all", "as_of=yesterday",
                            "as_of=2020-01-01", "dayz=3"}) {
    const Response r = get(std::string("/api/loops/north-bench/outlook?") + query);
    EXPECT_EQ(r.status, 400) << query << r.body;
    EXPECT_TRUE(json::parse(r.body).contains("message")) << query;
  }
  EXPECT_EQ(get("/api/loops/north-bench/outlook?as_of=2190-01-01").status, 422);  // 160 years of course
  for (const char* query : {"", "volume_l=0", "volume_l=-1", "volume_l=1e9", "volume_l=500&start=cold", "volume_l=500&temperature_c=80"}) {
    EXPECT_EQ(get(std::string("/api/expect?") + query).status, 400) << query;
  }
}

TEST_F(ApiTest, AWhatIfChangesTheOutlookAndStoresNothing) {
  const std::string before = data_.everything();
  const json own = without_time(get("/api/loops/north-bench/outlook"));
  const Response nothing = what_if("{}");
  ASSERT_EQ(nothing.status, 200) << nothing.body;
  EXPECT_EQ(json::parse(nothing.body)["outlook"]["milestones"], own["milestones"]);
  const Response warm = what_if(R"({"temperature_c":29,"dose_ammonia_mg_l":null})");
  EXPECT_NE(json::parse(warm.body)["outlook"]["milestones"]["ready_for_fish"], own["milestones"]["ready_for_fish"]);
  const Response dosed = what_if(R"({"dose_ammonia_mg_l":3,"dose_in_days":1})");
  EXPECT_NE(json::parse(dosed.body)["outlook"]["series"], own["series"]);
  EXPECT_EQ(data_.everything(), before);
}

TEST_F(ApiTest, AFishPlanAnswersAndStoresNothing) {
  const std::string before = data_.everything();
  const auto fish = [&](const std::string& body) { return post("/api/loops/north-bench/fish", "application/json", body); };
  const Response asked = fish(R"({"count":20,"weight_g":50,"species":"tilapia","feed_percent":2,"weeks":4})");
  ASSERT_EQ(asked.status, 200) << asked.body;
  const json plan = json::parse(asked.body);
  EXPECT_EQ(plan["verdict"], "not_yet");  // nitrite at 16 mg/L
  EXPECT_EQ(plan["after"].size(), 5u);
  EXPECT_TRUE(plan["feed_and_water"].is_null());
  EXPECT_EQ(json::parse(fish(R"({"count":20,"weight_g":50,"species":"tilapia","feed_g_per_day":20,"weeks":4})").body)["after"], plan["after"]);
  EXPECT_EQ(json::parse(fish(R"({"count":20,"weight_g":50,"as_of":"2026-03-10"})").body)["as_of"], "2026-03-10T11:00:00Z");
  for (const char* bad : {"", "[]", R"({"count":0})", R"({"count":"20"})", R"({"count":20,"weight_g":50,"weeks":2.5})", R"({"count":20,"weight_g":50,"species":7})",
                          R"({"count":20,"weight_g":50,"feed_percent":2,"feed_g_per_day":3})", R"({"fish":20})", R"({"count":20,"weight_g":50,"as_of":"soon"})"}) {
    const Response r = fish(bad);
    EXPECT_EQ(r.status, 400) << bad << r.body;
    EXPECT_TRUE(json::parse(r.body).contains("message")) << bad;
  }
  const Response more = fish(R"({"count":20})");
  EXPECT_EQ(more.status, 422);
  EXPECT_EQ(json::parse(more.body)["field"], "weight_g");
  EXPECT_EQ(post("/api/loops/none/fish", "application/json", R"({"feed_g_per_day":5})").status, 404);
  EXPECT_EQ(data_.everything(), before);
}

TEST_F(ApiTest, WhatIfRefusesWhatItCannotUse) {
  EXPECT_EQ(what_if("").status, 400);
  EXPECT_EQ(what_if("[]").status, 400);
  EXPECT_EQ(what_if(R"({"dose_ammonia_mg_l":-1})").status, 400);
  EXPECT_EQ(what_if(R"({"dose_ammonia_mg_l":1e308})").status, 400);
  EXPECT_EQ(what_if(R"({"dose_ammonia_mg_l":"2"})").status, 400);
  EXPECT_EQ(what_if(R"({"temperature_c":90})").status, 400);
  EXPECT_EQ(what_if(R"({"dosis":2})").status, 400);
  EXPECT_EQ(what_if(std::string(100'000, '[')).status, 400);
  EXPECT_EQ(what_if("{\"a\":" + std::string(100'000, '[') + std::string(100'000, ']') + "}").status, 400);
  EXPECT_EQ(post("/api/loops/north-bench/what-if", "text/plain", "{}").status, 415);
  EXPECT_EQ(post("/api/loops/none/what-if", "application/json", "{}").status, 404);
}

TEST_F(ApiTest, OtherOriginsCannotPost) {
  Request request;
  request.method = "POST";
  request.path = "/api/preview";
  request.headers["content-type"] = kForm;
  request.body = loop_form();
  EXPECT_EQ(api_.answer(request).status, 400);
}

TEST_F(ApiTest, APreviewShowsAndStoresNothing) {
  const std::string before = data_.everything();
  const Response r = post("/api/preview", kForm, loop_form());
  ASSERT_EQ(r.status, 200) << r.body;
  const json j = json::parse(r.body);
  EXPECT_EQ(j["kind"], "folder");
  EXPECT_EQ(j["loop"]["entries"].size(), json::parse(get("/api/loops/north-bench").body)["entries"].size());
  EXPECT_EQ(j["outlook"]["milestones"], without_time(get("/api/loops/north-bench/outlook"))["milestones"]);
  EXPECT_EQ(data_.everything(), before);
}

TEST_F(ApiTest, ASheetAsksForWhatItLacks) {
  const std::string sheet = "day,ammonia,nitrite\n0,2,0\n4,1,?\n";
  const json open = json::parse(post("/api/preview", kForm, form_of({{"old.csv", sheet}}, {{"volume_l", "300"}})).body);
  EXPECT_EQ(open["needs"], (json{"start", "basis"}));
  EXPECT_TRUE(open["outlook"].is_null());
  const auto fields = std::vector<std::pair<std::string, std::string>>{{"volume_l", "300"}, {"start", "2026-03-01"}, {"basis", "N"}};
  const json answered = json::parse(post("/api/preview", kForm, form_of({{"old.csv", sheet}}, fields)).body);
  EXPECT_EQ(answered["needs"], json::array());
  EXPECT_EQ(answered["unread"].size(), 1u);
  EXPECT_TRUE(answered["outlook"].is_object());
  EXPECT_EQ(post("/api/preview", kForm, form_of({{"log.csv", "when,what,value,unit,detail\n"}})).status, 422);
}

TEST_F(ApiTest, KeepingNeverOverwrites) {
  const Response kept = post("/api/loops?name=South+Bench+%232", kForm, loop_form());
  ASSERT_EQ(kept.status, 201) << kept.body;
  EXPECT_EQ(json::parse(kept.body)["id"], "south-bench-2");
  EXPECT_EQ(get("/api/loops/south-bench-2").status, 200);
  const std::string before = data_.everything();
  EXPECT_EQ(post("/api/loops?name=south-bench-2", kForm, loop_form()).status, 409);
  EXPECT_EQ(post("/api/loops?name=NORTH-bench", kForm, loop_form()).status, 409);
  std::filesystem::create_directory(data_.path() / "empty");
  EXPECT_EQ(post("/api/loops?name=empty", kForm, loop_form()).status, 409);
  std::filesystem::remove(data_.path() / "empty");
  EXPECT_EQ(post("/api/loops?name=..%2f..", kForm, loop_form()).status, 400);
  EXPECT_EQ(post("/api/loops", kForm, "nonsense").status, 400);
  EXPECT_EQ(data_.everything(), before);
}

TEST(ApiWithoutData, ShowsAnEmptyShelfAndKeepsNothing) {
  Api api({std::nullopt, "0.1.0", [] { return records::Instant{}; }});
  Request request;
  request.method = "GET";
  request.path = "/api/loops";
  EXPECT_EQ(api.answer(request).body, R"({"loops":[]})");
  request.method = "POST";
  request.headers = {{"x-helmwater", "1"}, {"content-type", kForm}};
  request.body = form_of({{"loop.toml", "name = \"A\"\nvolume_l = 100\n"}, {"log.csv", "when,what,value,unit,detail\n"}});
  EXPECT_EQ(api.answer(request).status, 409);
}

TEST_F(ApiTest, TooMuchIsRefusedBeforeItIsWorkedOn) {
  const auto preview = [&](const std::string& rows) {
    return post("/api/preview", kForm, form_of({{"loop.toml", "name = \"A\"\nvolume_l = 100\n"}, {"log.csv", "when,what,value,unit,detail\n" + rows}})).status;
  };
  EXPECT_EQ(preview("1950-01-01,note,x,,\n2150-01-01,note,x,,\n"), 422);
  std::string many;
  for (int i = 0; i < 20001; ++i) many += "2026-03-01,note,x,,\n";
  EXPECT_EQ(preview(many), 422);
}

}  // namespace
}  // namespace helmwater::server
