// SPDX-License-Identifier: Apache-2.0
// Between a member (double, by name) and a block of members (single precision, side by side).
#pragma once
#include "infer/member_block.hpp"
#include "infer/observation.hpp"
#include "infer/priors.hpp"

namespace helmwater::infer {

// Members side by side; missing lanes repeat the last.
MemberBlock block_of(const Member* members, int count);
// What a test of this lane's water meets.
Met met_of(const BlockWater& water, int lane);

}  // namespace helmwater::infer
