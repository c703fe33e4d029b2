// SPDX-License-Identifier: Apache-2.0
#include "server/shelf.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <stdio.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <cerrno>
#include <cstring>
#include <fstream>
#include <iterator>

#include "records/fingerprint.hpp"
#include "records/loop_folder.hpp"

namespace helmwater::server {
namespace {

namespace fs = std::filesystem;

// Parsed loops kept in memory, all together.
constexpr std::size_t kParsedKept = 256, kParsedBytes = 32 << 20;
constexpr std::uintmax_t kLargestFile = 64U * 1024U * 1024U;  // as the command line reads at most

std::string content_of(std::string_view toml, std::string_view csv) {
  records::Fingerprint sum;
  sum.add(toml);
  sum.add(csv);
  return sum.hex();
}

std::optional<std::string> text_of(const fs::path& file) {
  std::error_code problem;
  const auto size = fs::file_size(file, problem);
  if (problem || size > kLargestFile) return std::nullopt;
  std::ifstream stream(file, std::ios::binary);
  if (!stream) return std::nullopt;
  std::string text{std::istreambuf_iterator<char>(stream), {}};
  if (stream.bad()) return std::nullopt;
  return text;
}

}  // namespace

bool is_loop_id(std::string_view id) {
  return !id.empty() && id.size() <= 64 && std::all_of(id.begin(), id.end(), [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '-' || c == '_';
  });
}

std::string loop_id_from(std::string_view name) {
  std::string id;
  for (char c : name) {
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    const bool kept = (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '_';
    if (kept) id += c;
    if (!kept && !id.empty() && id.back() != '-') id += '-';
  }
  id.resize(std::min<std::size_t>(id.size(), 64));
  while (!id.empty() && id.back() == '-') id.pop_back();
  return id;
}

std::vector<std::string> Shelf::ids() const {
  std::vector<std::string> found;
  if (!data_) return found;
  std::error_code problem;
  for (fs::directory_iterator i(*data_, problem), end; !problem && i != end; i.increment(problem)) {
    std::error_code ignored;
    const std::string name = i->path().filename().string();
    if (name.front() != '.' && fs::exists(i->path() / "loop.toml", ignored)) found.push_back(name);
  }
  std::sort(found.begin(), found.end());
  return found;
}

tl::expected<std::shared_ptr<const Shelf::OnShelf>, Problem> Shelf::take(const std::string& id) {
  const auto no_such_loop = [] {
    return tl::unexpected(Problem{404, "no_such_loop", "There is no such loop here; the list of loops names those there are.", "id"});
  };
  std::error_code ignored;
  if (!data_ || !is_loop_id(id) || !fs::exists(*data_ / id / "loop.toml", ignored)) return no_such_loop();
  const auto toml = text_of(*data_ / id / "loop.toml");
  const auto csv = text_of(*data_ / id / "log.csv");
  if (!toml || !csv) {
    return tl::unexpected(Problem{422, "unreadable_loop",
                                  fmt::format("{}/{} cannot be read; check that it is there, its permissions, and that it is below 64 MiB.",
                                              id, toml ? "log.csv" : "loop.toml"),
                                  "id"});
  }
  const std::string content = content_of(*toml, *csv);
  {
    const std::lock_guard lock(mutex_);
    for (const auto& [known, loop] : parsed_) {
      if (known == id && loop->content == content) return loop;
    }
  }
  const auto wrong = [&](const records::Error& error) { return tl::unexpected(Problem{422, "bad_loop", error.to_text(), "id"}); };
  const auto loop = records::parse_loop_toml(*toml, id + "/loop.toml");
  if (!loop) return wrong(loop.error());
  auto log = records::parse_log_csv(*loop, *csv, id + "/log.csv");
  if (!log) return wrong(log.error());
  // Each row stands there parsed and as it was written.
  const std::size_t rows = log->entries.capacity() + log->dropped_duplicates.capacity() + log->not_in_force.capacity();
  const std::size_t bytes = rows * sizeof(records::Entry) + csv->size() + toml->size();
  const auto fresh = std::make_shared<const OnShelf>(OnShelf{content, std::move(*log), bytes});
  const std::lock_guard lock(mutex_);
  std::erase_if(parsed_, [&](const auto& one) { return one.first == id; });
  parsed_.insert(parsed_.begin(), {id, fresh});
  std::size_t kept = 0;
  for (std::size_t i = 0; i < parsed_.size(); ++i) {
    kept += parsed_[i].second->bytes;
    if (i < kParsedKept && kept <= kParsedBytes) continue;
    parsed_.resize(i);  // the caller holds its own, however large
    break;
  }
  return fresh;
}

tl::expected<void, Problem> Shelf::put(const std::string& id, const records::LoopLog& log) {
  if (!data_) {
    return tl::unexpected(Problem{409, "no_data_folder",
                                  "This server was started without a folder to keep loops in; start it with --data DIR.", ""});
  }
  static std::atomic<unsigned> number{0};
  const fs::path scratch = *data_ / fmt::format(".new-{}-{}", ::getpid(), number++);
  const auto remove_scratch = [&] {
    std::error_code ignored;
    fs::remove_all(scratch, ignored);
  };
  if (auto written = records::write_loop_folder(log, scratch); !written) {
    remove_scratch();
    return tl::unexpected(Problem{500, "not_kept", "The loop could not be written; check the data folder's permissions and free space.", ""});
  }
  if (::renameat2(AT_FDCWD, scratch.c_str(), AT_FDCWD, (*data_ / id).c_str(), RENAME_NOREPLACE) == 0) return {};
  const int reason = errno;
  remove_scratch();
  if (reason == EEXIST || reason == ENOTEMPTY) {
    return tl::unexpected(Problem{409, "name_taken", fmt::format("There is a loop \"{}\" already; nothing was changed. Choose another name.", id),
                                  "name"});
  }
  return tl::unexpected(Problem{500, "not_kept", fmt::format("The loop could not be put into the data folder ({}).", std::strerror(reason)), ""});
}

}  // namespace helmwater::server
