// SPDX-License-Identifier: Apache-2.0
// Any bytes as loop.toml: either refused with a message, or read, and then written and read again as the same text.
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <string_view>

#include "records/loop_folder.hpp"

namespace {

[[noreturn]] void broken(const char* what, const std::string& text) {
  std::fprintf(stderr, "%s\n%s\n", what, text.c_str());
  std::abort();
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace helmwater::records;
  const auto loop = parse_loop_toml({reinterpret_cast<const char*>(data), size}, "loop.toml");
  if (!loop) {
    if (loop.error().message.empty()) broken("a refusal without a message", "");
    return 0;
  }
  const std::string text = to_loop_toml(*loop);
  const auto again = parse_loop_toml(text, "loop.toml");
  if (!again) broken("what was written is refused", again.error().to_text() + "\n" + text);
  if (to_loop_toml(*again) != text) broken("what was written reads back as another loop", text);
  return 0;
}
