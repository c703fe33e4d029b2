// SPDX-License-Identifier: Apache-2.0
// The multiply-add loop for baseline (see CMakeLists.txt for the flags).
#include "fma_peak_run.hpp"

namespace helmwater::bench {

extern const FmaLoop kFmaLoop_baseline;
const FmaLoop kFmaLoop_baseline{"baseline", 2 * kRegisterLanes, run_chains};

}  // namespace helmwater::bench
