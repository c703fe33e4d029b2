// SPDX-License-Identifier: Apache-2.0
#include "records/instant.hpp"

#include <date/tz.h>
#include <fmt/format.h>

#include <array>
#include <exception>

namespace helmwater::records {
namespace {

using std::chrono::milliseconds;
using std::chrono::minutes;
using std::chrono::seconds;

constexpr int kFirstYear = 1900;
constexpr int kLastYear = 2200;

constexpr std::array<std::string_view, 12> kMonths{"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                                   "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
constexpr std::array<std::string_view, 7> kWeekdays{"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"};

// UTC needs no zone database, so a machine without one can still read logs in UTC.
bool is_utc(std::string_view zone) {
  return zone == "UTC" || zone == "Etc/UTC" || zone == "Z" || zone == "GMT" || zone == "Etc/GMT";
}

const date::time_zone* zone_or_null(std::string_view name) {
  if (name.empty()) return nullptr;
  try {
    return date::locate_zone(name);
  } catch (const std::exception&) {
    return nullptr;  // no such zone, or no zone database on this machine
  }
}

// The zone files list clock changes until 2037; after that only their rule goes on, which the library does not read. A
// later day is looked up in the year of 2027 to 2037 whose March begins on the same weekday: today's rules all name a
// weekday of March to November. What to add to reach that year.
milliseconds shift_into_table(std::chrono::milliseconds since_1970) {
  constexpr int kLastListed = 2037;
  constexpr int kFirstWithTodaysRules = 2027;
  using date::March;
  const auto day = date::floor<date::days>(date::sys_time<milliseconds>{since_1970});
  const date::year_month_day ymd{day};
  if (static_cast<int>(ymd.year()) <= kLastListed) return milliseconds{0};
  const date::weekday wanted{date::sys_days{ymd.year() / March / 1}};
  for (int year = kLastListed; year >= kFirstWithTodaysRules; --year) {
    if (date::weekday{date::sys_days{date::year{year} / March / 1}} != wanted) continue;
    date::year_month_day listed = date::year{year} / ymd.month() / ymd.day();
    if (!listed.ok()) listed = date::year{year} / ymd.month() / date::last;  // 29 February
    return date::sys_days{listed} - day;
  }
  return milliseconds{0};
}

struct Resolved {
  Instant when;
  LocalTimeOddity oddity = LocalTimeOddity::none;
};

std::optional<Resolved> resolve(date::local_time<milliseconds> local, std::string_view zone) {
  if (is_utc(zone)) return Resolved{Instant{local.time_since_epoch()}};
  const date::time_zone* tz = zone_or_null(zone);
  if (tz == nullptr) return std::nullopt;
  const milliseconds shift = shift_into_table(local.time_since_epoch());
  const date::local_info info = tz->get_info(local + shift);
  switch (info.result) {
    case date::local_info::nonexistent:
      return Resolved{Instant{info.first.end.time_since_epoch() - shift}, LocalTimeOddity::skipped};
    case date::local_info::ambiguous:
      // The larger offset belongs to the earlier of the two instants.
      return Resolved{Instant{local.time_since_epoch() - info.first.offset}, LocalTimeOddity::repeated};
    default:
      return Resolved{Instant{local.time_since_epoch() - info.first.offset}};
  }
}

date::local_time<milliseconds> to_local(Instant t, std::string_view zone) {
  seconds offset{0};
  if (!is_utc(zone)) {
    if (const date::time_zone* tz = zone_or_null(zone)) offset = tz->get_info(t + shift_into_table(t.time_since_epoch())).offset;
  }
  return date::local_time<milliseconds>{t.time_since_epoch() + offset};
}

// Reads digits from the front of a text.
class Cursor {
 public:
  explicit Cursor(std::string_view text) : text_(text) {}
  bool done() const { return text_.empty(); }
  char peek() const { return text_.empty() ? '\0' : text_.front(); }
  bool take(char c) {
    if (peek() != c || text_.empty()) return false;
    text_.remove_prefix(1);
    return true;
  }
  std::optional<int> digits(std::size_t count) {
    if (text_.size() < count) return std::nullopt;
    int value = 0;
    for (char c : text_.substr(0, count)) {
      if (c < '0' || c > '9') return std::nullopt;
      value = value * 10 + (c - '0');
    }
    text_.remove_prefix(count);
    return value;
  }
  // ".25" as milliseconds; further digits are dropped.
  std::optional<int> fraction_ms() {
    int value = 0;
    int places = 0;
    while (peek() >= '0' && peek() <= '9' && !text_.empty()) {
      if (places < 3) value = value * 10 + (peek() - '0');
      ++places;
      text_.remove_prefix(1);
    }
    if (places == 0 || places > 9) return std::nullopt;
    for (; places < 3; ++places) value *= 10;
    return value;
  }

 private:
  std::string_view text_;
};

std::string_view without_blanks_around(std::string_view text) {
  while (!text.empty() && (text.front() == ' ' || text.front() == '\t')) text.remove_prefix(1);
  while (!text.empty() && (text.back() == ' ' || text.back() == '\t')) text.remove_suffix(1);
  return text;
}

}  // namespace

std::string to_utc_text(Instant t) {
  const auto s = std::chrono::floor<seconds>(t);
  const auto day = date::floor<date::days>(date::sys_seconds{s.time_since_epoch()});
  const date::year_month_day ymd{day};
  const date::hh_mm_ss<seconds> time{s.time_since_epoch() - day.time_since_epoch()};
  return fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}Z", static_cast<int>(ymd.year()),
                     static_cast<unsigned>(ymd.month()), static_cast<unsigned>(ymd.day()), time.hours().count(),
                     time.minutes().count(), time.seconds().count());
}

