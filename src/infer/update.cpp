// SPDX-License-Identifier: Apache-2.0
#include "infer/update.hpp"

#include <algorithm>
#include <cmath>

#include "infer/block_of.hpp"
#include "infer/parallel.hpp"
#include "infer/timeline_from_log.hpp"
#include "loop/charge_balance.hpp"
#include "loop/grid.hpp"

namespace helmwater::infer {
namespace {

// The window an outlook at this day would use begins here.
double window_day_at(double day) { return std::max(0.0, std::floor(day / kWindowDays) - 1) * kWindowDays; }

}  // namespace

std::optional<Update> update_at_once(const records::LoopLog& log, const Posterior& earlier, const Forecast& forecast,
                                     records::Instant as_of) {
  const double from = std::max(0.0, records::days_between(earlier.start, earlier.as_of));
  const double to = records::days_between(earlier.start, as_of);
  if (to < from || window_day_at(to) > earlier.window_day()) return std::nullopt;
  Update out;
  Posterior& p = out.posterior;
  p = earlier;
  p.as_of = as_of;
  p.evidence = evidence_from_log(log, earlier.start);
  if (Priors(log, p.evidence, as_of, earlier.carried).names() != earlier.priors->names()) return std::nullopt;
  p.readings_used = static_cast<int>(up_to(p.evidence.observations, as_of).size());

  std::vector<Observation> fresh = up_to(p.evidence.observations, as_of);
  std::erase_if(fresh, [&](const Observation& o) { return o.when <= earlier.as_of; });
  std::vector<double> days;
  for (const Observation& o : fresh) days.push_back(o.day);
  days.push_back(to);
  const loop::Timeline timeline = timeline_from_log(log, p.start, as_of, to, false, {}, window_start(p.start, p.carried.get()));
  const loop::Grid grid = loop::make_grid(timeline, days, {}, to, earlier.steps(), from);

  const std::size_t count = p.draws.weight.size();
  out.water.resize(count);
  out.ph.resize(count);
  std::vector<double> gained(count, 0.0);
  const MemberBlockFunctions& run = member_block_functions();
  const int blocks = (static_cast<int>(count) + kBlockLanes - 1) / kBlockLanes;
  parallel_for(blocks, [&](int block) {
    const std::size_t first = static_cast<std::size_t>(block) * kBlockLanes;
    const std::size_t lanes = std::min<std::size_t>(kBlockLanes, count - first);
    std::vector<Member> members;
    for (std::size_t lane = 0; lane < lanes; ++lane) {
      members.push_back(p.priors->member(p.draws.z.col(static_cast<Eigen::Index>(first + lane)).data()));
      members.back().start = forecast.water[first + lane];
      members.back().ln_h = forecast.ln_h[first + lane];
    }
    std::vector<BlockWater> waters(days.size());
    run.water_at_readings(timeline, grid, block_of(members.data(), static_cast<int>(lanes)), waters.data());
    for (std::size_t lane = 0; lane < lanes; ++lane) {
      const Member& m = members[lane];
      for (std::size_t k = 0; k < fresh.size(); ++k) {
        const Observation& o = fresh[k];
        const double bias = bias_of(o, m);
        gained[first + lane] +=
            log_likelihood(o, met_value(o, met_of(waters[k], static_cast<int>(lane)), m.nitrate_efficiency), bias);
      }
      const BlockWater& last = waters.back();
      const auto at = [&](const Lanes& l) { return static_cast<double>(l.v[lane]); };
      out.water[first + lane] = {at(last.y.tan), at(last.y.no2), at(last.y.no3),  at(last.y.alk),    at(last.y.dic), at(last.y.r_a),
                                 at(last.y.r_n), at(last.y.org_n), at(last.y.urea_n), at(last.y.p), at(last.y.o2)};
      out.ph[first + lane] = -at(last.ln_h) / loop::kLn10;
    }
  });
  // Whether the new readings are in conflict with the prior the next sampling finds out.
  for (double& g : gained) g *= conflict_power(p.conflict);
  const double top = *std::max_element(gained.begin(), gained.end());
  double total = 0;
  for (std::size_t i = 0; i < count; ++i) {
    p.draws.log_likelihood[i] += gained[i];
    p.draws.weight[i] *= std::exp(gained[i] - top);
    total += p.draws.weight[i];
  }
  for (double& w : p.draws.weight) w /= total;
  p.draws.effective = effective_size(p.draws.weight);
  return out;
}

}  // namespace helmwater::infer
