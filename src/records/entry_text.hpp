// SPDX-License-Identifier: Apache-2.0
// What a line of a log was taken for, in words for people.
#pragma once
#include <string>

#include "records/entry.hpp"

namespace helmwater::records {

bool counts_nitrogen(Test test);  // ammonia, nitrite, nitrate
// The unit of the numbers in a reading's `seen`: "mg/L as NO2", "degC", "" for pH.
std::string unit_of(const Entry& entry, const Reading& reading);
// "3.1 g of ammonium chloride", "1.13 to 2.37 mg/L as NO2  =  … mg/L N; by the chart".
std::string said_of(const Entry& entry, const Loop& loop);
// Whether the model does anything with the line today; the rest is kept for later.
bool is_used(const Entry& entry, const Loop& loop);

}  // namespace helmwater::records
