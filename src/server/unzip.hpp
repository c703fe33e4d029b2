// SPDX-License-Identifier: Apache-2.0
// The two files of a loop folder out of a zip from a stranger.
#pragma once
#include <string>
#include <string_view>
#include <tl/expected.hpp>

namespace helmwater::server {

inline constexpr int kMostZipEntries = 1000;
inline constexpr std::size_t kLargestUnpacked = 50'000'000;  // bytes, all entries together

struct LoopTexts {
  std::string loop_toml;
  std::string log_csv;
};

// Nothing is written to disk. Refused, with a sentence for the sender: names with "..", absolute names, links, encrypted
// entries, too many or too large entries, and a zip without exactly one loop folder.
tl::expected<LoopTexts, std::string> unzip_loop(std::string_view bytes);

}  // namespace helmwater::server
