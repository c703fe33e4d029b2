// SPDX-License-Identifier: Apache-2.0
// Unpacked by zlib's own inflate.
#include "server/packing.hpp"

#include <gtest/gtest.h>
#include <zlib.h>

#include "running_server.hpp"

namespace helmwater::server {
namespace {

std::string unpacked(const std::string& packed) {
  z_stream stream{};
  if (inflateInit2(&stream, 15 + 16) != Z_OK) return "no inflate";  // gzip alone
  std::string out(1 << 22, '\0');
  stream.next_in = reinterpret_cast<Bytef*>(const_cast<char*>(packed.data()));
  stream.avail_in = static_cast<uInt>(packed.size());
  stream.next_out = reinterpret_cast<Bytef*>(out.data());
  stream.avail_out = static_cast<uInt>(out.size());
  const int end = inflate(&stream, Z_FINISH);
  out.resize(end == Z_STREAM_END && stream.avail_in == 0 ? stream.total_out : 0);
  inflateEnd(&stream);
  return out;
}

std::string header(const Response& r, const std::string& name) {
  for (const auto& [key, value] : r.headers) {
    if (key == name) return value;
  }
  return {};
}

Response packed_for(const char* accept, std::size_t length, const char* type = "application/json") {
  Request request;
  if (accept != nullptr) request.headers["accept-encoding"] = accept;
  Response response;
  response.content_type = type;
  response.body.assign(length, 'x');
  pack(request, response);
  return response;
}

TEST(Packing, GzipIsTakenFromTheHeaderAsTheStandardSays) {  // RFC 9110, 12.5.3 and 8.4.1.3
  for (const char* yes : {"gzip", "GZIP", "x-gzip", "br, gzip", "deflate, gzip;q=1.0, *;q=0.5", "gzip ; q=0.001", "identity;q=1, gzip"}) {
    EXPECT_TRUE(takes_gzip(yes)) << yes;
  }
  for (const char* no : {"", "br", "identity", "gzip;q=0", "gzip; q=0.000, br", "gzip;q=0.", "gzipped", "br;q=1.0, gzip;Q=0"}) {
    EXPECT_FALSE(takes_gzip(no)) << no;
  }
}

TEST(Packing, LargeJsonIsPackedForThoseWhoTakeIt) {
  const Response r = packed_for("gzip", 5000);
  EXPECT_EQ(header(r, "Content-Encoding"), "gzip");
  EXPECT_EQ(header(r, "Vary"), "Accept-Encoding");
  EXPECT_LT(r.body.size(), 200u);
  EXPECT_EQ(unpacked(r.body), std::string(5000, 'x'));
}

TEST(Packing, OthersGetItPlain) {
  for (const Response& r : {packed_for(nullptr, 5000), packed_for("br", 5000)}) {
    EXPECT_EQ(header(r, "Content-Encoding"), "");
    EXPECT_EQ(header(r, "Vary"), "Accept-Encoding") << "caches must know that it depends";
    EXPECT_EQ(r.body.size(), 5000u);
  }
  EXPECT_EQ(header(packed_for("gzip", 1024), "Content-Encoding"), "");
  EXPECT_EQ(header(packed_for("gzip", 1025), "Content-Encoding"), "gzip");
  EXPECT_EQ(header(packed_for("gzip", 5000, "text/html"), "Content-Encoding"), "");
}

TEST(Packing, OverTheSocketItIsTheSameAnswer) {
  const RunningServer server;
  Line plain(server.port()), packed(server.port());
  plain.send(get_text(server.port(), "/api/loops/north-bench"));
  packed.send(get_text(server.port(), "/api/loops/north-bench", "Accept-Encoding: gzip, deflate, br\r\n"));
  const std::string one = plain.read_answer(), other = packed.read_answer();
  EXPECT_EQ(header_of(one, "Content-Encoding"), "");
  EXPECT_EQ(header_of(other, "Content-Encoding"), "gzip");
  EXPECT_EQ(header_of(other, "Content-Type"), "application/json");
  EXPECT_EQ(header_of(other, "Content-Length"), std::to_string(body_of(other).size()));
  EXPECT_EQ(unpacked(body_of(other)), body_of(one));
  EXPECT_LT(body_of(other).size() * 3, body_of(one).size());
}

}  // namespace
}  // namespace helmwater::server
