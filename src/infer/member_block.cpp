// SPDX-License-Identifier: Apache-2.0
#include "infer/member_block.hpp"

#include <algorithm>
#include <cstdlib>
#include <string_view>

namespace helmwater::infer {

extern const MemberBlockFunctions kMemberBlock_baseline;
#ifdef HELMWATER_X86_SETS
extern const MemberBlockFunctions kMemberBlock_avx2;
extern const MemberBlockFunctions kMemberBlock_avx512;
#endif

std::vector<const MemberBlockFunctions*> member_block_sets() {
  std::vector<const MemberBlockFunctions*> sets{&kMemberBlock_baseline};
#ifdef HELMWATER_X86_SETS
  __builtin_cpu_init();
  const bool avx2 = __builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma");
  const bool avx512 = __builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512vl") &&
                      __builtin_cpu_supports("avx512dq") && __builtin_cpu_supports("avx512bw");
  if (avx2) sets.push_back(&kMemberBlock_avx2);
  if (avx2 && avx512) sets.push_back(&kMemberBlock_avx512);
#endif
  return sets;
}

namespace {
// HELMWATER_INSTRUCTIONS=baseline|avx2 in the environment holds the program to a lesser set, for comparisons.
const MemberBlockFunctions& choose() {
  const auto sets = member_block_sets();
  const char* wish = std::getenv("HELMWATER_INSTRUCTIONS");
  const std::string_view most = wish == nullptr ? "avx512" : wish;
  const std::size_t allowed = most == "baseline" ? 1 : most == "avx2" ? 2 : sets.size();
  return *sets[std::min(allowed, sets.size()) - 1];
}
}  // namespace

const MemberBlockFunctions& member_block_functions() {
  static const MemberBlockFunctions& chosen = choose();
  return chosen;
}

}  // namespace helmwater::infer
