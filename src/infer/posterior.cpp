// SPDX-License-Identifier: Apache-2.0
#include "infer/posterior.hpp"

#include <algorithm>
#include <cmath>

#include "infer/timeline_from_log.hpp"
#include "loop/grid.hpp"
#include "loop/charge_balance.hpp"

namespace helmwater::infer {
MemberBlock block_of(const Member* members, int count) {
  MemberBlock p;
  const auto fill = [&](Lanes& to, auto value_of) {
    for (int lane = 0; lane < loop::kLanes; ++lane) {
      to.v[lane] = static_cast<float>(value_of(members[std::min(lane, count - 1)]));
    }
  };
#define HELMWATER_PACK(field) fill(p.parameters.field, [](const Member& m) { return m.parameters.field; })
  HELMWATER_PACK(mu_a);
  HELMWATER_PACK(mu_n);
  HELMWATER_PACK(ln_theta_a);
  HELMWATER_PACK(ln_theta_n);
  HELMWATER_PACK(b_a);
  HELMWATER_PACK(b_n);
  HELMWATER_PACK(k_a);
  HELMWATER_PACK(k_n);
  HELMWATER_PACK(k_oa);
  HELMWATER_PACK(k_on);
  HELMWATER_PACK(ki_a_fa);
  HELMWATER_PACK(ki_n_fa);
  HELMWATER_PACK(ki_a_fna);
  HELMWATER_PACK(ki_n_fna);
  HELMWATER_PACK(ln_theta_ph);
  HELMWATER_PACK(ph_high);
  HELMWATER_PACK(k_alk);
  HELMWATER_PACK(k_p);
  HELMWATER_PACK(r_max);
  HELMWATER_PACK(k_la);
  HELMWATER_PACK(co2_ppm);
  HELMWATER_PACK(sink);
  HELMWATER_PACK(u_crop);
  HELMWATER_PACK(k_min);
  HELMWATER_PACK(k_urea);
  HELMWATER_PACK(f_tan);
  HELMWATER_PACK(f_sol);
  HELMWATER_PACK(feed_unknown);
  HELMWATER_PACK(volume_factor);
  HELMWATER_PACK(effect_factor);
  HELMWATER_PACK(kill_log10);
  for (int i = 0; i < loop::kUnloggedMost; ++i) {
    fill(p.parameters.unlogged[i], [i](const Member& m) { return m.parameters.unlogged[i]; });
  }
  HELMWATER_PACK(seed_factor_a);
  HELMWATER_PACK(seed_factor_n);
  HELMWATER_PACK(source_alk);
  HELMWATER_PACK(source_dic);
  HELMWATER_PACK(source_no3);
  HELMWATER_PACK(source_p);
#undef HELMWATER_PACK
#define HELMWATER_PACK(field) fill(p.start.field, [](const Member& m) { return m.start.field; })
  HELMWATER_PACK(tan);
  HELMWATER_PACK(no2);
  HELMWATER_PACK(no3);
  HELMWATER_PACK(alk);
  HELMWATER_PACK(dic);
  HELMWATER_PACK(r_a);
  HELMWATER_PACK(r_n);
  HELMWATER_PACK(org_n);
  HELMWATER_PACK(urea_n);
  HELMWATER_PACK(p);
#undef HELMWATER_PACK
  fill(p.ln_h, [](const Member& m) { return m.ln_h; });
  return p;
}

Met met_of(const BlockWater& water, int lane) {
  return {water.y.tan.v[lane], water.y.no2.v[lane], water.y.no3.v[lane], -water.ln_h.v[lane] / loop::kLn10,
          water.y.alk.v[lane]};
}

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
    std::vector<Member> members(loop::kLanes);
    std::vector<BlockWater> waters(used.size());
    for (int at = 0; at < count; at += loop::kLanes) {
      const int lanes = std::min(loop::kLanes, count - at);
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
