// SPDX-License-Identifier: Apache-2.0
#include "infer/posterior.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "infer/timeline_from_log.hpp"
#include "loop/grid.hpp"
#include "loop/simulate.hpp"

namespace helmwater::infer {
namespace {

using loop::Pack;
using loop::State;

// Adds up the ln likelihood of each lane on the way.
struct ReadingObserver {
  const std::vector<Observation>& observations;
  const std::vector<Member>& members;
  int lanes;
  std::array<double, loop::kLanes> log_like{};

  void observe(int index, const State<Pack>& y, Pack ln_h) {
    const Observation& o = observations[static_cast<std::size_t>(index)];
    for (int lane = 0; lane < lanes; ++lane) {
      const Member& m = members[static_cast<std::size_t>(lane)];
      const Met water{y.tan[lane], y.no2[lane], y.no3[lane], -ln_h[lane] / loop::kLn10, y.alk[lane]};
      const double bias = o.kit_slot < 0 ? 0 : m.kit_bias[static_cast<std::size_t>(o.kit_slot)];
      log_like[static_cast<std::size_t>(lane)] += log_likelihood(o, met_value(o, water, m.nitrate_efficiency), bias);
    }
  }
  void series(int, const State<Pack>&, Pack) {}
  void step(double, const State<Pack>&, double, const State<Pack>&) {}
};

}  // namespace

PackedMembers pack_members(const Member* members, int count) {
  PackedMembers p;
  const auto fill = [&](Pack& to, auto value_of) {
    for (int lane = 0; lane < loop::kLanes; ++lane) {
      to.set(lane, static_cast<float>(value_of(members[std::min(lane, count - 1)])));
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

Posterior posterior_of(const records::LoopLog& log, const PosteriorOptions& options) {
  Posterior posterior;
  posterior.as_of = options.as_of;
  posterior.start = start_of(log, options.as_of);
  posterior.evidence = evidence_from_log(log, posterior.start);
  posterior.priors = std::make_shared<Priors>(log, posterior.evidence);
  const std::vector<Observation> used = up_to(posterior.evidence.observations, options.as_of);
  posterior.readings_used = static_cast<int>(used.size());

  const double end_day = used.empty() ? 0 : used.back().day;
  const loop::Timeline timeline = timeline_from_log(log, posterior.start, options.as_of, end_day, false);
  std::vector<double> days;
  for (const Observation& o : used) days.push_back(o.day);
  const loop::Grid grid = loop::make_grid(timeline, days, {}, end_day);

  const Priors& priors = *posterior.priors;
  const auto likelihood = [&](const Eigen::MatrixXd& z, int first, int count, double* out) {
    if (used.empty()) {
      std::fill(out, out + count, 0.0);
      return;
    }
    std::vector<Member> members(loop::kLanes);
    for (int at = 0; at < count; at += loop::kLanes) {
      const int lanes = std::min(loop::kLanes, count - at);
      for (int lane = 0; lane < lanes; ++lane) {
        members[static_cast<std::size_t>(lane)] = priors.member(z.col(first + at + lane).data());
      }
      const PackedMembers packed = pack_members(members.data(), lanes);
      ReadingObserver observer{used, members, lanes, {}};
      loop::simulate(timeline, grid, packed.parameters, packed.start, packed.ln_h, observer);
      for (int lane = 0; lane < lanes; ++lane) {
        const double value = observer.log_like[static_cast<std::size_t>(lane)];
        out[at + lane] = std::isfinite(value) ? value : -1e6;
      }
    }
  };
  SamplerOptions sampler;
  sampler.seed = options.seed;
  sampler.effective_wanted = options.effective_wanted;
  posterior.draws = thin(sample_posterior(priors.dimensions(), likelihood, sampler), options.members, options.seed);
  return posterior;
}

}  // namespace helmwater::infer
