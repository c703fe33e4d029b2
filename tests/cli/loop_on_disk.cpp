// SPDX-License-Identifier: Apache-2.0
#include "loop_on_disk.hpp"

#include <gtest/gtest.h>
#include <stdlib.h>

#include <fstream>
#include <iterator>
#include <stdexcept>

namespace helmwater::cli_test {

Folder::Folder() {
  std::string name = testing::TempDir() + "helmwater_cli_XXXXXX";
  if (mkdtemp(name.data()) == nullptr) throw std::runtime_error("cannot make a folder " + name);
  path_ = name;
}
Folder::~Folder() {
  std::error_code ignored;
  std::filesystem::remove_all(path_, ignored);
}
std::string Folder::path(std::string_view name) const {
  return name.empty() ? path_.string() : (path_ / name).string();
}
void Folder::write(std::string_view name, std::string_view text) const {
  std::ofstream file(path(name), std::ios::binary);
  file.write(text.data(), static_cast<std::streamsize>(text.size()));
  if (!file.flush()) throw std::runtime_error("cannot write " + path(name));
}

LoopOnDisk::LoopOnDisk(const std::optional<std::string>& loop_toml,
                       const std::optional<std::string>& log_csv) {
  if (loop_toml) write("loop.toml", *loop_toml);
  if (log_csv) write("log.csv", *log_csv);
}
std::string log_of(std::string_view rows) { return std::string(kHeader) + std::string(rows); }

std::string demo(std::string_view name) {
  return std::string(HELMWATER_SOURCE "/data/demo/") + std::string(name);
}
std::string text_of(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  if (!file) throw std::runtime_error("cannot read " + path);
  return {std::istreambuf_iterator<char>(file), {}};
}

}  // namespace helmwater::cli_test
