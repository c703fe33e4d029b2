// SPDX-License-Identifier: Apache-2.0
// Zips a stranger might send, made here with the zip library itself.
#include "server/unzip.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>
#include <zip.h>

#include <map>

namespace helmwater::server {
namespace {

struct Packed {
  std::string name, text;
  unsigned unix_mode = 0;
  bool encrypted = false;
};

std::string zip_of(const std::vector<Packed>& files) {
  zip_error_t error;
  zip_error_init(&error);
  zip_source_t* target = zip_source_buffer_create(nullptr, 0, 0, &error);
  zip_source_keep(target);
  zip_t* zip = zip_open_from_source(target, ZIP_TRUNCATE, &error);
  for (const Packed& f : files) {
    zip_source_t* source = zip_source_buffer(zip, f.text.data(), f.text.size(), 0);
    const auto at = zip_file_add(zip, f.name.c_str(), source, ZIP_FL_ENC_UTF_8);
    EXPECT_GE(at, 0) << f.name;
    const auto index = static_cast<zip_uint64_t>(at);
    if (f.unix_mode != 0) zip_file_set_external_attributes(zip, index, 0, ZIP_OPSYS_UNIX, f.unix_mode << 16);
    if (f.encrypted) zip_file_set_encryption(zip, index, ZIP_EM_AES_256, "secret");
  }
  EXPECT_EQ(zip_close(zip), 0);
  zip_source_open(target);
  zip_source_seek(target, 0, SEEK_END);
  std::string bytes(static_cast<std::size_t>(zip_source_tell(target)), '\0');
  zip_source_seek(target, 0, SEEK_SET);
  zip_source_read(target, bytes.data(), bytes.size());
  zip_source_close(target);
  zip_source_free(target);
  return bytes;
}

TEST(Unzip, FindsTheLoopFolder) {
  for (const char* folder : {"", "north/", "a/b/"}) {
    const std::string at = folder;
    const auto texts = unzip_loop(zip_of({{at + "loop.toml", "T"}, {at + "log.csv", "C"}, {at + "photo.jpg", "x"}}));
    ASSERT_TRUE(texts) << folder << texts.error();
    EXPECT_EQ(texts->loop_toml, "T");
    EXPECT_EQ(texts->log_csv, "C");
  }
}

TEST(Unzip, RefusesWhatLeadsElsewhere) {
  const std::vector<Packed> good{{"loop.toml", "T"}, {"log.csv", "C"}};
  for (const Packed& bad : std::vector<Packed>{{"../x", "x"}, {"a/../../x", "x"}, {"/etc/x", "x"}, {"C:/x", "x"}, {"a\\..\\x", "x"},
                                               {"link", "/etc/passwd", 0120777}, {"pipe", "x", 0010644}, {"locked", "x", 0, true}}) {
    auto files = good;
    files.push_back(bad);
    EXPECT_FALSE(unzip_loop(zip_of(files))) << bad.name;
  }
}

TEST(Unzip, RefusesTooManyAndTooLarge) {
  std::vector<Packed> many{{"loop.toml", "T"}, {"log.csv", "C"}};
  for (int i = 0; i < 999; ++i) many.push_back({fmt::format("f{}", i), ""});
  const auto crowded = unzip_loop(zip_of(many));
  ASSERT_FALSE(crowded);
  EXPECT_NE(crowded.error().find("1,000"), std::string::npos);

  const std::string bomb = zip_of({{"loop.toml", "T"}, {"log.csv", std::string(60'000'000, '0')}});
  EXPECT_LT(bomb.size(), 100'000u);
  const auto large = unzip_loop(bomb);
  ASSERT_FALSE(large);
  EXPECT_NE(large.error().find("50 MB"), std::string::npos);
}

TEST(Unzip, DoesNotBelieveASizeThatLies) {
  // The same bomb, its stated size (central directory, APPNOTE 4.3.12, and local header, 4.3.7) overwritten with 10.
  std::string bomb = zip_of({{"loop.toml", "T"}, {"log.csv", std::string(60'000'000, '0')}});
  const std::string size("\x00\x87\x93\x03", 4);  // 60,000,000, little endian
  int found = 0;
  for (std::size_t at = bomb.find(size); at != std::string::npos; at = bomb.find(size, at + 1)) {
    bomb.replace(at, 4, std::string("\x0a\0\0\0", 4));
    ++found;
  }
  ASSERT_GE(found, 1);
  const auto texts = unzip_loop(bomb);
  EXPECT_LE(texts ? texts->log_csv.size() : 0, kLargestUnpacked);
}

TEST(Unzip, RefusesNoiseAndWhatHoldsNoLoop) {
  EXPECT_FALSE(unzip_loop(""));
  EXPECT_FALSE(unzip_loop("PK\x03\x04 nonsense"));
  EXPECT_FALSE(unzip_loop(zip_of({{"loop.toml", "T"}})));
  EXPECT_FALSE(unzip_loop(zip_of({{"a/loop.toml", "T"}, {"b/log.csv", "C"}})));
  EXPECT_FALSE(unzip_loop(zip_of({{"a/loop.toml", "T"}, {"a/log.csv", "C"}, {"b/loop.toml", "T"}})));
  const std::string good = zip_of({{"loop.toml", std::string(500, 'T')}, {"log.csv", std::string(500, 'C')}});
  ASSERT_TRUE(unzip_loop(good));
  for (std::size_t cut = 0; cut < good.size(); cut += 7) EXPECT_FALSE(unzip_loop(good.substr(0, cut))) << cut;
}

}  // namespace
}  // namespace helmwater::server
