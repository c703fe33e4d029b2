// SPDX-License-Identifier: Apache-2.0
#include "infer/posterior.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "infer/parallel.hpp"
#include "infer/random.hpp"
#include "infer/timeline_from_log.hpp"
#include "infer/windows.hpp"
#include "loop/grid.hpp"

namespace helmwater::infer {

std::vector<Observation> Posterior::readings_in_window() const {
  std::vector<Observation> some = up_to(evidence.observations, as_of);
  const records::Instant from = window_start(start, carried.get());
  std::erase_if(some, [&](const Observation& o) { return o.when <= from; });
  return some;
}

namespace {

// Of the same window and the same prior.
bool is_a_start(const Posterior& earlier, records::Instant start, const Carried* carried, const Learned* learned) {
  return earlier.start == start && (earlier.carried == nullptr) == (carried == nullptr) &&
         (carried == nullptr || earlier.carried->key == carried->key) && (earlier.learned == nullptr) == (learned == nullptr) &&
         (learned == nullptr || earlier.learned->key == learned->key);
}

// An earlier posterior's draws as draws of this one, if it knows the same window: unknowns new since then are drawn from
// their prior, and the weights follow the likelihood of the readings as they now are.
std::optional<WeightedDraws> taken_up(const Posterior& earlier, const Posterior& now, const LogLikelihood& likelihood,
                                      std::uint64_t seed) {
  if (!is_a_start(earlier, now.start, now.carried.get(), now.learned.get()) || earlier.draws.log_likelihood.size() != earlier.draws.weight.size()) return std::nullopt;
  const std::vector<std::string>&before = earlier.priors->names(), &names = now.priors->names();
  const Eigen::Index draws = earlier.draws.z.cols();
  WeightedDraws start;
  start.z.resize(now.priors->known(), draws);
  for (std::size_t k = 0; k < static_cast<std::size_t>(now.priors->known()); ++k) {
    const auto row = static_cast<Eigen::Index>(k);
    const auto found = std::find(before.begin(), before.end(), names[k]);
    if (found != before.end()) {
      start.z.row(row) = earlier.draws.z.row(found - before.begin());
      continue;
    }
    const Draws random(seed, 0xea510000u + static_cast<std::uint32_t>(k));
    for (Eigen::Index i = 0; i < draws; ++i) start.z(row, i) = random.normal(static_cast<std::uint32_t>(i), 0);
  }
  start.log_likelihood.resize(static_cast<std::size_t>(draws));
  constexpr int kChunk = 256;
  const int count = static_cast<int>(draws);
  parallel_for((count + kChunk - 1) / kChunk, [&](int chunk) {
    const int first = chunk * kChunk;
    likelihood(start.z, first, std::min(kChunk, count - first), &start.log_likelihood[static_cast<std::size_t>(first)]);
  });
  double top = -INFINITY, total = 0;
  for (std::size_t i = 0; i < start.log_likelihood.size(); ++i) {
    start.weight.push_back(std::log(earlier.draws.weight[i]) + start.log_likelihood[i] - earlier.draws.log_likelihood[i]);
    top = std::max(top, start.weight.back());
  }
  for (double& w : start.weight) total += w = std::exp(w - top);
  for (double& w : start.weight) w /= total;
  start.effective = effective_size(start.weight);
  return start;
}

// What no reading speaks of comes from the prior.
void draw_unknown(Posterior& posterior, std::uint64_t seed) {
  Eigen::MatrixXd& z = posterior.draws.z;
  const Eigen::Index known = z.rows();
  z.conservativeResize(posterior.priors->dimensions(), Eigen::NoChange);
  const Draws random(seed, 0xa4ead000u);
  for (Eigen::Index i = 0; i < z.cols(); ++i) {
    for (Eigen::Index k = known; k < z.rows(); ++k) {
      z(k, i) = random.normal(static_cast<std::uint32_t>(i), static_cast<std::uint32_t>(k));
    }
  }
}

// Some of the draws, spread evenly over the weight.
std::vector<Member> some_members(const Posterior& posterior, int count) {
  std::vector<Member> some;
  double passed = 0;
  for (std::size_t i = 0; i < posterior.draws.weight.size(); ++i) {
    passed += posterior.draws.weight[i];
    if (static_cast<double>(some.size()) + 0.5 > passed * count) continue;
    some.push_back(posterior.priors->member(posterior.draws.z.col(static_cast<Eigen::Index>(i)).data()));
  }
  return some;
}

Posterior sampled_with_steps(const records::LoopLog& log, const PosteriorOptions& options, std::shared_ptr<const Carried> carried,
                             double refine) {
  Posterior posterior;
  posterior.as_of = options.as_of;
  posterior.start = start_for(log, options.as_of);
  posterior.carried = std::move(carried);
  posterior.altered = options.altered;
  posterior.learned = options.learned;
  posterior.evidence = evidence_from_log(log, posterior.start);
  posterior.priors = std::make_shared<Priors>(log, posterior.evidence, options.as_of, posterior.carried, options.altered, options.learned);
  posterior.readings_used = static_cast<int>(up_to(posterior.evidence.observations, options.as_of).size());
  const std::vector<Observation> used = posterior.readings_in_window();

  const double start_day = posterior.window_day(), end_day = used.empty() ? start_day : used.back().day;
  loop::Timeline timeline = timeline_from_log(log, posterior.start, options.as_of, end_day, false, {},
                                              window_start(posterior.start, posterior.carried.get()));
  if (options.altered != nullptr && options.altered->timeline) options.altered->timeline(timeline);
  std::vector<double> days;
  for (const Observation& o : used) days.push_back(o.day);
  posterior.certificate.refine = refine;
  const loop::Grid grid = loop::make_grid(timeline, days, {}, end_day, posterior.steps(), start_day);

  const Priors& priors = *posterior.priors;
  if (options.check_conflict) {
    ConflictOptions look;
    look.seed = options.seed;
    posterior.conflict = conflict_of(log, posterior.evidence, used, priors, timeline, grid, look);
  }
  const double power = conflict_power(posterior.conflict);
  const MemberBlockFunctions& run = member_block_functions();
  // Runs columns first .. first + count of z and hands each member with its water at the readings to `use(i, …)`.
  const auto each_member = [&](const Eigen::MatrixXd& z, int first, int count, const auto& use) {
    std::vector<Member> members(kBlockLanes);
    std::vector<BlockWater> waters(used.size());
    for (int at = 0; at < count; at += kBlockLanes) {
      const int lanes = std::min(kBlockLanes, count - at);
      for (int lane = 0; lane < lanes; ++lane) {
        members[static_cast<std::size_t>(lane)] = priors.member(z.col(first + at + lane).data(), priors.known());
      }
      run.water_at_readings(timeline, grid, block_of(members.data(), lanes), waters.data());
      for (int lane = 0; lane < lanes; ++lane) {
        const Member& m = members[static_cast<std::size_t>(lane)];
        use(at + lane, [&](std::size_t k, const auto& take) {
          const Observation& o = used[k];
          const double bias = bias_of(o, m);
          Met met = met_of(waters[k], lane);
          if (m.oxygen_held >= 0) met.oxygen = m.oxygen_held;
          return take(o, met_value(o, met, m.nitrate_efficiency), bias);
        });
      }
    }
  };
  const auto likelihood = [&](const Eigen::MatrixXd& z, int first, int count, double* out) {
    std::fill(out, out + count, 0.0);
    if (used.empty()) return;
    each_member(z, first, count, [&](int i, const auto& reading) {
      double sum = 0;
      for (std::size_t k = 0; k < used.size(); ++k) sum += reading(k, log_likelihood);
      out[i] = std::isfinite(sum) ? power * sum : -1e6;
    });
  };
  SoftData soft;
  const auto data = static_cast<Eigen::Index>(used.size());
  soft.low.resize(data);
  soft.high.resize(data);
  soft.sd.resize(data);
  for (Eigen::Index k = 0; k < data; ++k) {
    const Observation& o = used[static_cast<std::size_t>(k)];
    soft.low[k] = o.scale_low;
    soft.high[k] = o.scale_high;
    soft.sd[k] = noise_on_scale(o);
  }
  soft.predict = [&](const Eigen::MatrixXd& z, int first, int count, Eigen::MatrixXd& predicted) {
    each_member(z, first, count, [&](int i, const auto& reading) {
      for (std::size_t k = 0; k < used.size(); ++k) {
        const double value = reading(k, shown_on_scale);
        predicted(static_cast<Eigen::Index>(k), first + i) = std::isfinite(value) ? value : 0;
      }
    });
  };
  SamplerOptions sampler;
  sampler.seed = options.seed;
  if (used.empty()) sampler.round = options.members;  // the prior itself, in one round
  sampler.effective_wanted = options.effective_wanted;
  sampler.most_rounds = options.most_rounds;
  const std::optional<WeightedDraws> start =
      options.earlier == nullptr ? std::nullopt : taken_up(*options.earlier, posterior, likelihood, options.seed);
  posterior.draws = thin(sample_posterior(priors.known(), likelihood, soft, sampler, start ? &*start : nullptr),
                         options.members, options.seed);
  draw_unknown(posterior, options.seed);
  posterior.certificate = certify(timeline, days, start_day, end_day, some_members(posterior, kBlockLanes), refine);
  return posterior;
}

}  // namespace

Posterior posterior_in_window(const records::LoopLog& log, const PosteriorOptions& options, std::shared_ptr<const Carried> carried) {
  const bool taken_up = options.earlier != nullptr &&
                        is_a_start(*options.earlier, start_for(log, options.as_of), carried.get(), options.learned.get());
  double refine = taken_up ? options.earlier->certificate.refine : 1;
  Posterior posterior = sampled_with_steps(log, options, carried, refine);
  // Steps too long for what the readings say of this loop: sampled again on the grid its members ask for, starting from
  // what the coarse one found.
  while (posterior.certificate.refine > refine) {
    refine = posterior.certificate.refine;
    PosteriorOptions again = options;
    again.earlier = std::make_shared<const Posterior>(std::move(posterior));
    posterior = sampled_with_steps(log, again, carried, refine);
  }
  return posterior;
}

loop::GridSteps Posterior::steps() const {
  loop::GridSteps steps;
  steps.refine = certificate.refine;
  return steps;
}

}  // namespace helmwater::infer
