// SPDX-License-Identifier: Apache-2.0
// A number that changes when anything in a loop or its log that a computation could rest on changes. For caches: it is
// no protection against someone who wants two logs to meet.
#pragma once
#include <array>
#include <cstdint>
#include <string>

#include "records/entry.hpp"

namespace helmwater::records {

class Fingerprint {
 public:
  void add(std::string_view text);
  void add(double value);
  void add(const Loop& loop);
  void add(const Entry& entry);  // what it says and when; not its line or how it is written
  std::string hex() const;       // 32 digits

 private:
  std::array<std::uint64_t, 2> sum_{14695981039346656037u, 0x9e3779b97f4a7c15u};  // FNV-1a from two beginnings
};

}  // namespace helmwater::records
