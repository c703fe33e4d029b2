// SPDX-License-Identifier: Apache-2.0
// Points in time: UTC milliseconds. Local time enters only where text is read or written, with an IANA zone.
#pragma once
#include <chrono>
#include <optional>
#include <string>
#include <string_view>

namespace helmwater::records {

using Instant = std::chrono::sys_time<std::chrono::milliseconds>;

inline double days_between(Instant from, Instant to) {
  return std::chrono::duration<double, std::ratio<86400>>(to - from).count();
}
inline Instant plus_days(Instant from, double days) {
  return from + std::chrono::round<std::chrono::milliseconds>(
                    std::chrono::duration<double, std::ratio<86400>>(days));
}

// "2026-03-12T08:00:00Z", to the second.
std::string to_utc_text(Instant t);

enum class LocalTimeOddity { none, skipped, repeated };
struct ParsedInstant {
  Instant when;
  bool date_only = false;
  bool to_the_minute = false;  // a time of day was written
  LocalTimeOddity oddity = LocalTimeOddity::none;
};
// Reads `2026-03-01`, `2026-03-01T08:00[:SS][Z|+01:00]`, a blank instead of T. A date alone is noon in the zone. A local
// time that does not exist moves to the next valid instant; one that occurs twice is the earlier.
// nullopt: not such a text, or an impossible date.
std::optional<ParsedInstant> parse_instant(std::string_view text, std::string_view iana_zone);
bool is_known_zone(std::string_view iana_zone);

// The first instant after t at which the zone's wall clock shows hour:00.
Instant next_local_hour(Instant t, int hour, std::string_view iana_zone);
// "12 Mar 2026" and "Thu 12 Mar, 08:00" in the zone.
std::string local_date_text(Instant t, std::string_view iana_zone);
std::string local_time_text(Instant t, std::string_view iana_zone);
// "2026-03-12": the zone's calendar day.
std::string local_date_iso(Instant t, std::string_view iana_zone);

}  // namespace helmwater::records
