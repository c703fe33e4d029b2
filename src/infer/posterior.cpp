// SPDX-License-Identifier: Apache-2.0
#include "infer/posterior.hpp"

#include <algorithm>
#include <cmath>

#include "infer/timeline_from_log.hpp"
#include "loop/grid.hpp"

namespace helmwater::infer {

Posterior posterior_of(const records::LoopLog& log, const PosteriorOptions& options) {
  Posterior posterior;
  posterior.as_of = options.as_of;
  // Asked about a moment before the first entry of a loop whose start nobody wrote: it starts then.
  posterior.start = log.loop.started ? *log.loop.started : std::min(start_of(log, options.as_of), options.as_of);
  posterior.evidence = evidence_from_log(log, posterior.start);
  posterior.priors = std::make_shared<Priors>(log, posterior.evidence, options.as_of);
  const std::vector<Observation> used = up_to(posterior.evidence.observations, options.as_of);
  posterior.readings_used = static_cast<int>(used.size());

  const double end_day = used.empty() ? 0 : used.back().day;
  const loop::Timeline timeline = timeline_from_log(log, posterior.start, options.as_of, end_day, false);
  std::vector<double> days;
  for (const Observation& o : used) days.push_back(o.day);
  const loop::Grid grid = loop::make_grid(timeline, days, {}, end_day);

  const Priors& priors = *posterior.priors;
  const MemberBlockFunctions& run = member_block_functions();
  // Runs columns first .. first + count of z and hands each member with its water at the readings to `use(i, …)`.
  const auto each_member = [&](const Eigen::MatrixXd& z, int first, int count, const auto& use) {
    std::vector<Member> members(kBlockLanes);
    std::vector<BlockWater> waters(used.size());
    for (int at = 0; at < count; at += kBlockLanes) {
      const int lanes = std::min(kBlockLanes, count - at);
      for (int lane = 0; lane < lanes; ++lane) {
        members[static_cast<std::size_t>(lane)] = priors.member(z.col(first + at + lane).data());
      }
      run.water_at_readings(timeline, grid, block_of(members.data(), lanes), waters.data());
      for (int lane = 0; lane < lanes; ++lane) {
        const Member& m = members[static_cast<std::size_t>(lane)];
        use(at + lane, [&](std::size_t k, const auto& take) {
          const Observation& o = used[k];
          const double bias = o.kit_slot < 0 ? 0 : m.kit_bias[static_cast<std::size_t>(o.kit_slot)];
          return take(o, met_value(o, met_of(waters[k], lane), m.nitrate_efficiency), bias);
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
      out[i] = std::isfinite(sum) ? sum : -1e6;
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
  posterior.draws = thin(sample_posterior(priors.dimensions(), likelihood, soft, sampler), options.members, options.seed);
  return posterior;
}

}  // namespace helmwater::infer
