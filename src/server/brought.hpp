// SPDX-License-Identifier: Apache-2.0
// What an owner brings along: a loop folder's two files, its zip, or an old sheet with one row a day.
#pragma once
#include <optional>
#include <string>
#include <tl/expected.hpp>
#include <vector>

#include "records/wide_sheet.hpp"
#include "server/message.hpp"

namespace helmwater::server {

struct Brought {
  std::string kind;                      // folder, zip, wide
  std::optional<records::LoopLog> log;   // nullopt: a sheet whose questions are open
  std::vector<records::UnreadCell> unread;
  std::vector<std::string> needs;        // fields a sheet still lacks: start, volume_l, basis
};

// `name`: of a sheet's loop; empty: taken from its file's name. Nothing is stored.
tl::expected<Brought, Problem> read_brought(const Request& request, const std::string& name);

// The words of `start` in loop.toml.
std::optional<records::Start> start_from(std::string_view word);

}  // namespace helmwater::server
