// SPDX-License-Identifier: Apache-2.0
#include "server/message.hpp"

#include <gtest/gtest.h>

namespace helmwater::server {
namespace {

TEST(Target, IsSplitAndDecoded) {  // RFC 3986, 2.1; blanks in queries as forms write them (WHATWG URL, 5.1)
  Request r;
  ASSERT_TRUE(read_target("/a%20b/c?start=seeded+media&x=%2B1", r));
  EXPECT_EQ(r.path, "/a b/c");
  EXPECT_EQ(r.query["start"], "seeded media");
  EXPECT_EQ(r.query["x"], "+1");
}

TEST(Target, RefusesWhatIsBroken) {
  for (const char* text : {"", "a", "/%", "/%2", "/%zz", "/a%00b", "/?a=1&a=2", "/%0d%0aX: y", "http://x/"}) {
    Request r;
    EXPECT_FALSE(read_target(text, r)) << text;
  }
}

TEST(Host, OnlyOwnNamesWithOwnPort) {
  const std::vector<std::string> names{"localhost", "127.0.0.1", "[::1]"};
  for (const char* good : {"localhost:8710", "LOCALHOST:8710", "127.0.0.1:8710", "[::1]:8710", "[::1]", "localhost"}) {
    EXPECT_FALSE(refuse_host({good}, names, 8710)) << good;
  }
  for (const char* bad : {"evil.example", "localhost:81", "localhost.evil.example:8710", "127.0.0.2", "", ":8710", "[::1", "localhost:8710:1"}) {
    const auto problem = refuse_host({bad}, names, 8710);
    ASSERT_TRUE(problem) << bad;
    EXPECT_EQ(problem->status, 421) << bad;  // RFC 9110, 15.5.20
  }
  EXPECT_EQ(refuse_host({}, names, 8710)->status, 400);  // RFC 9112, 3.2
  EXPECT_EQ(refuse_host({"localhost", "localhost"}, names, 8710)->status, 400);
}

TEST(Json, DepthIsCountedOutsideStrings) {
  EXPECT_FALSE(nests_deeper_than(R"({"a":[1,{"b":2}]})", 3));
  EXPECT_TRUE(nests_deeper_than(R"({"a":[1,{"b":2}]})", 2));
  EXPECT_FALSE(nests_deeper_than(R"({"a":"[[[[[[\"[[["})", 1));
  EXPECT_TRUE(nests_deeper_than(std::string(1'000'000, '['), kDeepestJson));
}

TEST(Problem, IsJsonWhateverItQuotes) {
  const Response r = to_response({400, "x", "bad \xff byte", ""});
  EXPECT_EQ(r.status, 400);
  EXPECT_NE(r.body.find("\"code\":\"x\""), std::string::npos);
}

TEST(ClientOf, BelievesAHeaderOnlyBehindAProxy) {  // X-Forwarded-For as proxies write it: RFC 7239, section 7.4
  Request r;
  EXPECT_EQ(client_of(r, "127.0.0.1", true), "127.0.0.1");
  r.headers["x-forwarded-for"] = "198.51.100.9, 192.0.2.1";
  EXPECT_EQ(client_of(r, "127.0.0.1", false), "127.0.0.1");
  EXPECT_EQ(client_of(r, "127.0.0.1", true), "192.0.2.1") << "the first was written by the client itself, perhaps";
  r.headers["x-forwarded-for"] = "[2001:db8::17]:4711";
  EXPECT_EQ(client_of(r, "127.0.0.1", true), "[2001:db8::17]:4711");
  r.headers["x-forwarded-for"] = std::string(5000, 'x');
  EXPECT_EQ(client_of(r, "127.0.0.1", true), "127.0.0.1");
}

}  // namespace
}  // namespace helmwater::server
