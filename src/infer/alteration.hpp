// SPDX-License-Identifier: Apache-2.0
// A posterior under another supposition than the plain prior: one thing about the loop is altered, for a question of the kind
// "what if the water had been cold all the time?" (docs/model/why_stuck.md).
#pragma once
#include <functional>
#include <string>
#include <vector>

#include "loop/timeline.hpp"

namespace helmwater::infer {

struct Member;

struct Alteration {
  std::vector<std::string> unknowns;  // further standard normal numbers, by name
  // The member as altered; z: the numbers of `unknowns`. Empty: nothing.
  std::function<void(Member&, const double* z)> member;
  // What happens from outside, for all members; events stay sorted. Empty: nothing.
  std::function<void(loop::Timeline&)> timeline;
};

}  // namespace helmwater::infer
