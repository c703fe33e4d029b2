// SPDX-License-Identifier: Apache-2.0
#include "infer/pooling.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <string_view>

#include "handbook/handbook.hpp"

namespace helmwater::infer {
namespace {

enum class Kind { rates, water, kits };

Kind kind_of(std::string_view name) {
  for (const char* kit : {"kit_bias", "person_bias", "nitrate_reduction"}) {
    if (name.starts_with(kit)) return Kind::kits;
  }
  for (const char* water : {"source_", "phosphate_start", "air_co2", "k_la", "disinfectant_kill"}) {
    if (name.starts_with(water)) return Kind::water;
  }
  return Kind::rates;
}

// What one loop's readings said beyond the plain prior, as a normal measurement of its unknowns: precision and
// precision times value.
struct Said {
  Eigen::MatrixXd precision;
  Eigen::VectorXd weighted;
};

Said said_by(const LoopSummary& loop) {
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> own(loop.covariance);
  const Eigen::Index n = loop.mean.size();
  // The smallest eigenvalue that the sample covariance of so many draws of the prior itself would show (Marchenko and
  // Pastur, from memory): what is above it counts as not learnt.
  const double edge = std::pow(1 - std::sqrt(std::min(0.8, static_cast<double>(n) / std::max(loop.effective, 1.0))), 2);
  Said said{Eigen::MatrixXd::Zero(n, n), Eigen::VectorXd::Zero(n)};
  for (Eigen::Index i = 0; i < n; ++i) {
    const double variance = std::max(own.eigenvalues()[i], 1e-6) / edge;
    if (variance >= 1) continue;
    const Eigen::VectorXd direction = own.eigenvectors().col(i);
    // A posterior N(m, v) on the prior N(0, 1) is a measurement of precision 1/v - 1 that read m / (1 - v). Four sds of
    // the prior bound it: a posterior that is no normal one may have moved without narrowing.
    const double precision = 1 / variance - 1;
    const double value = std::clamp(direction.dot(loop.mean) / (1 - variance), -4.0, 4.0);
    said.precision += precision * direction * direction.transpose();
    said.weighted += precision * value * direction;
  }
  return said;
}

// What all loops said together, over all unknowns any of them has: loop l's at l d .. (l + 1) d.
struct AllSaid {
  std::vector<std::string> names;
  std::vector<Kind> kinds;
  Eigen::Index loops = 0;
  Eigen::MatrixXd precision;
  Eigen::VectorXd weighted;
};

AllSaid all_said(const std::vector<LoopSummary>& loops) {
  AllSaid all;
  const auto place_of = [&](const std::string& name) { return std::find(all.names.begin(), all.names.end(), name) - all.names.begin(); };
  for (const LoopSummary& loop : loops) {
    for (const std::string& name : loop.names) {
      if (place_of(name) == std::ssize(all.names)) all.names.push_back(name);
    }
  }
  for (const std::string& name : all.names) all.kinds.push_back(kind_of(name));
  const Eigen::Index d = std::ssize(all.names);
  all.loops = std::ssize(loops);
  all.precision = Eigen::MatrixXd::Zero(d * all.loops, d * all.loops);
  all.weighted = Eigen::VectorXd::Zero(d * all.loops);
  for (Eigen::Index l = 0; l < all.loops; ++l) {
    const LoopSummary& loop = loops[static_cast<std::size_t>(l)];
    const Said said = said_by(loop);
    std::vector<Eigen::Index> place;
    for (const std::string& name : loop.names) place.push_back(l * d + place_of(name));
    all.weighted(place) = said.weighted;
    all.precision(place, place) = said.precision;
  }
  return all;
}

NextLoop next_loop(const AllSaid& all, const std::array<double, 3>& share) {
  const Eigen::Index d = std::ssize(all.names);
  NextLoop next;
  next.names = all.names;
  Eigen::VectorXd common(d);
  for (Eigen::Index k = 0; k < d; ++k) common[k] = share[static_cast<std::size_t>(all.kinds[static_cast<std::size_t>(k)])];
  const Eigen::VectorXd own = 1 - common.array();
  // C, the covariance of all loops' unknowns, is 1 within a loop and the share between loops; here C P and C w.
  Eigen::MatrixXd sum = Eigen::MatrixXd::Zero(d, d * all.loops);
  Eigen::VectorXd sum_weighted = Eigen::VectorXd::Zero(d);
  for (Eigen::Index l = 0; l < all.loops; ++l) {
    sum += all.precision.middleRows(l * d, d);
    sum_weighted += all.weighted.segment(l * d, d);
  }
  Eigen::MatrixXd m(d * all.loops, d * all.loops), cross(d * all.loops, d);
  Eigen::VectorXd right(d * all.loops);
  for (Eigen::Index l = 0; l < all.loops; ++l) {
    m.middleRows(l * d, d) = common.asDiagonal() * sum;
    m.middleRows(l * d, d) += own.asDiagonal() * all.precision.middleRows(l * d, d);
    right.segment(l * d, d) = common.cwiseProduct(sum_weighted) + own.cwiseProduct(all.weighted.segment(l * d, d));
    cross.middleRows(l * d, d) = common.asDiagonal();  // the next loop's covariance with each
  }
  m.diagonal().array() += 1;
  const Eigen::PartialPivLU<Eigen::MatrixXd> solver(m);
  const Eigen::VectorXd mean = solver.solve(right);  // of all loops' unknowns
  next.log_evidence = 0.5 * (all.weighted.dot(mean) - solver.matrixLU().diagonal().array().abs().log().sum());
  next.mean = cross.transpose() * (all.weighted - all.precision * mean);
  next.covariance = Eigen::MatrixXd::Identity(d, d) - cross.transpose() * all.precision * solver.solve(cross);
  return next;
}

}  // namespace

Shares shares_of_handbook() {
  const auto value = [](const char* name) { return handbook::Handbook::built_in().prior(name).a; };
  return {value("keeper_share_rates"), value("keeper_share_water"), value("keeper_share_kits"), value("keeper_nothing_in_common")};
}

NextLoop next_loop(const std::vector<LoopSummary>& loops, const SharesKnown& shares) {
  return next_loop(all_said(loops), {shares.rates, shares.water, shares.kits});
}

Learned pool(const std::vector<LoopSummary>& loops, const Shares& shares) {
  const AllSaid all = all_said(loops);
  // Every combination of "nothing, half, all of the share" by kind.
  constexpr std::array<double, 3> parts{0, 0.5, 1};
  const std::array<double, 3> prior{shares.nothing_in_common, (1 - shares.nothing_in_common) / 2, (1 - shares.nothing_in_common) / 2};
  std::array<bool, 3> present{};
  for (const Kind kind : all.kinds) present[static_cast<std::size_t>(kind)] = true;
  std::vector<NextLoop> cases;
  std::vector<double> weight;
  for (std::size_t combination = 0; combination < 27; ++combination) {
    const std::array<std::size_t, 3> part{combination % 3, combination / 3 % 3, combination / 9};
    double chance = 1;
    for (std::size_t kind = 0; kind < 3; ++kind) chance *= present[kind] ? prior[part[kind]] : part[kind] == 0 ? 1 : 0;
    if (chance <= 0) continue;
    cases.push_back(next_loop(all, {parts[part[0]] * shares.rates, parts[part[1]] * shares.water, parts[part[2]] * shares.kits}));
    weight.push_back(std::log(chance) + cases.back().log_evidence);
  }
  const double top = *std::max_element(weight.begin(), weight.end());
  double total = 0;
  for (double& w : weight) total += w = std::exp(w - top);

  Learned out;
  out.names = all.names;
  out.loops = static_cast<int>(loops.size());
  const Eigen::Index d = std::ssize(all.names);
  out.shift = Eigen::VectorXd::Zero(d);
  out.covariance = Eigen::MatrixXd::Zero(d, d);
  for (std::size_t i = 0; i < cases.size(); ++i) out.shift += weight[i] / total * cases[i].mean;
  for (std::size_t i = 0; i < cases.size(); ++i) {
    const Eigen::VectorXd off = cases[i].mean - out.shift;
    out.covariance += weight[i] / total * (cases[i].covariance + off * off.transpose());
  }
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> own((out.covariance + out.covariance.transpose()) / 2);
  out.covariance = own.eigenvectors() * own.eigenvalues().cwiseMax(kNarrowest * kNarrowest).asDiagonal() * own.eigenvectors().transpose();
  return out;
}

}  // namespace helmwater::infer
