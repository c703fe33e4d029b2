// SPDX-License-Identifier: Apache-2.0
// Forms from strangers: whatever is parsed lies inside what was sent.
#include <cstdint>
#include <cstdlib>
#include <functional>
#include <string_view>

#include "server/multipart.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  std::string_view text(reinterpret_cast<const char*>(data), size);
  // The first line names the content type, the rest is the body.
  const std::size_t line = text.find('\n');
  if (line == std::string_view::npos) return 0;
  const std::string boundary = helmwater::server::boundary_of(text.substr(0, line));
  const std::string_view body = text.substr(line + 1);
  for (const std::string_view with : {std::string_view(boundary), std::string_view("b")}) {
    const auto parts = helmwater::server::parse_form(body, with);
    if (!parts) continue;
    for (const auto& part : *parts) {
      const std::less_equal<const char*> ordered;
      if (!ordered(body.data(), part.body.data()) || !ordered(part.body.data() + part.body.size(), body.data() + body.size())) std::abort();
      if (part.name.empty()) std::abort();
    }
  }
  return 0;
}
