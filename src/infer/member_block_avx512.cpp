// SPDX-License-Identifier: Apache-2.0
// The members' model for AVX-512 (see CMakeLists.txt for the flags).
#define HELMWATER_INSTRUCTIONS avx512
#include "infer/member_block_run.hpp"

namespace helmwater::infer {

extern const MemberBlockFunctions kMemberBlock_avx512;
const MemberBlockFunctions kMemberBlock_avx512{"AVX-512", avx512::run_water_at_readings, avx512::run_forecast};

}  // namespace helmwater::infer
