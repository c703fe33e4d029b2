// SPDX-License-Identifier: Apache-2.0
// Answers packed with gzip (RFC 1952) for those who take it.
#pragma once
#include <string>
#include <string_view>

#include "server/message.hpp"

namespace helmwater::server {

// Whether an Accept-Encoding names gzip with a weight above 0 (RFC 9110, 12.5.3). One that says "*" alone gets it plain.
bool takes_gzip(std::string_view accept_encoding);

// Smaller bodies are sent as they are.
inline constexpr std::size_t kSmallestPacked = 1024;  // bytes

// Packs a JSON answer if it is large enough and the request takes it.
void pack(const Request& request, Response& response);

}  // namespace helmwater::server
