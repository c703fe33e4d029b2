// SPDX-License-Identifier: Apache-2.0
// Stands in for the compiled part of the date library: knows no zone but UTC, for which records never asks it
// (src/records/instant.cpp). A zone that is asked for all the same is said to be missing, as on a machine without zone files.
#include <date/tz.h>

#include <stdexcept>
#include <string>

namespace date {

const time_zone* locate_zone(std::string_view name) {
  throw std::runtime_error("no zone but UTC in this program: " + std::string(name));
}

// Nobody can hold a time_zone here.
sys_info time_zone::get_info_impl(sys_seconds) const { throw std::logic_error("no zone to ask"); }
local_info time_zone::get_info_impl(local_seconds) const { throw std::logic_error("no zone to ask"); }

}  // namespace date
