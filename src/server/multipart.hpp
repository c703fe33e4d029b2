// SPDX-License-Identifier: Apache-2.0
// A form with files as browsers send it (multipart/form-data, RFC 7578).
#pragma once
#include <string>
#include <string_view>
#include <tl/expected.hpp>
#include <vector>

namespace helmwater::server {

struct FormPart {
  std::string name;
  std::string file_name;  // empty: a plain field
  std::string_view body;  // inside the text that was parsed
};

inline constexpr std::size_t kMostFormParts = 32;

// The boundary named by a Content-Type, empty if there is none.
std::string boundary_of(std::string_view content_type);
// The error is a sentence for the sender.
tl::expected<std::vector<FormPart>, std::string> parse_form(std::string_view text, std::string_view boundary);

}  // namespace helmwater::server
