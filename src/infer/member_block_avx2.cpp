// SPDX-License-Identifier: Apache-2.0
// The members' model for AVX2 (see CMakeLists.txt for the flags).
#define HELMWATER_INSTRUCTIONS avx2
#include "infer/member_block_run.hpp"

namespace helmwater::infer {

extern const MemberBlockFunctions kMemberBlock_avx2;
const MemberBlockFunctions kMemberBlock_avx2{"AVX2", avx2::run_water_at_readings, avx2::run_forecast};

}  // namespace helmwater::infer
