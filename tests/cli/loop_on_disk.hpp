// SPDX-License-Identifier: Apache-2.0
// A folder of its own for one test, gone afterwards.
#pragma once
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>

namespace helmwater::cli_test {

class Folder {
 public:
  Folder();
  ~Folder();
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  std::string path(std::string_view name = "") const;
  void write(std::string_view name, std::string_view text) const;

 private:
  std::filesystem::path path_;
};

inline constexpr std::string_view kHeader = "when,what,value,unit,detail\n";
inline constexpr std::string_view kPlainLoop =
    "name = \"Test loop\"\nvolume_l = 100\ntime_zone = \"UTC\"\nstarted = 2026-03-01T08:00:00\n";

// A loop folder; nullopt: without that file.
class LoopOnDisk : public Folder {
 public:
  LoopOnDisk(const std::optional<std::string>& loop_toml, const std::optional<std::string>& log_csv);
};
// Header and rows.
std::string log_of(std::string_view rows);

std::string demo(std::string_view name);       // path of a loop of data/demo
std::string text_of(const std::string& path);  // a file's bytes

}  // namespace helmwater::cli_test
