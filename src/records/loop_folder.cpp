// SPDX-License-Identifier: Apache-2.0
#include "records/loop_folder.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <fstream>
#include <iterator>
#include <system_error>
#include <utility>

namespace helmwater::records {
namespace {

namespace fs = std::filesystem;

constexpr std::uintmax_t kLargestFile = 64U * 1024U * 1024U;  // a century of a busy loop's log

Error error_about(const fs::path& file, Error::Kind kind, std::string message) {
  Error error;
  error.kind = kind;
  error.file = file.string();
  error.message = std::move(message);
  return error;
}

tl::expected<std::string, Error> text_of(const fs::path& file) {
  std::error_code ignored;
  if (fs::file_size(file, ignored) > kLargestFile && !ignored)
    return tl::unexpected(error_about(file, Error::Kind::bad_input, "the file is larger than 64 MiB; this is not a loop's file"));
  std::ifstream stream(file, std::ios::binary);
  if (!stream)
    return tl::unexpected(error_about(file, Error::Kind::unavailable,
                                      fmt::format("cannot be opened ({}); check its permissions", std::strerror(errno))));
  std::string text{std::istreambuf_iterator<char>(stream), {}};
  if (stream.bad())
    return tl::unexpected(error_about(file, Error::Kind::unavailable, "cannot be read to its end; check the disk"));
  return text;
}

// Writes beside the target and flushes to disk; the caller renames.
tl::expected<void, Error> write_beside(const fs::path& temporary, std::string_view text) {
  const auto failed = [&](std::string_view what) {
    return tl::unexpected(error_about(temporary, Error::Kind::unavailable,
                                      fmt::format("cannot be {} ({}); check the folder's permissions and free space", what,
                                                  std::strerror(errno))));
  };
  const int file = ::open(temporary.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0644);
  if (file < 0) return failed("created");
  while (!text.empty()) {
    const ssize_t written = ::write(file, text.data(), text.size());
    if (written < 0 && errno == EINTR) continue;
    if (written < 0) {
      const int reason = errno;
      ::close(file);
      ::unlink(temporary.c_str());
      errno = reason;
      return failed("written");
    }
    text.remove_prefix(static_cast<std::size_t>(written));
  }
  const bool flushed = ::fsync(file) == 0;
  const bool closed = ::close(file) == 0;
  if (flushed && closed) return {};
  const int reason = errno;
  ::unlink(temporary.c_str());
  errno = reason;
  return failed("flushed to disk");
}

}  // namespace

std::string Error::to_text() const {
  std::string out = file;
  if (line > 0) out += fmt::format(":{}", line);
  if (line > 0 && column > 0) out += fmt::format(":{}", column);
  return out.empty() ? message : out + ": " + message;
}

tl::expected<LoopLog, Error> read_loop_folder(const fs::path& folder) {
  std::error_code ignored;
  if (!fs::is_directory(folder, ignored))
    return tl::unexpected(error_about(folder, Error::Kind::bad_input,
                                      "is not a folder; give a folder that holds loop.toml and log.csv"));
  const fs::path loop_file = folder / "loop.toml";
  if (!fs::exists(loop_file, ignored))
    return tl::unexpected(error_about(loop_file, Error::Kind::bad_input,
                                      "is missing; a loop folder holds loop.toml with at least name and volume_l"));
  const fs::path log_file = folder / "log.csv";
  if (!fs::exists(log_file, ignored))
    return tl::unexpected(error_about(log_file, Error::Kind::bad_input,
                                      "is missing; a loop folder holds log.csv with the header when,what,value,unit,detail"));
  const auto loop_text = text_of(loop_file);
  if (!loop_text) return tl::unexpected(loop_text.error());
  const auto loop = parse_loop_toml(*loop_text, loop_file.string());
  if (!loop) return tl::unexpected(loop.error());
  const auto log_text = text_of(log_file);
  if (!log_text) return tl::unexpected(log_text.error());
  return parse_log_csv(*loop, *log_text, log_file.string());
}

tl::expected<void, Error> write_loop_folder(const LoopLog& log, const fs::path& folder) {
  std::error_code problem;
  fs::create_directories(folder, problem);
  if (problem)
    return tl::unexpected(error_about(folder, Error::Kind::unavailable,
                                      fmt::format("cannot be created ({}); check the path and its permissions", problem.message())));
  const std::string suffix = fmt::format(".new-{}", ::getpid());
  const std::pair<fs::path, std::string> files[] = {{folder / "log.csv", to_log_csv(log)},
                                                    {folder / "loop.toml", to_loop_toml(log.loop)}};
  const auto temporary = [&](const fs::path& file) { return fs::path(file.string() + suffix); };
  const auto clean_up = [&] {
    for (const auto& [file, text] : files) {
      std::error_code ignored;
      fs::remove(temporary(file), ignored);
    }
  };
  // Both are on disk in full before either takes its place.
  for (const auto& [file, text] : files) {
    if (auto written = write_beside(temporary(file), text); !written) {
      clean_up();
      return written;
    }
  }
  for (const auto& [file, text] : files) {
    fs::rename(temporary(file), file, problem);
    if (!problem) continue;
    clean_up();
    return tl::unexpected(error_about(file, Error::Kind::unavailable,
                                      fmt::format("cannot be replaced ({}); check its permissions", problem.message())));
  }
  if (const int directory = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC); directory >= 0) {
    ::fsync(directory);
    ::close(directory);
  }
  return {};
}

}  // namespace helmwater::records
