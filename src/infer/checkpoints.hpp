// SPDX-License-Identifier: Apache-2.0
// Carried posteriors of closed windows, kept so that an outlook of a long log computes its last window alone, and what was
// learnt of finished start-ups. A cache: it may be deleted at any time, and what cannot be read or written is computed anew.
#pragma once
#include <filesystem>
#include <list>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <utility>

#include "infer/carried.hpp"

namespace helmwater::infer {

class Checkpoints {
 public:
  // Kept in memory, the longest unused dropped beyond `most`; with a folder also there.
  explicit Checkpoints(std::optional<std::filesystem::path> folder = {}, std::size_t most = 256);

  // `key` names everything the posterior rests on: letters and digits. nullptr: not there.
  std::shared_ptr<const Carried> find(const std::string& key);
  void keep(const std::string& key, std::shared_ptr<const Carried> carried);
  // The same for texts; a file's end that is missing or spoiled makes the text not there.
  std::optional<std::string> find_text(const std::string& key);
  void keep_text(const std::string& key, const std::string& text);

 private:
  std::optional<std::string> read(const std::string& name) const;
  void write(const std::string& name, const std::string& bytes) const;
  void keep_in_memory(const std::string& key, std::shared_ptr<const Carried> carried);

  std::optional<std::filesystem::path> folder_;
  std::size_t most_;
  std::mutex mutex_;
  std::list<std::pair<std::string, std::shared_ptr<const Carried>>> kept_;
  std::list<std::pair<std::string, std::string>> texts_;
};

// Where this user's programs keep what they can make again: HELMWATER_CACHE (empty: nowhere), else
// XDG_CACHE_HOME/helmwater, else ~/.cache/helmwater; nullopt: there is no such place.
std::optional<std::filesystem::path> cache_folder();

}  // namespace helmwater::infer
