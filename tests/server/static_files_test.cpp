// SPDX-License-Identifier: Apache-2.0
#include "server/static_files.hpp"

#include <gtest/gtest.h>

namespace helmwater::server {
namespace {

const std::vector<StaticFile> kFiles{{"/index.html", "e1", "<html>", "GZ1"}, {"/assets/app-1.js", "e2", "js", ""}};

Request get(const std::string& path) {
  Request r;
  r.method = "GET";
  r.path = path;
  return r;
}

std::string header(const Response& r, const std::string& name) {
  for (const auto& [key, value] : r.headers) {
    if (key == name) return value;
  }
  return {};
}

TEST(StaticFiles, EveryPathWithoutADotIsThePage) {
  for (const char* path : {"/", "/loops/north-bench", "/expect"}) {
    const Response r = serve_file(kFiles, get(path));
    EXPECT_EQ(r.status, 200);
    EXPECT_EQ(r.body, "<html>");
    EXPECT_EQ(header(r, "Cache-Control"), "no-cache");
  }
  EXPECT_EQ(serve_file(kFiles, get("/../../etc/passwd.txt")).status, 404);
  EXPECT_EQ(serve_file(kFiles, get("/assets/none.js")).status, 404);
  Request post = get("/");
  post.method = "POST";
  EXPECT_EQ(serve_file(kFiles, post).status, 405);
}

TEST(StaticFiles, PackedForThoseWhoTakeIt) {  // RFC 9110, 12.5.3
  const auto body = [](const char* accept) {
    Request r = get("/");
    r.headers["accept-encoding"] = accept;
    return serve_file(kFiles, r).body;
  };
  EXPECT_EQ(body("gzip, deflate, br"), "GZ1");
  EXPECT_EQ(body("br;q=1.0, gzip;q=0.8"), "GZ1");
  EXPECT_EQ(body("gzip;q=0"), "<html>");
  EXPECT_EQ(body("gzip; q=0.0, br"), "<html>");
  EXPECT_EQ(body("br"), "<html>");
}

TEST(StaticFiles, AKnownTagSavesTheBody) {
  Request r = get("/assets/app-1.js");
  EXPECT_NE(header(serve_file(kFiles, r), "Cache-Control").find("immutable"), std::string::npos);
  r.headers["if-none-match"] = "\"e2\"";
  const Response answer = serve_file(kFiles, r);
  EXPECT_EQ(answer.status, 304);
  EXPECT_TRUE(answer.body.empty());
}

TEST(StaticFiles, SaysSoIfThePageWasNotBuilt) {
  const Response r = serve_file({}, get("/"));
  EXPECT_EQ(r.status, 200);
  EXPECT_NE(r.body.find("not built"), std::string::npos);
}

}  // namespace
}  // namespace helmwater::server
