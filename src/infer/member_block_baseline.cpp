// SPDX-License-Identifier: Apache-2.0
// The members' model for baseline (see CMakeLists.txt for the flags).
#define HELMWATER_INSTRUCTIONS baseline
#include "infer/member_block_run.hpp"

namespace helmwater::infer {

extern const MemberBlockFunctions kMemberBlock_baseline;
const MemberBlockFunctions kMemberBlock_baseline{"baseline", baseline::run_water_at_readings, baseline::run_forecast};

}  // namespace helmwater::infer
