// SPDX-License-Identifier: Apache-2.0
#include "infer/block_of.hpp"

#include <algorithm>
#include <array>
#include <cstring>
#include <type_traits>

#include "loop/charge_balance.hpp"

namespace helmwater::infer {

namespace {

// Parameters and State are plain runs of numbers: one struct of doubles into one lane of the same struct of Lanes.
template <class Block, class Numbers>
void put_lane(Block& block, int lane, const Numbers& numbers) {
  constexpr std::size_t fields = sizeof(Numbers) / sizeof(double);
  static_assert(std::is_trivially_copyable_v<Numbers> && sizeof(Numbers) == fields * sizeof(double) &&
                sizeof(Block) == fields * sizeof(Lanes));
  std::array<double, fields> values;
  std::memcpy(values.data(), &numbers, sizeof numbers);
  for (std::size_t f = 0; f < fields; ++f) {
    const auto value = static_cast<float>(values[f]);
    std::memcpy(reinterpret_cast<char*>(&block) + f * sizeof(Lanes) + static_cast<std::size_t>(lane) * sizeof value, &value, sizeof value);
  }
}

}  // namespace

MemberBlock block_of(const Member* members, int count) {
  MemberBlock block;
  for (int lane = 0; lane < kBlockLanes; ++lane) {
    const Member& m = members[std::min(lane, count - 1)];
    put_lane(block.parameters, lane, m.parameters);
    put_lane(block.start, lane, m.start);
    block.ln_h.v[lane] = static_cast<float>(m.ln_h);
  }
  return block;
}

Met met_of(const BlockWater& water, int lane) {
  return {water.y.tan.v[lane], water.y.no2.v[lane], water.y.no3.v[lane], -water.ln_h.v[lane] / loop::kLn10,
          water.y.alk.v[lane], water.y.o2.v[lane]};
}

}  // namespace helmwater::infer