std::optional<ParsedInstant> parse_instant(std::string_view text, std::string_view iana_zone) {
  Cursor c(without_blanks_around(text));
  const auto year = c.digits(4);
  if (!year || !c.take('-')) return std::nullopt;
  const auto month = c.digits(2);
  if (!month || !c.take('-')) return std::nullopt;
  const auto day = c.digits(2);
  if (!day) return std::nullopt;
  const date::year_month_day ymd{date::year{*year}, date::month{static_cast<unsigned>(*month)},
                                 date::day{static_cast<unsigned>(*day)}};
  if (!ymd.ok() || *year < kFirstYear || *year > kLastYear) return std::nullopt;

  ParsedInstant parsed;
  milliseconds time_of_day = std::chrono::hours{12};
  std::optional<minutes> offset;
  if (c.done()) {
    parsed.date_only = true;
  } else {
    if (!c.take('T') && !c.take('t') && !c.take(' ')) return std::nullopt;
    const auto hour = c.digits(2);
    if (!hour || *hour > 23 || !c.take(':')) return std::nullopt;
    const auto minute = c.digits(2);
    if (!minute || *minute > 59) return std::nullopt;
    time_of_day = std::chrono::hours{*hour} + minutes{*minute};
    if (c.take(':')) {
      const auto second = c.digits(2);
      if (!second || *second > 59) return std::nullopt;
      time_of_day += seconds{*second};
      if (c.take('.')) {
        const auto ms = c.fraction_ms();
        if (!ms) return std::nullopt;
        time_of_day += milliseconds{*ms};
      }
    }
    parsed.to_the_minute = true;
    if (c.take('Z') || c.take('z')) {
      offset = minutes{0};
    } else if (c.peek() == '+' || c.peek() == '-') {
      const bool east = c.take('+');
      if (!east) c.take('-');
      const auto off_hour = c.digits(2);
      if (!off_hour || *off_hour > 18 || !c.take(':')) return std::nullopt;
      const auto off_minute = c.digits(2);
      if (!off_minute || *off_minute > 59) return std::nullopt;
      offset = (std::chrono::hours{*off_hour} + minutes{*off_minute}) * (east ? 1 : -1);
    }
    if (!c.done()) return std::nullopt;
  }

  const auto local = date::local_days{ymd} + time_of_day;
  if (offset) {
    parsed.when = Instant{local.time_since_epoch() - *offset};
    return parsed;
  }
  const auto resolved = resolve(local, iana_zone);
  if (!resolved) return std::nullopt;
  parsed.when = resolved->when;
  parsed.oddity = resolved->oddity;
  return parsed;
}

bool is_known_zone(std::string_view iana_zone) { return is_utc(iana_zone) || zone_or_null(iana_zone) != nullptr; }

Instant next_local_hour(Instant t, int hour, std::string_view iana_zone) {
  const auto today = date::floor<date::days>(to_local(t, iana_zone));
  // A day whose wall clock skips that hour counts from the instant the clock moved on.
  for (int ahead = 0; ahead <= 3; ++ahead) {
    const date::local_time<milliseconds> local = today + date::days{ahead} + std::chrono::hours{hour};
    const auto resolved = resolve(local, iana_zone);
    const Instant when = resolved ? resolved->when : Instant{local.time_since_epoch()};
    if (when > t) return when;
  }
  return t + std::chrono::hours{24};
}

std::string local_date_text(Instant t, std::string_view iana_zone) {
  const date::year_month_day ymd{date::floor<date::days>(to_local(t, iana_zone))};
  return fmt::format("{} {} {}", static_cast<unsigned>(ymd.day()), kMonths[static_cast<unsigned>(ymd.month()) - 1],
                     static_cast<int>(ymd.year()));
}

std::string local_time_text(Instant t, std::string_view iana_zone) {
  const auto local = to_local(t, iana_zone);
  const auto day = date::floor<date::days>(local);
  const date::year_month_day ymd{day};
  const date::weekday weekday{day};
  const date::hh_mm_ss<milliseconds> time{local - day};
  return fmt::format("{} {} {}, {:02}:{:02}", kWeekdays[weekday.c_encoding()], static_cast<unsigned>(ymd.day()),
                     kMonths[static_cast<unsigned>(ymd.month()) - 1], time.hours().count(), time.minutes().count());
}

std::string local_date_iso(Instant t, std::string_view iana_zone) {
  const date::year_month_day ymd{date::floor<date::days>(to_local(t, iana_zone))};
  return fmt::format("{:04}-{:02}-{:02}", static_cast<int>(ymd.year()), static_cast<unsigned>(ymd.month()),
                     static_cast<unsigned>(ymd.day()));
}

}  // namespace helmwater::records
