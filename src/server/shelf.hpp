// SPDX-License-Identifier: Apache-2.0
// The loop folders below one data folder.
#pragma once
#include <filesystem>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <tl/expected.hpp>
#include <vector>

#include "records/entry.hpp"
#include "server/message.hpp"

namespace helmwater::server {

// a-z, 0-9, - and _, at most 64: a folder's name that needs no escaping and leads nowhere else.
bool is_loop_id(std::string_view id);
// "North bench 2" -> "north-bench-2"; empty if nothing is left.
std::string loop_id_from(std::string_view name);

class Shelf {
 public:
  // nullopt: no folder was named; the shelf is empty and keeps nothing.
  explicit Shelf(std::optional<std::filesystem::path> data) : data_(std::move(data)) {}

  struct OnShelf {
    std::string content;   // changes with any byte of either file
    records::LoopLog log;
    std::size_t bytes = 0;  // in memory, roughly
  };
  // Reads the files anew; parses only what has changed, as far as the parsed loops kept in memory reach.
  tl::expected<std::shared_ptr<const OnShelf>, Problem> take(const std::string& id);

  // Folders that hold a loop.toml, by name.
  std::vector<std::string> ids() const;
  // Keeps a loop as a new folder, complete or not at all; an existing folder is never touched.
  tl::expected<void, Problem> put(const std::string& id, const records::LoopLog& log);

 private:
  std::optional<std::filesystem::path> data_;
  std::mutex mutex_;
  std::vector<std::pair<std::string, std::shared_ptr<const OnShelf>>> parsed_;  // by id, the latest parsed first
};

}  // namespace helmwater::server
