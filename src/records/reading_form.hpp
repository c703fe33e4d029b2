// SPDX-License-Identifier: Apache-2.0
// What a written reading says: the forms people use beside a colour chart (a step, a range, "<x", ">x", "~x", "hint",
// "x±s", "x?", "x*10") turned into an interval or a distribution of the kit's own number.
#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <tl/expected.hpp>
#include <vector>

#include "records/entry.hpp"

namespace helmwater::records {

// How the numbers of one test are read.
struct ReadingScale {
  std::vector<double> steps;       // of the kit's chart, rising; empty: none known
  bool arithmetic = false;         // edges between steps at the arithmetic midpoint (pH); else geometric
  bool open_below = false;         // numbers may go below any step (pH, temperature); else 0 is the floor
  bool may_dilute = true;          // "x*10" makes sense
  double lowest = 0;               // allowed numbers as written
  double highest = 1e5;
  std::string allowed;             // the same in words, for messages
  // A plain number without steps: lognormal with this sd of ln, or normal with max(sd, sd_relative x number).
  bool normal = false;
  double sd = 0.25;
  double sd_relative = 0;
  bool kit_noise = true;
  double zero_limit = 0;           // without steps "0" means at most this; ESTIMATE, see docs/reference/loop_folder.md
};

struct WrittenReading {
  enum class Form { plain, about, less, more, range, hint, plus_minus } form = Form::plain;
  double x = 0;       // the number; of a range the lower end
  double y = 0;       // upper end of a range, sd of x±s
  double times = 1;   // "x*10"
  bool doubted = false;       // "x?"
  bool leading_zero = false;  // "01"
};

// Splits the text into its form; the error is a sentence that says what is allowed.
tl::expected<WrittenReading, std::string> parse_written_reading(std::string_view text);

struct UnderstoodReading {
  Seen seen;
  std::optional<std::string> odd;  // why no form fits exactly, and what it was taken for
};
tl::expected<UnderstoodReading, std::string> understand(const WrittenReading& written, const ReadingScale& scale);

}  // namespace helmwater::records
