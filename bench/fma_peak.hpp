// SPDX-License-Identifier: Apache-2.0
// The most single-precision arithmetic one core of this machine does with an instruction set: independent
// multiply-adds in registers, nothing else. The baseline set has no fused ones: as many multiplications as
// additions.
#pragma once

namespace helmwater::bench {

struct FmaLoop {
  const char* instructions;  // as infer::MemberBlockFunctions names them
  int pack_lanes;            // members the engine takes at once with them (loop/pack.hpp: two registers)
  double (*run)(long rounds, float factor);  // the number of operations done (two per multiply-add)
};

// nullptr if there is no loop for these instructions.
const FmaLoop* fma_loop(const char* instructions);

}  // namespace helmwater::bench
