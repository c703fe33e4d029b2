// SPDX-License-Identifier: Apache-2.0
// The outlook's graphs on one time axis: deeds, five tests with their readings, days, dates.
#pragma once
#include <vector>

#include "infer/outlook.hpp"
#include "outlook_notes.hpp"
#include "page_text.hpp"
#include "page_words.hpp"

namespace helmwater::app {

// 9 in 10 ranges wider than this are not called a date.
inline constexpr double kTooWideDays = 21;
// A range with both ends and a middle, not too wide.
bool can_tell(const infer::Milestone& milestone);

void write_sheet(PageText& page, const infer::Outlook& outlook, const records::LoopLog& log,
                 const std::vector<Note>& notes, const Calendar& calendar);

}  // namespace helmwater::app
