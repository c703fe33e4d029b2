// SPDX-License-Identifier: Apache-2.0
// Doubts that need more than one line of a log to see.
#pragma once
#include "records/entry.hpp"

namespace helmwater::records {

// Appends: before_start, jump_between_readings, dose_before_reading. Entries must be sorted.
void add_doubts_of_the_whole(LoopLog& log);

}  // namespace helmwater::records
