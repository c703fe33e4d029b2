// SPDX-License-Identifier: Apache-2.0
// The multiply-add loop for avx512 (see CMakeLists.txt for the flags).
#include "fma_peak_run.hpp"

namespace helmwater::bench {

extern const FmaLoop kFmaLoop_avx512;
const FmaLoop kFmaLoop_avx512{"AVX-512", 2 * kRegisterLanes, run_chains};

}  // namespace helmwater::bench
