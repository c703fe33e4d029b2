// SPDX-License-Identifier: Apache-2.0
#include "page_words.hpp"

#include <fmt/format.h>

#include <array>
#include <chrono>
#include <cmath>

namespace helmwater::app {
namespace {

constexpr std::array<const char*, 12> kMonths{"January",   "February", "March",    "April",
                                              "May",       "June",     "July",     "August",
                                              "September", "October",  "November", "December"};
constexpr double kNear = 10;  // days in which a weekday says more than a date alone

}  // namespace

std::string two_digits(double value, double least) {
  if (!std::isfinite(value)) return "unknown";
  if (value < 0.95 * least) return fmt::format("<{:g}", least);
  // The power of ten after rounding: 9.96 is 10, not 10.0.
  const double rounded = std::stod(fmt::format("{:.1e}", value));
  const int places = 1 - static_cast<int>(std::floor(std::log10(rounded) + 1e-9));
  const int finest = static_cast<int>(std::round(-std::log10(least)));
  return fmt::format("{:.{}f}", rounded, std::clamp(places, 0, finest));
}

std::string range_text(double low, double high, double least) {
  const std::string from = two_digits(low, least), to = two_digits(high, least);
  return from == to ? to : from + " to " + to;
}

std::string chance(double p) {
  if (p >= 0.985) return "more than 49\u00A0in\u00A050";
  if (p >= 0.97) return "49\u00A0in\u00A050";
  if (p >= 0.93) return "19\u00A0in\u00A020";
  if (p <= 0.015) return "less than 1\u00A0in\u00A050";
  if (p <= 0.03) return "1\u00A0in\u00A050";
  if (p <= 0.07) return "1\u00A0in\u00A020";
  return fmt::format("{:.0f}\u00A0in\u00A010", std::clamp(std::round(10 * p), 1.0, 9.0));
}

std::string chance_word(double p) {
  if (p >= 0.97) return "almost certain";
  if (p >= 0.9) return "very likely";
  if (p >= 0.7) return "likely";
  if (p >= 0.55) return "more likely than not";
  if (p >= 0.45) return "as likely as not";
  if (p >= 0.3) return "less likely than not";
  if (p >= 0.1) return "unlikely";
  if (p >= 0.03) return "very unlikely";
  return "almost ruled out";
}

std::string sentence_case(std::string text) {
  if (!text.empty() && text[0] >= 'a' && text[0] <= 'z' && text.compare(0, 2, "pH") != 0)
    text[0] = static_cast<char>(text[0] - 'a' + 'A');
  return text;
}

Calendar::Calendar(std::string zone, records::Instant now)
    : zone_(std::move(zone)), now_(now), today_(of(now)) {}

Calendar::Day Calendar::of(records::Instant t) const {
  const std::string iso = records::local_date_iso(t, zone_);
  return {std::stoi(iso.substr(0, 4)), std::stoi(iso.substr(5, 2)), std::stoi(iso.substr(8, 2))};
}

std::string Calendar::weekday(records::Instant t) const {
  return records::local_time_text(t, zone_).substr(0, 3);
}

std::string Calendar::plain(const Day& d, bool with_month, bool with_year) const {
  if (!with_month) return std::to_string(d.day);
  const std::string text = fmt::format("{}\u00A0{}", d.day, kMonths[static_cast<std::size_t>(d.month - 1)]);
  if (with_year) return fmt::format("{}\u00A0{}", text, d.year);
  return text;
}

std::string Calendar::day(records::Instant t) const {
  const Day d = of(t);
  const std::string date = plain(d, true, d.year != today_.year);
  return std::abs(records::days_between(now_, t)) <= kNear ? weekday(t) + "\u00A0" + date : date;
}

std::string Calendar::short_day(records::Instant t) const {
  const Day d = of(t);
  return fmt::format("{} {:.3}", d.day, kMonths[static_cast<std::size_t>(d.month - 1)]);
}

std::string Calendar::between(records::Instant from, records::Instant to) const {
  const Day a = of(from), b = of(to);
  if (a == b) return "on " + day(from);
  const bool year = a.year != b.year || a.year != today_.year;
  return "between " + plain(a, a.month != b.month || a.year != b.year, a.year != b.year) + " and " +
         plain(b, true, year);
}

std::string Calendar::clock(records::Instant t) const {
  const std::string text = records::local_time_text(t, zone_);  // "Thu 19 Mar, 08:15"
  return text.substr(text.size() - 5);
}

std::string Calendar::moment(records::Instant t) const {
  return weekday(t) + " " + plain(of(t), true, true) + ", " + clock(t);
}

bool Calendar::is_monday(records::Instant t) const { return weekday(t) == "Mon"; }

int Calendar::days(records::Instant from, records::Instant to) const {
  const auto count = [](const Day& d) {
    const std::chrono::year_month_day ymd{std::chrono::year{d.year},
                                          std::chrono::month{static_cast<unsigned>(d.month)},
                                          std::chrono::day{static_cast<unsigned>(d.day)}};
    return std::chrono::sys_days{ymd}.time_since_epoch().count();
  };
  return static_cast<int>(count(of(to)) - count(of(from)));
}

records::Instant Calendar::next_midnight(records::Instant t) const {
  return records::next_local_hour(t, 0, zone_);
}

}  // namespace helmwater::app
