// SPDX-License-Identifier: Apache-2.0
#include "infer/block_of.hpp"

#include <algorithm>

#include "loop/charge_balance.hpp"

namespace helmwater::infer {

MemberBlock block_of(const Member* members, int count) {
  MemberBlock p;
  const auto fill = [&](Lanes& to, auto value_of) {
    for (int lane = 0; lane < kBlockLanes; ++lane) {
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
  HELMWATER_PACK(ln_theta_film);
  HELMWATER_PACK(k_la);
  HELMWATER_PACK(co2_ppm);
  HELMWATER_PACK(sink);
  HELMWATER_PACK(u_crop);
  HELMWATER_PACK(k_min);
  HELMWATER_PACK(k_urea);
  HELMWATER_PACK(f_tan);
  HELMWATER_PACK(f_sol);
  HELMWATER_PACK(f_den);
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
  HELMWATER_PACK(o2);
#undef HELMWATER_PACK
  fill(p.ln_h, [](const Member& m) { return m.ln_h; });
  return p;
}

Met met_of(const BlockWater& water, int lane) {
  return {water.y.tan.v[lane], water.y.no2.v[lane], water.y.no3.v[lane], -water.ln_h.v[lane] / loop::kLn10,
          water.y.alk.v[lane], water.y.o2.v[lane]};
}

}  // namespace helmwater::infer
