// SPDX-License-Identifier: Apache-2.0
#include "server/multipart.hpp"

#include <gtest/gtest.h>

namespace helmwater::server {
namespace {

TEST(Multipart, ReadsTheExampleOfTheHtmlStandardsKind) {
  // Layout as in RFC 7578, 4 and RFC 2046, 5.1.1.
  const std::string text =
      "--AaB03x\r\nContent-Disposition: form-data; name=\"start\"\r\n\r\n2026-03-01\r\n"
      "--AaB03x\r\ncontent-disposition: form-data; name=\"file\"; filename=\"my log.csv\"\r\nContent-Type: text/csv\r\n\r\n"
      "a,b\r\n--AaB03\r\n1;2\r\n--AaB03x--\r\n";
  const auto parts = parse_form(text, "AaB03x");
  ASSERT_TRUE(parts) << parts.error();
  ASSERT_EQ(parts->size(), 2u);
  EXPECT_EQ((*parts)[0].name, "start");
  EXPECT_EQ((*parts)[0].file_name, "");
  EXPECT_EQ((*parts)[0].body, "2026-03-01");
  EXPECT_EQ((*parts)[1].file_name, "my log.csv");
  EXPECT_EQ((*parts)[1].body, "a,b\r\n--AaB03\r\n1;2");
}

TEST(Multipart, BoundaryFromTheContentType) {
  EXPECT_EQ(boundary_of("multipart/form-data; boundary=----WebKitFormBoundary7MA4"), "----WebKitFormBoundary7MA4");
  EXPECT_EQ(boundary_of("multipart/form-data; charset=utf-8; Boundary=\"a b\""), "a b");
  EXPECT_EQ(boundary_of("multipart/form-data"), "");
  EXPECT_EQ(boundary_of("multipart/form-data; boundary=" + std::string(71, 'x')), "");
}

TEST(Multipart, RefusesWhatIsCutOff) {
  const std::string whole = "--b\r\nContent-Disposition: form-data; name=\"a\"\r\n\r\nx\r\n--b--";
  ASSERT_TRUE(parse_form(whole, "b"));
  for (std::size_t length = 0; length < whole.size(); ++length) {
    EXPECT_FALSE(parse_form(whole.substr(0, length), "b")) << length;
  }
  std::string many;
  for (int i = 0; i < 40; ++i) many += "--b\r\nContent-Disposition: form-data; name=\"a\"\r\n\r\nx\r\n";
  EXPECT_FALSE(parse_form(many + "--b--", "b"));
}

}  // namespace
}  // namespace helmwater::server
