// SPDX-License-Identifier: Apache-2.0
// docs/openapi.json against the routes, and real answers against its schemas.
#include <gtest/gtest.h>

#include <fstream>
#include <nlohmann/json.hpp>
#include <set>

#include "scratch_folder.hpp"
#include "server/api.hpp"

namespace helmwater::server {
namespace {

using nlohmann::json;

const json& document() {
  static const json j = json::parse(text_of(std::filesystem::path(HELMWATER_SOURCE) / "docs/openapi.json"));
  return j;
}

const json& resolved(const json& schema) {
  if (!schema.contains("$ref")) return schema;
  return resolved(document().at(json::json_pointer(schema["$ref"].get<std::string>().substr(1))));
}

bool is_of_type(const json& value, const std::string& type) {
  if (type == "null") return value.is_null();
  if (type == "integer") return value.is_number_integer();
  if (type == "number") return value.is_number();
  if (type == "string") return value.is_string();
  if (type == "boolean") return value.is_boolean();
  if (type == "array") return value.is_array();
  if (type == "object") return value.is_object();
  throw std::runtime_error("the document uses a type this test does not know: " + type);
}

// The part of JSON Schema 2020-12 the document uses. Empty: valid; else where and why not.
std::string why_invalid(const json& value, const json& written, const std::string& at) {
  const json& schema = resolved(written);
  if (schema.contains("anyOf")) {
    std::string first;
    for (const json& one : schema["anyOf"]) {
      const std::string why = why_invalid(value, one, at);
      if (why.empty()) return {};
      if (first.empty()) first = why;
    }
    return first;
  }
  if (schema.contains("enum")) {
    for (const json& allowed : schema["enum"]) {
      if (allowed == value) return {};
    }
    return at + ": not one of the listed words: " + value.dump();
  }
  if (schema.contains("type")) {
    const json types = schema["type"].is_array() ? schema["type"] : json::array({schema["type"]});
    bool fits = false;
    for (const json& type : types) fits = fits || is_of_type(value, type.get<std::string>());
    if (!fits) return at + ": wrong type: " + value.dump().substr(0, 60);
  }
  if (value.is_object()) {
    for (const json& key : schema.value("required", json::array())) {
      if (!value.contains(key.get<std::string>())) return at + ": lacks " + key.get<std::string>();
    }
    const json properties = schema.value("properties", json::object());
    for (const auto& [key, member] : value.items()) {
      const std::string where = at + "/" + key;
      if (properties.contains(key)) {
        if (const auto why = why_invalid(member, properties[key], where); !why.empty()) return why;
      } else if (schema.contains("additionalProperties")) {
        const json& more = schema["additionalProperties"];
        if (more == json(false)) return where + ": not in the document";
        if (const auto why = why_invalid(member, more, where); !why.empty()) return why;
      }
    }
  }
  if (value.is_array() && schema.contains("items")) {
    for (std::size_t i = 0; i < value.size(); ++i) {
      if (const auto why = why_invalid(value[i], schema["items"], at + "/" + std::to_string(i)); !why.empty()) return why;
    }
  }
  return {};
}

json schema_of(const std::string& path, const std::string& method, int status) {
  const json& answer = resolved(document()["paths"][path][method]["responses"][std::to_string(status)]);
  return answer["content"]["application/json"]["schema"];
}

TEST(OpenApi, NamesExactlyTheRoutes) {
  EXPECT_EQ(document()["openapi"], "3.1.0");
  std::set<std::string> written, served;
  for (const auto& [path, methods] : document()["paths"].items()) {
    for (const auto& [method, operation] : methods.items()) {
      std::string upper = method;
      for (char& c : upper) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
      written.insert(upper + " " + path);
      EXPECT_EQ(operation.contains("requestBody"), upper == "POST") << path;
    }
  }
  for (const Route& route : Api::routes()) served.insert(route.method + " " + route.pattern);
  EXPECT_EQ(written, served);
}

TEST(OpenApi, AnswersAreAsItSays) {
  const ScratchFolder data;
  Api api({data.path(), "0.1.0", [] { return records::parse_instant("2026-03-01", "UTC")->when; }});
  const auto check = [&](const std::string& method, const std::string& pattern, Request request, int status) {
    request.method = method;
    request.headers["x-helmwater"] = "1";
    const Response response = api.answer(request);
    EXPECT_EQ(response.status, status) << pattern << ": " << response.body.substr(0, 300);
    std::string lower = method == "GET" ? "get" : "post";
    const json schema = schema_of(pattern, lower, status);
    ASSERT_FALSE(schema.is_null()) << pattern << " " << status << " is not in the document";
    EXPECT_EQ(why_invalid(json::parse(response.body), schema, pattern), "");
  };
  const auto get = [&](const std::string& pattern, const std::string& target, int status) {
    Request request;
    ASSERT_TRUE(read_target(target, request));
    check("GET", pattern, request, status);
  };
  const auto post = [&](const std::string& pattern, const std::string& target, const std::string& type, const std::string& body, int status) {
    Request request;
    ASSERT_TRUE(read_target(target, request));
    request.headers["content-type"] = type;
    request.body = body;
    check("POST", pattern, request, status);
  };
  get("/api/health", "/api/health", 200);
  get("/api/loops", "/api/loops", 200);
  get("/api/loops/{id}", "/api/loops/north-bench", 200);
  get("/api/loops/{id}", "/api/loops/none", 404);
  get("/api/loops/{id}/outlook", "/api/loops/long-raft/outlook", 200);
  get("/api/loops/{id}/outlook", "/api/loops/long-raft/outlook?days=0", 400);
  get("/api/loops/{id}/hindcast", "/api/loops/long-raft/hindcast", 200);
  get("/api/loops/{id}/track", "/api/loops/long-raft/track", 200);
  get("/api/track", "/api/track", 200);
  get("/api/loops/{id}/why", "/api/loops/north-bench/why", 200);
  get("/api/loops/{id}/why", "/api/loops/north-bench/why?seed=1.5", 400);
  get("/api/expect", "/api/expect?volume_l=500&start=fish", 200);
  post("/api/loops/{id}/what-if", "/api/loops/north-bench/what-if", "application/json", R"({"dose_ammonia_mg_l":2,"buffer_mg_l_caco3":40})", 200);
  post("/api/loops/{id}/fish", "/api/loops/north-bench/fish", "application/json", R"({"count":20,"weight_g":50,"species":"tilapia","feed_percent":2})", 200);
  post("/api/loops/{id}/fish", "/api/loops/north-bench/fish", "application/json", R"({"count":20})", 422);
  const std::string form = "multipart/form-data; boundary=b";
  const std::string sheet = form_of({{"old.csv", "day,ammonia,nitrite,event\n0,2,0,dosed\n5,x,0.5,\n"}});
  post("/api/preview", "/api/preview", form, sheet, 200);
  post("/api/preview", "/api/preview", form,
       form_of({{"old.csv", "day,ammonia,nitrite,event\n0,2,0,dosed\n5,x,0.5,\n"}}, {{"start", "2026-03-01"}, {"volume_l", "300"}, {"basis", "ion"}}), 200);
  post("/api/preview", "/api/preview", "text/plain", "x", 415);
  const auto folder = data.path() / "north-bench";
  const std::string both = form_of({{"loop.toml", text_of(folder / "loop.toml")}, {"log.csv", text_of(folder / "log.csv")}});
  post("/api/loops", "/api/loops?name=Kept", form, both, 201);
  post("/api/loops", "/api/loops?name=Kept", form, both, 409);
}

TEST(OpenApi, ThisTestsOwnCheckFindsMistakes) {
  const json schema = document()["components"]["schemas"]["Health"];
  EXPECT_EQ(why_invalid(json{{"status", "ok"}, {"version", "1"}}, schema, ""), "");
  EXPECT_NE(why_invalid(json{{"status", "ok"}}, schema, ""), "");
  EXPECT_NE(why_invalid(json{{"status", "bad"}, {"version", "1"}}, schema, ""), "");
  EXPECT_NE(why_invalid(json{{"status", "ok"}, {"version", 1}}, schema, ""), "");
  EXPECT_NE(why_invalid(json{{"status", "ok"}, {"version", "1"}, {"more", 1}}, schema, ""), "");
}

}  // namespace
}  // namespace helmwater::server
