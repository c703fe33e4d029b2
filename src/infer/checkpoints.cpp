// SPDX-License-Identifier: Apache-2.0
#include "infer/checkpoints.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <vector>

#include "records/fingerprint.hpp"

namespace helmwater::infer {
namespace {

namespace fs = std::filesystem;

constexpr char kTextExtension[] = ".start-up";
constexpr std::uintmax_t kLargestFile = 4u << 20;
// Files in the folder: beyond the first number the oldest go until the second is left (some 100 kB each).
constexpr std::size_t kMostFiles = 4000, kFilesLeft = 3000;

void remove_oldest(const fs::path& folder) {
  std::error_code problem;
  std::vector<std::pair<fs::file_time_type, fs::path>> files;
  for (fs::directory_iterator i(folder, problem), end; !problem && i != end; i.increment(problem)) {
    std::error_code ignored;
    if (i->path().extension() == ".carried" || i->path().extension() == kTextExtension) files.emplace_back(fs::last_write_time(i->path(), ignored), i->path());
  }
  if (files.size() <= kMostFiles) return;
  std::sort(files.begin(), files.end());
  files.resize(files.size() - kFilesLeft);
  for (const auto& [when, file] : files) {
    std::error_code ignored;
    fs::remove(file, ignored);
  }
}

constexpr std::size_t kSumDigits = 32;

std::string sum_of(const std::string& text) {
  records::Fingerprint sum;
  sum.add(text);
  return sum.hex();
}

}  // namespace

std::optional<std::filesystem::path> cache_folder() {
  if (const char* own = std::getenv("HELMWATER_CACHE"); own != nullptr) {
    if (*own == '\0') return std::nullopt;
    return fs::path(own);
  }
  if (const char* cache = std::getenv("XDG_CACHE_HOME"); cache != nullptr && *cache == '/') return fs::path(cache) / "helmwater";
  if (const char* home = std::getenv("HOME"); home != nullptr && *home == '/') return fs::path(home) / ".cache" / "helmwater";
  return std::nullopt;
}

Checkpoints::Checkpoints(std::optional<fs::path> folder, std::size_t most) : folder_(std::move(folder)), most_(most) {}

std::shared_ptr<const Carried> Checkpoints::find(const std::string& key) {
  {
    const std::lock_guard lock(mutex_);
    for (auto i = kept_.begin(); i != kept_.end(); ++i) {
      if (i->first != key) continue;
      kept_.splice(kept_.begin(), kept_, i);
      return i->second;
    }
  }
  const auto bytes = read(key + ".carried");
  auto carried = bytes ? carried_from_bytes(*bytes) : nullptr;
  if (carried != nullptr) keep_in_memory(key, carried);
  return carried;
}

void Checkpoints::keep_in_memory(const std::string& key, std::shared_ptr<const Carried> carried) {
  const std::lock_guard lock(mutex_);
  kept_.emplace_front(key, std::move(carried));
  while (kept_.size() > most_) kept_.pop_back();
}

void Checkpoints::keep(const std::string& key, std::shared_ptr<const Carried> carried) {
  const std::string bytes = folder_ ? to_bytes(*carried) : std::string();
  keep_in_memory(key, std::move(carried));
  write(key + ".carried", bytes);
}

std::optional<std::string> Checkpoints::find_text(const std::string& key) {
  {
    const std::lock_guard lock(mutex_);
    for (auto i = texts_.begin(); i != texts_.end(); ++i) {
      if (i->first != key) continue;
      texts_.splice(texts_.begin(), texts_, i);
      return i->second;
    }
  }
  auto bytes = read(key + kTextExtension);
  if (!bytes) return std::nullopt;
  // The sum of the text is its last line.
  const std::size_t end = bytes->size() < kSumDigits ? 0 : bytes->size() - kSumDigits;
  const std::string sum = bytes->substr(end);
  bytes->resize(end);
  if (sum != sum_of(*bytes)) return std::nullopt;
  const std::lock_guard lock(mutex_);
  texts_.emplace_front(key, *bytes);
  while (texts_.size() > most_) texts_.pop_back();
  return bytes;
}

void Checkpoints::keep_text(const std::string& key, const std::string& text) {
  {
    const std::lock_guard lock(mutex_);
    texts_.emplace_front(key, text);
    while (texts_.size() > most_) texts_.pop_back();
  }
  if (folder_) write(key + kTextExtension, text + sum_of(text));
}

std::optional<std::string> Checkpoints::read(const std::string& name) const {
  if (!folder_) return std::nullopt;
  const fs::path file = *folder_ / name;
  std::error_code problem;
  const auto size = fs::file_size(file, problem);
  if (problem || size > kLargestFile) return std::nullopt;
  std::ifstream stream(file, std::ios::binary);
  return std::string{std::istreambuf_iterator<char>(stream), {}};
}

void Checkpoints::write(const std::string& name, const std::string& bytes) const {
  if (!folder_) return;
  static std::atomic<unsigned> number{0};
  std::error_code problem;
  fs::create_directories(*folder_, problem);
  if (problem) return;
  const fs::path scratch = *folder_ / fmt::format(".{}-{}", ::getpid(), number++);
  bool whole = false;
  {
    std::ofstream stream(scratch, std::ios::binary);
    stream.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
    stream.close();
    whole = stream.good();
  }
  if (whole) fs::rename(scratch, *folder_ / name, problem);
  if (!whole || problem) fs::remove(scratch, problem);
  if (number % 64 == 1) remove_oldest(*folder_);
}

}  // namespace helmwater::infer
