// SPDX-License-Identifier: Apache-2.0
// The multiply-add loop for avx2 (see CMakeLists.txt for the flags).
#include "fma_peak_run.hpp"

namespace helmwater::bench {

extern const FmaLoop kFmaLoop_avx2;
const FmaLoop kFmaLoop_avx2{"AVX2", 2 * kRegisterLanes, run_chains};

}  // namespace helmwater::bench
