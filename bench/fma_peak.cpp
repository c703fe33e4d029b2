// SPDX-License-Identifier: Apache-2.0
#include "fma_peak.hpp"

#include <string_view>

namespace helmwater::bench {

extern const FmaLoop kFmaLoop_baseline;
#ifdef HELMWATER_X86_SETS
extern const FmaLoop kFmaLoop_avx2;
extern const FmaLoop kFmaLoop_avx512;
#endif

const FmaLoop* fma_loop(const char* instructions) {
  const FmaLoop* const all[] = {
      &kFmaLoop_baseline,
#ifdef HELMWATER_X86_SETS
      &kFmaLoop_avx2,
      &kFmaLoop_avx512,
#endif
  };
  for (const FmaLoop* loop : all) {
    if (std::string_view(loop->instructions) == instructions) return loop;
  }
  return nullptr;
}

}  // namespace helmwater::bench
