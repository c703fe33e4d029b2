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
  for (const char* kit : {"kit_bias", "nitrate_reduction"}) {
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
  const double edge = std::pow(1 - std::sqrt(std::min(0.25, static_cast<double>(n) / std::max(loop.effective, 1.0))), 2);
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

}  // namespace

Shares shares_of_handbook() {
  const auto value = [](const char* name) { return handbook::Handbook::built_in().prior(name).a; };
  return {value("keeper_share_rates"), value("keeper_share_water"), value("keeper_share_kits"), value("keeper_nothing_in_common")};
}

Learned pool(const std::vector<LoopSummary>& loops, const Shares& shares) {
  Learned out;
  out.loops = static_cast<int>(loops.size());
  for (const LoopSummary& loop : loops) {
    for (const std::string& name : loop.names) {
      if (std::find(out.names.begin(), out.names.end(), name) == out.names.end()) out.names.push_back(name);
    }
  }
  const auto d = static_cast<Eigen::Index>(out.names.size());
  const auto count = static_cast<Eigen::Index>(loops.size());
  Eigen::MatrixXd precision = Eigen::MatrixXd::Zero(d * count, d * count);
  Eigen::VectorXd weighted = Eigen::VectorXd::Zero(d * count);
  for (Eigen::Index l = 0; l < count; ++l) {
    const LoopSummary& loop = loops[static_cast<std::size_t>(l)];
    const Said said = said_by(loop);
    std::vector<Eigen::Index> place;
    for (const std::string& name : loop.names) {
      place.push_back(l * d + (std::find(out.names.begin(), out.names.end(), name) - out.names.begin()));
    }
    for (std::size_t i = 0; i < place.size(); ++i) {
      weighted[place[i]] = said.weighted[static_cast<Eigen::Index>(i)];
      for (std::size_t j = 0; j < place.size(); ++j) {
        precision(place[i], place[j]) = said.precision(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j));
      }
    }
  }

  // Every combination of "nothing, half, all of the share" by kind, each with its own next loop and its own evidence.
  struct Case {
    double log_weight;
    Eigen::VectorXd mean;
    Eigen::MatrixXd covariance;
  };
  std::vector<Case> cases;
  const std::array<double, 3> parts{0, 0.5, 1};
  const auto log_prior = [&](std::size_t part) {
    return std::log(part == 0 ? shares.nothing_in_common : (1 - shares.nothing_in_common) / 2);
  };
  std::array<bool, 3> present{};
  for (const std::string& name : out.names) present[static_cast<std::size_t>(kind_of(name))] = true;
  for (std::size_t combination = 0; combination < 27; ++combination) {
    const std::array<std::size_t, 3> part{combination % 3, combination / 3 % 3, combination / 9};
    bool needless = false;
    for (std::size_t kind = 0; kind < 3; ++kind) needless = needless || (!present[kind] && part[kind] != 0);
    if (needless) continue;
    const std::array<double, 3> share{parts[part[0]] * shares.rates, parts[part[1]] * shares.water, parts[part[2]] * shares.kits};
    Eigen::VectorXd common(d);
    for (Eigen::Index k = 0; k < d; ++k) common[k] = share[static_cast<std::size_t>(kind_of(out.names[static_cast<std::size_t>(k)]))];
    // Covariance of all loops' unknowns: 1 within a loop, the share between loops. Times the precision, row by row.
    Eigen::MatrixXd sum = Eigen::MatrixXd::Zero(d, d * count);
    for (Eigen::Index l = 0; l < count; ++l) sum += precision.middleRows(l * d, d);
    Eigen::VectorXd sum_weighted = Eigen::VectorXd::Zero(d);
    for (Eigen::Index l = 0; l < count; ++l) sum_weighted += weighted.segment(l * d, d);
    Eigen::MatrixXd m(d * count, d * count);
    Eigen::VectorXd covariance_weighted(d * count);
    for (Eigen::Index l = 0; l < count; ++l) {
      m.middleRows(l * d, d) = common.asDiagonal() * sum;
      m.middleRows(l * d, d) += (1 - common.array()).matrix().asDiagonal() * precision.middleRows(l * d, d);
      covariance_weighted.segment(l * d, d) =
          common.cwiseProduct(sum_weighted) + (1 - common.array()).matrix().cwiseProduct(weighted.segment(l * d, d));
    }
    m.diagonal().array() += 1;
    const Eigen::PartialPivLU<Eigen::MatrixXd> solver(m);
    const Eigen::VectorXd mean = solver.solve(covariance_weighted);  // of all loops' unknowns
    Case one;
    one.log_weight = 0.5 * (weighted.dot(mean) - solver.matrixLU().diagonal().array().abs().log().sum());
    for (std::size_t kind = 0; kind < 3; ++kind) {
      if (present[kind]) one.log_weight += log_prior(part[kind]);
    }
    // The next loop has `common` as its covariance with each of them.
    Eigen::VectorXd rest = weighted - precision * mean;
    one.mean = Eigen::VectorXd::Zero(d);
    for (Eigen::Index l = 0; l < count; ++l) one.mean += common.cwiseProduct(rest.segment(l * d, d));
    Eigen::MatrixXd cross(d * count, d);
    for (Eigen::Index l = 0; l < count; ++l) cross.middleRows(l * d, d) = common.asDiagonal();
    // Covariance of the next loop: 1 - c' P (1 + C P)^-1 c.
    one.covariance = Eigen::MatrixXd::Identity(d, d) - cross.transpose() * precision * solver.solve(cross);
    cases.push_back(std::move(one));
  }

  double top = -INFINITY, total = 0;
  for (const Case& one : cases) top = std::max(top, one.log_weight);
  out.shift = Eigen::VectorXd::Zero(d);
  out.covariance = Eigen::MatrixXd::Zero(d, d);
  for (Case& one : cases) total += one.log_weight = std::exp(one.log_weight - top);
  for (const Case& one : cases) out.shift += one.log_weight / total * one.mean;
  for (const Case& one : cases) {
    const Eigen::VectorXd off = one.mean - out.shift;
    out.covariance += one.log_weight / total * (one.covariance + off * off.transpose());
  }
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> own((out.covariance + out.covariance.transpose()) / 2);
  out.covariance = own.eigenvectors() * own.eigenvalues().cwiseMax(kNarrowest * kNarrowest).asDiagonal() * own.eigenvectors().transpose();
  return out;
}

}  // namespace helmwater::infer
