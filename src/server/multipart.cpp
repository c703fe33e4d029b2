// SPDX-License-Identifier: Apache-2.0
#include "server/multipart.hpp"

#include <algorithm>
#include <cctype>

namespace helmwater::server {
namespace {

tl::unexpected<std::string> refused(std::string why) { return tl::unexpected<std::string>(std::move(why)); }

bool same_letters(std::string_view a, std::string_view b) {
  return a.size() == b.size() && std::equal(a.begin(), a.end(), b.begin(), [](unsigned char x, unsigned char y) {
           return std::tolower(x) == std::tolower(y);
         });
}

std::string_view trimmed(std::string_view text) {
  while (!text.empty() && (text.front() == ' ' || text.front() == '\t')) text.remove_prefix(1);
  while (!text.empty() && (text.back() == ' ' || text.back() == '\t')) text.remove_suffix(1);
  return text;
}

// The value of `key` among `; key=value; key="value"`; browsers write a quote inside a value as %22.
std::string parameter(std::string_view text, std::string_view key) {
  std::size_t at = text.find(';');
  while (at != std::string_view::npos) {
    text.remove_prefix(at + 1);
    const std::size_t equals = text.find('=');
    if (equals == std::string_view::npos) return {};
    const bool wanted = same_letters(trimmed(text.substr(0, equals)), key);
    text = trimmed(text.substr(equals + 1));
    std::size_t end;
    std::string value;
    if (!text.empty() && text.front() == '"') {
      const std::size_t quote = text.find('"', 1);
      if (quote == std::string_view::npos) return {};
      value = text.substr(1, quote - 1);
      end = quote + 1;
    } else {
      end = std::min(text.find(';'), text.size());
      value = trimmed(text.substr(0, end));
    }
    if (wanted) return value;
    text.remove_prefix(end);
    at = text.find(';');
  }
  return {};
}

}  // namespace

std::string boundary_of(std::string_view content_type) {
  const std::string boundary = parameter(content_type, "boundary");
  return boundary.size() > 70 ? std::string{} : boundary;  // RFC 2046, 5.1.1: at most 70 characters
}

tl::expected<std::vector<FormPart>, std::string> parse_form(std::string_view text, std::string_view boundary) {
  if (boundary.empty()) return refused("The form names no boundary; send it as multipart/form-data.");
  const std::string first = "--" + std::string(boundary), next = "\r\n" + first;
  std::vector<FormPart> parts;
  if (text.substr(0, first.size()) != first) return refused("The form does not begin with its boundary.");
  text.remove_prefix(first.size());
  while (text.substr(0, 2) != "--") {
    if (text.substr(0, 2) != "\r\n") return refused("The form has a broken boundary line.");
    if (parts.size() == kMostFormParts) return refused("The form has more than 32 parts; send one loop at a time.");
    text.remove_prefix(2);
    FormPart part;
    while (true) {
      const std::size_t end = text.find("\r\n");
      if (end == std::string_view::npos || end > 4096) return refused("A part of the form has a broken header.");
      const std::string_view line = text.substr(0, end);
      text.remove_prefix(end + 2);
      if (line.empty()) break;
      const std::size_t colon = line.find(':');
      if (colon == std::string_view::npos) return refused("A part of the form has a broken header.");
      if (!same_letters(trimmed(line.substr(0, colon)), "content-disposition")) continue;
      part.name = parameter(line.substr(colon + 1), "name");
      part.file_name = parameter(line.substr(colon + 1), "filename");
    }
    const std::size_t end = text.find(next);
    if (end == std::string_view::npos) return refused("The form ends before its last boundary; send it again.");
    part.body = text.substr(0, end);
    if (part.name.empty()) return refused("A part of the form has no name.");
    parts.push_back(std::move(part));
    text.remove_prefix(end + next.size());
  }
  return parts;
}

}  // namespace helmwater::server
