// SPDX-License-Identifier: Apache-2.0
#include "infer/parallel.hpp"

#include <gtest/gtest.h>

#include <stdexcept>

namespace helmwater::infer {
namespace {

TEST(parallel_for, does_every_piece_exactly_once) {
  for (int count : {0, 1, 2, 7, 1000}) {
    std::vector<std::atomic<int>> done(static_cast<std::size_t>(count));
    parallel_for(count, [&](int i) { ++done[static_cast<std::size_t>(i)]; });
    for (const auto& times : done) EXPECT_EQ(times, 1);
  }
}

TEST(parallel_for, hands_on_what_a_piece_throws) {
  EXPECT_THROW(parallel_for(50,
                            [](int i) {
                              if (i == 31) throw std::runtime_error("31");
                            }),
               std::runtime_error);
}

}  // namespace
}  // namespace helmwater::infer
