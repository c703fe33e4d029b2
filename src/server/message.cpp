// SPDX-License-Identifier: Apache-2.0
#include "server/message.hpp"

#include <algorithm>
#include <cctype>
#include <nlohmann/json.hpp>

namespace helmwater::server {
namespace {

int hex_digit(char c) {
  if (c >= '0' && c <= '9') return c - '0';
  if (c >= 'a' && c <= 'f') return c - 'a' + 10;
  if (c >= 'A' && c <= 'F') return c - 'A' + 10;
  return -1;
}

std::optional<std::string> percent_decoded(std::string_view text, bool plus_is_blank) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    char c = text[i];
    if (c == '+' && plus_is_blank) c = ' ';
    if (c == '%') {
      if (i + 2 >= text.size()) return std::nullopt;
      const int high = hex_digit(text[i + 1]), low = hex_digit(text[i + 2]);
      if (high < 0 || low < 0) return std::nullopt;
      c = static_cast<char>(high * 16 + low);
      i += 2;
    }
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) return std::nullopt;
    out += c;
  }
  return out;
}

std::string lower(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(), [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return text;
}

}  // namespace

Response to_response(const Problem& problem) {
  nlohmann::ordered_json j;
  j["code"] = problem.code;
  j["message"] = problem.message;
  if (!problem.field.empty()) j["field"] = problem.field;
  Response response;
  response.status = problem.status;
  response.body = j.dump(-1, ' ', false, nlohmann::ordered_json::error_handler_t::replace);
  if (problem.status == 503) response.headers.emplace_back("Retry-After", "2");
  return response;
}

bool read_target(std::string_view target, Request& into) {
  if (target.empty() || target.front() != '/') return false;
  const std::size_t mark = target.find('?');
  const auto path = percent_decoded(target.substr(0, mark), false);
  if (!path) return false;
  into.path = *path;
  if (mark == std::string_view::npos) return true;
  std::string_view rest = target.substr(mark + 1);
  while (!rest.empty()) {
    const std::size_t end = rest.find('&');
    const std::string_view pair = rest.substr(0, end);
    rest = end == std::string_view::npos ? std::string_view{} : rest.substr(end + 1);
    if (pair.empty()) continue;
    const std::size_t equals = pair.find('=');
    const auto key = percent_decoded(pair.substr(0, equals), true);
    const auto value = percent_decoded(equals == std::string_view::npos ? std::string_view{} : pair.substr(equals + 1), true);
    if (!key || !value || !into.query.emplace(*key, *value).second) return false;
  }
  return true;
}

std::optional<Problem> refuse_host(const std::vector<std::string>& host_headers, const std::vector<std::string>& names, int port) {
  if (host_headers.size() != 1) {
    return Problem{400, "bad_host", "A request needs exactly one Host header.", "Host"};
  }
  std::string name = lower(host_headers.front());
  const std::size_t colon = name.rfind(':');
  const std::size_t bracket = name.find(']');
  if (colon != std::string::npos && (bracket == std::string::npos || colon > bracket)) {
    const std::string written = name.substr(colon + 1);
    if (port != 0 && written != std::to_string(port)) name.clear();
    else name.resize(colon);
  }
  for (const std::string& allowed : names) {
    if (name == lower(allowed)) return std::nullopt;
  }
  return Problem{421, "unknown_host",
                 "This server does not answer to that host name; open it under the address it printed, or start it with --host NAME.",
                 "Host"};
}

std::string client_of(const Request& request, const std::string& address, bool behind_proxy) {
  if (!behind_proxy) return address;
  const std::string chain = request.header("x-forwarded-for");
  std::string last = chain.substr(chain.rfind(',') + 1);  // npos + 1 is 0
  std::erase_if(last, [](char c) { return c == ' ' || c == '\t'; });
  // The longest address with port has 47 characters: "[…]:65535" around eight groups of four.
  return last.empty() || last.size() > 47 ? address : last;
}

const std::vector<std::pair<std::string, std::string>>& security_headers() {
  static const std::vector<std::pair<std::string, std::string>> headers{
      {"Content-Security-Policy",
       "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; font-src 'self'; "
       "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"},
      {"X-Content-Type-Options", "nosniff"},
      {"Referrer-Policy", "no-referrer"},
      {"Cross-Origin-Opener-Policy", "same-origin"},
      {"Cross-Origin-Resource-Policy", "same-origin"},
  };
  return headers;
}

bool nests_deeper_than(std::string_view text, int most) {
  int depth = 0;
  bool in_string = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (in_string) {
      if (c == '\\') ++i;
      if (c == '"') in_string = false;
      continue;
    }
    if (c == '"') in_string = true;
    if ((c == '{' || c == '[') && ++depth > most) return true;
    if (c == '}' || c == ']') --depth;
  }
  return false;
}

}  // namespace helmwater::server
