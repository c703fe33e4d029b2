// SPDX-License-Identifier: Apache-2.0
#include "server/unzip.hpp"

#include <zip.h>

#include <memory>
#include <optional>
#include <tuple>

namespace helmwater::server {
namespace {

tl::unexpected<std::string> refused(std::string why) { return tl::unexpected<std::string>(std::move(why)); }

struct CloseZip {
  void operator()(zip_t* zip) const { zip_discard(zip); }
};
struct CloseFile {
  void operator()(zip_file_t* file) const { zip_fclose(file); }
};

constexpr unsigned kUnixTypeMask = 0170000, kUnixLink = 0120000, kUnixFile = 0100000, kUnixFolder = 0040000;  // POSIX st_mode

bool is_unsafe_name(std::string_view name) {
  if (name.empty() || name.front() == '/' || name.find('\\') != std::string_view::npos) return true;
  if (name.size() > 1 && name[1] == ':') return true;
  while (true) {
    const std::size_t slash = name.find('/');
    if (name.substr(0, slash) == "..") return true;
    if (slash == std::string_view::npos) return false;
    name.remove_prefix(slash + 1);
  }
}

std::string quoted(std::string_view name) {
  std::string out = "\"";
  for (const char c : name.substr(0, 80)) out += static_cast<unsigned char>(c) < 0x20 ? '?' : c;
  return out + "\"";
}

// Reads at most `room` bytes more; what an entry says about its size is not believed.
std::optional<std::string> read_entry(zip_t* zip, zip_uint64_t index, std::size_t room) {
  const std::unique_ptr<zip_file_t, CloseFile> file(zip_fopen_index(zip, index, 0));
  if (!file) return std::nullopt;
  std::string text;
  char buffer[16384];
  while (true) {
    const zip_int64_t count = zip_fread(file.get(), buffer, sizeof buffer);
    if (count < 0) return std::nullopt;
    if (count == 0) return text;
    if (text.size() + static_cast<std::size_t>(count) > room) return std::nullopt;
    text.append(buffer, static_cast<std::size_t>(count));
  }
}

}  // namespace

tl::expected<LoopTexts, std::string> unzip_loop(std::string_view bytes) {
  zip_error_t error;
  zip_error_init(&error);
  zip_source_t* source = zip_source_buffer_create(bytes.data(), bytes.size(), 0, &error);
  if (source == nullptr) return refused("The zip could not be opened.");
  const std::unique_ptr<zip_t, CloseZip> zip(zip_open_from_source(source, ZIP_RDONLY, &error));
  if (!zip) {
    zip_source_free(source);
    return refused("This is no zip that can be read; pack the folder with loop.toml and log.csv again.");
  }
  const zip_int64_t count = zip_get_num_entries(zip.get(), 0);
  if (count > kMostZipEntries) return refused("The zip holds more than 1,000 entries; pack one loop folder alone.");
  std::size_t unpacked = 0;
  std::optional<zip_uint64_t> toml, csv;
  std::string toml_folder, csv_folder;
  for (zip_uint64_t i = 0; i < static_cast<zip_uint64_t>(count); ++i) {
    zip_stat_t stat;
    if (zip_stat_index(zip.get(), i, 0, &stat) != 0 || (stat.valid & ZIP_STAT_NAME) == 0) {
      return refused("The zip has a broken list of entries; pack the folder again.");
    }
    const std::string_view name = stat.name;
    if (is_unsafe_name(name)) return refused("The zip holds the name " + quoted(name) + ", which leads out of its folder.");
    if ((stat.valid & ZIP_STAT_ENCRYPTION_METHOD) != 0 && stat.encryption_method != ZIP_EM_NONE) {
      return refused("The zip is encrypted; pack the folder without a password.");
    }
    zip_uint8_t system = 0;
    zip_uint32_t attributes = 0;
    if (zip_file_get_external_attributes(zip.get(), i, 0, &system, &attributes) == 0 && system == ZIP_OPSYS_UNIX) {
      const unsigned type = (attributes >> 16) & kUnixTypeMask;
      if (type == kUnixLink) return refused("The zip holds a link, " + quoted(name) + "; pack the files themselves.");
      if (type != 0 && type != kUnixFile && type != kUnixFolder) {
        return refused("The zip holds something that is neither file nor folder, " + quoted(name) + ".");
      }
    }
    if ((stat.valid & ZIP_STAT_SIZE) == 0 || stat.size > kLargestUnpacked - unpacked) {
      return refused("The zip unpacks to more than 50 MB; a loop folder holds two small text files.");
    }
    unpacked += stat.size;
    const std::size_t slash = name.rfind('/');
    const std::string_view folder = slash == std::string_view::npos ? std::string_view{} : name.substr(0, slash + 1);
    const std::string_view base = name.substr(folder.size());
    if (folder.substr(0, 9) == "__MACOSX/") continue;  // what one system's packer adds beside the files
    for (const auto& [wanted, which, where] :
         {std::tuple{"loop.toml", &toml, &toml_folder}, std::tuple{"log.csv", &csv, &csv_folder}}) {
      if (base != wanted) continue;
      if (*which) return refused("The zip holds more than one " + std::string(wanted) + "; pack one loop folder alone.");
      *which = i;
      *where = folder;
    }
  }
  if (!toml || !csv || toml_folder != csv_folder) {
    return refused("The zip holds no loop folder: loop.toml and log.csv must lie beside each other in it.");
  }
  LoopTexts texts;
  const auto loop_toml = read_entry(zip.get(), *toml, kLargestUnpacked);
  const auto log_csv = loop_toml ? read_entry(zip.get(), *csv, kLargestUnpacked - loop_toml->size()) : std::nullopt;
  if (!loop_toml || !log_csv) return refused("The zip is damaged or unpacks to more than 50 MB; pack the folder again.");
  texts.loop_toml = *loop_toml;
  texts.log_csv = *log_csv;
  return texts;
}

}  // namespace helmwater::server
