// SPDX-License-Identifier: Apache-2.0
#include "infer/quantiles.hpp"

#include <algorithm>
#include <bit>

namespace helmwater::infer {
namespace {

// Weighted quantiles of values in rising order: the smallest at which the running weight reaches the share.
// `value_at` and `weight_at` take a place in that order.
template <class ValueAt, class WeightAt>
Quantiles quantiles_in_order(std::size_t count, const ValueAt& value_at, const WeightAt& weight_at) {
  Quantiles q;
  const std::array<std::pair<double, double*>, 5> wanted{
      {{0.05, &q.p05}, {0.25, &q.p25}, {0.5, &q.p50}, {0.75, &q.p75}, {0.95, &q.p95}}};
  double sum = 0;
  std::size_t next = 0;
  for (std::size_t place = 0; place < count && next < wanted.size(); ++place) {
    sum += weight_at(place);
    while (next < wanted.size() && sum >= wanted[next].first - 1e-9) *wanted[next++].second = value_at(place);
  }
  while (next < wanted.size() && count > 0) *wanted[next++].second = value_at(count - 1);
  return q;
}

// A float's bits as a number that rises with it (IEEE 754 binary32): negative ones are turned round.
std::uint32_t rising_key(float value) {
  const auto bits = std::bit_cast<std::uint32_t>(value);
  return (bits & 0x80000000u) != 0 ? ~bits : bits | 0x80000000u;
}

float value_of(std::uint32_t key) { return std::bit_cast<float>((key & 0x80000000u) != 0 ? key & 0x7fffffffu : ~key); }

std::vector<std::pair<double, std::size_t>> in_order(const std::vector<double>& values) {
  std::vector<std::pair<double, std::size_t>> order(values.size());
  for (std::size_t i = 0; i < values.size(); ++i) order[i] = {values[i], i};
  std::sort(order.begin(), order.end());
  return order;
}

}  // namespace

Quantiles quantiles(const std::vector<double>& values, const std::vector<double>& weight) {
  const auto order = in_order(values);
  return quantiles_in_order(
      values.size(), [&](std::size_t place) { return order[place].first; },
      [&](std::size_t place) { return weight[order[place].second]; });
}

std::vector<double> quantiles_at(const std::vector<double>& values, const std::vector<double>& weight,
                                 const std::vector<double>& shares) {
  const auto order = in_order(values);
  std::vector<double> found;
  double sum = 0;
  for (const auto& [value, i] : order) {
    sum += weight[i];
    while (found.size() < shares.size() && sum >= shares[found.size()] - 1e-12) found.push_back(value);
  }
  while (found.size() < shares.size()) found.push_back(order.back().first);
  return found;
}

Quantiles QuantilesByDigits::operator()(const float* values, const double* weight, std::size_t count) {
  order_.resize(count);
  other_.resize(count);
  for (std::size_t i = 0; i < count; ++i) order_[i] = {rising_key(values[i]), static_cast<std::uint32_t>(i)};
  for (const unsigned shift : {0u, 11u, 22u}) {
    std::array<std::uint32_t, 2048> place{};
    for (const Keyed& k : order_) ++place[(k.key >> shift) & 2047u];
    std::uint32_t at = 0;
    for (std::uint32_t& p : place) at += std::exchange(p, at);
    for (const Keyed& k : order_) other_[place[(k.key >> shift) & 2047u]++] = k;
    order_.swap(other_);
  }
  return quantiles_in_order(
      count, [&](std::size_t place) { return static_cast<double>(value_of(order_[place].key)); },
      [&](std::size_t place) { return weight[order_[place].index]; });
}

}  // namespace helmwater::infer
