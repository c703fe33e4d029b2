// SPDX-License-Identifier: Apache-2.0
#include "infer/member_block.hpp"

#include <cstdlib>
#include <string_view>

namespace helmwater::infer {

extern const MemberBlockFunctions kMemberBlock_baseline;
#ifdef HELMWATER_X86_SETS
extern const MemberBlockFunctions kMemberBlock_avx2;
extern const MemberBlockFunctions kMemberBlock_avx512;
#endif

namespace {
const MemberBlockFunctions& choose() {
#ifdef HELMWATER_X86_SETS
  // HELMWATER_INSTRUCTIONS=baseline|avx2 in the environment holds the program to a lesser set, for comparisons.
  const char* wish = std::getenv("HELMWATER_INSTRUCTIONS");
  const std::string_view most = wish == nullptr ? "avx512" : wish;
  __builtin_cpu_init();
  const bool avx2 = __builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma");
  const bool avx512 = __builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512vl") &&
                      __builtin_cpu_supports("avx512dq") && __builtin_cpu_supports("avx512bw");
  if (avx2 && avx512 && most == "avx512") return kMemberBlock_avx512;
  if (avx2 && most != "baseline") return kMemberBlock_avx2;
#endif
  return kMemberBlock_baseline;
}
}  // namespace

const MemberBlockFunctions& member_block_functions() {
  static const MemberBlockFunctions& chosen = choose();
  return chosen;
}

}  // namespace helmwater::infer
