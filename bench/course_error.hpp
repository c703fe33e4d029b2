// SPDX-License-Identifier: Apache-2.0
// How far an integrator's courses are from the reference's, in total ammonia, nitrite and nitrate, mg N/L.
#pragma once
#include "startup_problem.hpp"

namespace helmwater::bench {

struct CourseError {
  Pools largest;      // over all members and days
  double max = 0;     // the largest of the three
  double median = 0;  // over members, of a member's largest in any of the three on any day
  int lost = 0;       // members without a number on some day
};

// `found` may hold fewer members than the reference: its member m is the reference's which[m] (all in order
// if empty).
CourseError course_error(const Courses& reference, const Courses& found,
                         const std::vector<std::size_t>& which = {});

}  // namespace helmwater::bench
