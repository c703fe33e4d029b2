// SPDX-License-Identifier: Apache-2.0
// A data folder of its own for one test, with the two demo loops in it; gone afterwards.
#pragma once
#include <filesystem>
#include <string>
#include <utility>
#include <vector>

namespace helmwater::server {

class ScratchFolder {
 public:
  ScratchFolder();
  ~ScratchFolder();
  ScratchFolder(const ScratchFolder&) = delete;
  ScratchFolder& operator=(const ScratchFolder&) = delete;
  const std::filesystem::path& path() const { return path_; }
  // Names and bytes of all files below, to see whether anything changed.
  std::string everything() const;

 private:
  std::filesystem::path path_;
};

std::string text_of(const std::filesystem::path& file);

// A form with these files, and its boundary "b".
std::string form_of(const std::vector<std::pair<std::string, std::string>>& files,
                    const std::vector<std::pair<std::string, std::string>>& fields = {});

}  // namespace helmwater::server
