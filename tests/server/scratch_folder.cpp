// SPDX-License-Identifier: Apache-2.0
#include "scratch_folder.hpp"

#include <unistd.h>

#include <atomic>
#include <fstream>
#include <iterator>
#include <map>

namespace helmwater::server {

namespace fs = std::filesystem;

ScratchFolder::ScratchFolder() {
  static std::atomic<int> number{0};
  path_ = fs::temp_directory_path() / ("helmwater-server-" + std::to_string(::getpid()) + "-" + std::to_string(number++));
  fs::create_directories(path_);
  for (const char* name : {"north-bench", "long-raft"}) fs::copy(fs::path(HELMWATER_SOURCE) / "data/demo" / name, path_ / name, fs::copy_options::recursive);
}

ScratchFolder::~ScratchFolder() {
  std::error_code ignored;
  fs::remove_all(path_, ignored);
}

std::string ScratchFolder::everything() const {
  std::map<std::string, std::string> files;
  for (const auto& entry : fs::recursive_directory_iterator(path_)) {
    files[entry.path().string()] = entry.is_regular_file() ? text_of(entry.path()) : std::string{};
  }
  std::string out;
  for (const auto& [name, text] : files) out += name + "\n" + text + "\n";
  return out;
}

std::string text_of(const fs::path& file) {
  std::ifstream stream(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(stream), {}};
}

std::string form_of(const std::vector<std::pair<std::string, std::string>>& files,
                    const std::vector<std::pair<std::string, std::string>>& fields) {
  std::string out;
  for (const auto& [name, value] : fields) out += "--b\r\nContent-Disposition: form-data; name=\"" + name + "\"\r\n\r\n" + value + "\r\n";
  for (const auto& [name, text] : files) {
    out += "--b\r\nContent-Disposition: form-data; name=\"" + name + "\"; filename=\"" + name + "\"\r\n\r\n" + text + "\r\n";
  }
  return out + "--b--\r\n";
}

}  // namespace helmwater::server
