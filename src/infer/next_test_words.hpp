// SPDX-License-Identifier: Apache-2.0
// Times and tests in the words of the next-test line.
#pragma once
#include <string>
#include <string_view>
#include <vector>

#include "records/instant.hpp"
#include "records/loop.hpp"

namespace helmwater::infer {

// "ammonia, nitrite and pH".
std::string tests_in_words(const std::vector<records::Test>& tests);
// "now", "this evening (Thu 12 Mar)", "tomorrow morning (Fri 13 Mar)", "on Sunday morning (15 Mar)", "in a week (Thu 19 Mar)".
std::string moment_in_words(records::Instant as_of, records::Instant when, std::string_view zone);
// "tomorrow", "Thursday": of the coming six days; then the date.
std::string day_in_words(records::Instant as_of, records::Instant when, std::string_view zone);
// Of the day, 0 to 23, in the zone.
int local_hour(records::Instant when, std::string_view zone);
// "3 in 10": neither never nor always.
std::string chance_in_words(double p);

}  // namespace helmwater::infer
