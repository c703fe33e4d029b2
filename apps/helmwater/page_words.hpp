// SPDX-License-Identifier: Apache-2.0
// Numbers, chances and dates as a person would say them; no-break spaces hold together what belongs together.
#pragma once
#include <string>

#include "infer/outlook.hpp"
#include "records/instant.hpp"

namespace helmwater::app {

// Two significant digits, without an exponent: 120, 12, 1.2, 0.12. Less than `least` (of one digit) is
// "<0.01".
std::string two_digits(double value, double least = 0.01);
// "14 to 18"; both below `least`: "<0.01".
std::string range_text(double low, double high, double least = 0.01);

// "8 in 10"; never 0 in 10 or 10 in 10, for no model is that sure.
std::string chance(double p);
// "very likely", "unlikely", …: 3, 10, 30, 45 % and their mirrors are the borders.
std::string chance_word(double p);
std::string sentence_case(std::string text);

// Days of one zone, told from one moment.
class Calendar {
 public:
  Calendar(std::string zone, records::Instant now);

  // "Wed 18 March" within ten days, else "18 March"; the year where it is not this one.
  std::string day(records::Instant t) const;
  std::string short_day(records::Instant t) const;  // "18 Mar"
  // "between 14 and 23 March", "on 14 March" if it is one day.
  std::string between(records::Instant from, records::Instant to) const;
  // "Thu 19 March 2026, 08:15"
  std::string moment(records::Instant t) const;
  std::string clock(records::Instant t) const;  // "08:15"
  bool is_monday(records::Instant t) const;
  // Calendar days from one to the other.
  int days(records::Instant from, records::Instant to) const;
  records::Instant next_midnight(records::Instant t) const;

 private:
  struct Day {
    int year = 0, month = 0, day = 0;
    bool operator==(const Day&) const = default;
  };
  Day of(records::Instant t) const;
  std::string plain(const Day& d, bool with_month, bool with_year) const;
  std::string weekday(records::Instant t) const;

  std::string zone_;
  records::Instant now_;
  Day today_;
};

}  // namespace helmwater::app
