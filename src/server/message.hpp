// SPDX-License-Identifier: Apache-2.0
// A question to the server and its answer as plain values, free of sockets.
#pragma once
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace helmwater::server {

struct Request {
  std::string method;                          // HEAD comes as GET
  std::string path;                            // percent-decoded, without the query
  std::map<std::string, std::string> query;    // percent-decoded
  std::map<std::string, std::string> headers;  // names in lower case
  std::string body;

  std::string header(const std::string& lower_case_name) const {
    const auto found = headers.find(lower_case_name);
    return found == headers.end() ? std::string{} : found->second;
  }
};

struct Response {
  int status = 200;
  std::string content_type = "application/json";
  std::string body;
  std::vector<std::pair<std::string, std::string>> headers;
};

// Why a question gets no answer: what, allowed range, next step.
struct Problem {
  int status = 400;
  std::string code;     // snake_case
  std::string message;
  std::string field;    // empty: about the whole question
};

Response to_response(const Problem& problem);

// Splits and decodes "/a/b?x=1&y=2"; false: malformed percent code, control character, or a key written twice.
bool read_target(std::string_view target, Request& into);

// nullopt, or why the Host header is not one this server answers to. `port` 0: any.
std::optional<Problem> refuse_host(const std::vector<std::string>& host_headers, const std::vector<std::string>& names, int port);

// Who takes turns with others: the address of the connection, or, behind a proxy of the owner's own, the address that
// proxy wrote last into X-Forwarded-For.
std::string client_of(const Request& request, const std::string& address, bool behind_proxy);

// Headers that stand on every answer, by name.
const std::vector<std::pair<std::string, std::string>>& security_headers();

// Nesting deeper than this is refused before any parser sees the text.
inline constexpr int kDeepestJson = 32;
// Whether brackets outside strings nest deeper than `most`. The text need not be JSON.
bool nests_deeper_than(std::string_view text, int most);

}  // namespace helmwater::server
