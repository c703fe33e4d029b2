// SPDX-License-Identifier: Apache-2.0
// The body of member_block.hpp, included by one source file per instruction set with HELMWATER_INSTRUCTIONS set. Only
// code whose types carry the instruction set may be instantiated here, so that no other part of the program can end up
// running it (cmake/check_instruction_sets.sh).
#pragma once
#include <cstdint>
#include <cstring>

#include "infer/member_block.hpp"
#include "loop/charge_balance.hpp"
#include "loop/nitrification.hpp"
#include "loop/simulate.hpp"

namespace helmwater::infer {
inline namespace HELMWATER_INSTRUCTIONS {

using loop::Mask;
using loop::Pack;
using loop::State;

using loop::kLanes;
static_assert(kBlockLanes % kLanes == 0);

// A pack's share of a block: lanes [first, first + kLanes). Structs of Lanes and of Pack are plain runs of either.
template <class To, class From>
To taken(const From& from, int first) {
  constexpr std::size_t fields = sizeof(From) / sizeof(Lanes);
  static_assert(sizeof(To) == fields * sizeof(Pack));
  To to;
  for (std::size_t f = 0; f < fields; ++f) {
    std::memcpy(reinterpret_cast<char*>(&to) + f * sizeof(Pack),
                reinterpret_cast<const char*>(&from) + f * sizeof(Lanes) + static_cast<std::size_t>(first) * sizeof(float),
                sizeof(Pack));
  }
  return to;
}
template <class To, class From>
void put(To& to, int first, const From& from) {
  constexpr std::size_t fields = sizeof(To) / sizeof(Lanes);
  static_assert(sizeof(From) == fields * sizeof(Pack));
  for (std::size_t f = 0; f < fields; ++f) {
    std::memcpy(reinterpret_cast<char*>(&to) + f * sizeof(Lanes) + static_cast<std::size_t>(first) * sizeof(float),
                reinterpret_cast<const char*>(&from) + f * sizeof(Pack), sizeof(Pack));
  }
}
inline void store(float* to, Pack from) { std::memcpy(to, &from.v, sizeof from.v); }

// While it lives this thread takes numbers below 1e-38 for nothing. Used-up ammonia and nitrite decay into them, and the
// processor works on each in slow motion: more than half of the time went there. What is lost is no ammonia anybody has.
class NoSubnormals {
 public:
  NoSubnormals() : before_(get()) { set(before_ | kFlush); }
  ~NoSubnormals() { set(before_); }
  NoSubnormals(const NoSubnormals&) = delete;
  NoSubnormals& operator=(const NoSubnormals&) = delete;

 private:
#if defined(__SSE2__)
  using Word = unsigned;
  static constexpr Word kFlush = 0x8040;  // flush to zero, denormals are zero
  static Word get() { return _mm_getcsr(); }
  static void set(Word word) { _mm_setcsr(word); }
#elif defined(__aarch64__)
  using Word = std::uint64_t;
  static constexpr Word kFlush = Word{1} << 24;  // FPCR.FZ
  static Word get() {
    Word word;
    asm volatile("mrs %0, fpcr" : "=r"(word));
    return word;
  }
  static void set(Word word) { asm volatile("msr fpcr, %0" : : "r"(word)); }
#else
  using Word = unsigned;
  static constexpr Word kFlush = 0;
  static Word get() { return 0; }
  static void set(Word) {}
#endif
  Word before_;
};

struct Readings {
  BlockWater* out;
  int first;
  void observe(int index, const State<Pack>& y, Pack ln_h) {
    put(out[index].y, first, y);
    put(out[index].ln_h, first, ln_h);
  }
  void series(int, const State<Pack>&, Pack) {}
  void step(double, const State<Pack>&, double, const State<Pack>&) {}
};

struct Nothing {
  void observe(int, const State<Pack>&, Pack) {}
  void series(int, const State<Pack>&, Pack) {}
  void step(double, const State<Pack>&, double, const State<Pack>&) {}
};

// Factors from mg N/L to the stated units (IUPAC 2021 masses: N 14.007, H 1.008, O 15.999).
inline constexpr float kAsNh3 = 17.031f / 14.007f, kAsNo2 = 46.005f / 14.007f, kAsNo3 = 62.004f / 14.007f;
inline constexpr float kAsCaCO3 = static_cast<float>(loop::kMgCaCO3PerMeq);
// Thresholds of the milestones, in the stated units.
inline constexpr float kClearBelow = 0.25f, kClearAfterAbove = 0.5f, kAlkalinityOut = 20.0f;

struct Clear {
  Pack above{0.0f};  // 1 once it has been above
  Pack day{kNotYet};
  void step(double from, Pack before, double to, Pack after) {
    above = select((before > Pack{kClearAfterAbove}) | (after > Pack{kClearAfterAbove}), Pack{1.0f}, above);
    const Mask now = (above > Pack{0.5f}) & (after < Pack{kClearBelow}) & (day > Pack{kNotYet / 2});
    const Pack fall = before - after;
    const Pack share = select((fall > Pack{0.0f}) & (before > Pack{kClearBelow}), (before - Pack{kClearBelow}) / fall, Pack{0.0f});
    day = select(now, Pack{from} + share * Pack{to - from}, day);
  }
};

struct Track {
  const BlockForecast& task;
  const loop::Parameters<Pack>& q;
  BlockTrack& out;
  int first;
  Clear ammonia, nitrite;
  Pack alkalinity_out{kNotYet}, ready{kNotYet}, peak{0.0f}, peak_day{0.0f}, highest_ammonia{0.0f};
  Pack stage{static_cast<float>(Stage::cannot_tell)}, stage_since{0.0f};
  Pack worst_free{0.0f}, worst_nitrite{0.0f};

  Track(const BlockForecast& t, const loop::Parameters<Pack>& parameters, BlockTrack& o, int lane)
      : task(t), q(parameters), out(o), first(lane) {
    if (task.before == nullptr) return;
    const auto b = taken<TrackState<Pack>>(*task.before, first);
    ammonia = {b.ammonia_above, b.ammonia_clear};
    nitrite = {b.nitrite_above, b.nitrite_clear};
    peak = b.nitrite_peak;
    peak_day = b.nitrite_peak_day;
    alkalinity_out = b.alkalinity_out;
    ready = b.ready;
    highest_ammonia = b.highest_ammonia;
    stage = b.stage;
    stage_since = b.stage_since;
  }

  void observe(int, const State<Pack>&, Pack) {}

  void step(double from, const State<Pack>& before, double to, const State<Pack>& after) {
    const Pack nh3{kAsNh3}, no2{kAsNo2};
    ammonia.step(from, before.tan * nh3, to, after.tan * nh3);
    nitrite.step(from, before.no2 * no2, to, after.no2 * no2);
    const Mask higher = after.no2 * no2 > peak;
    peak = select(higher, after.no2 * no2, peak);
    peak_day = select(higher, Pack{to}, peak_day);
    const Mask out_now = (after.alk * Pack{kAsCaCO3} < Pack{kAlkalinityOut}) & (alkalinity_out > Pack{kNotYet / 2});
    alkalinity_out = select(out_now, Pack{to}, alkalinity_out);
  }

  void series(int index, const State<Pack>& y, Pack ln_h) {
    const auto i = static_cast<std::size_t>(index);
    const double day = (*task.series_days)[i];
    const Pack zero{0.0f};
    const Pack nh3 = max(y.tan, zero) * Pack{kAsNh3}, no2 = max(y.no2, zero) * Pack{kAsNo2};
    const std::size_t at = i * task.stride + static_cast<std::size_t>(first);
    store(task.series[0] + at, nh3);
    store(task.series[1] + at, no2);
    store(task.series[2] + at, max(y.no3, zero) * Pack{kAsNo3});
    store(task.series[3] + at, ln_h * Pack{-1 / loop::kLn10});
    store(task.series[4] + at, y.alk * Pack{kAsCaCO3});
    highest_ammonia = max(highest_ammonia, nh3);
    if (task.load_tan > 0) test_readiness(i, y, ln_h);
    if (day > task.as_of_day + 3) return;
    const loop::Environment& env = (*task.environments)[i];
    const loop::Equilibrium<Pack> e = loop::equilibrium_at(env, y, ln_h);
    if (day <= task.as_of_day) judge_stage(day, env, y, e);
    if (day == task.as_of_day) {
      put(out.free_ammonia, first, max(e.free_ammonia, zero));
      put(out.ammonia_capacity, first, y.r_a);
      put(out.nitrite_capacity, first, y.r_n);
      put(out.water, first, y);
      put(out.ln_h, first, ln_h);
    }
    if (day >= task.as_of_day) {
      worst_free = max(worst_free, e.free_ammonia);
      worst_nitrite = max(worst_nitrite, no2);
      if (day <= task.as_of_day + 1) {
        put(out.worst_free_ammonia_24h, first, worst_free);
        put(out.worst_nitrite_24h, first, worst_nitrite);
      }
    }
  }

  // Would the load, given now, be gone a day later?
  void test_readiness(std::size_t i, const State<Pack>& y, Pack ln_h) {
    // No member can convert more in a day than its growing capacity with nothing limiting at
    // the day's warmest: most need no simulation.
    double warmest = (*task.environments)[i].growth_dt;
    for (const loop::Node& node : (*task.quiet)[i].nodes) {
      if (node.environment.growth_dt > warmest) warmest = node.environment.growth_dt;
    }
    const int knot = (*task.quiet)[i].steps.front().loads.knot;
    const Pack fast_a = knot < 0 ? Pack{1.0f} : q.wander_a[knot], fast_n = knot < 0 ? Pack{1.0f} : q.wander_n[knot];
    const Pack most_a = most_in_a_day(y.r_a, q.mu_a, fast_a * warmth_of(q.ln_theta_a, warmest)),
               most_n = most_in_a_day(y.r_n, q.mu_n, fast_n * warmth_of(q.ln_theta_n, warmest));
    // Nor faster than its most of ammonia and nitrite and its alkalinity allow; of that only top-ups (below 0.1 meq/L) and
    // rotting food bring more within the day.
    const Pack tan = max(y.tan, Pack{0.0f}) + Pack{task.load_tan}, organic = max(y.org_n, Pack{0.0f}) + max(y.urea_n, Pack{0.0f});
    const Pack most_tan = tan + organic, most_no2 = most_tan + max(y.no2, Pack{0.0f});
    const Pack carbonate = loop::alkalinity_factor(q, y.alk + Pack{0.1f} + organic * Pack{1 / loop::kGramsPerMolN});
    const Pack to_convert = tan - Pack{kClearBelow / kAsNh3};
    const Mask possible = (most_a * carbonate * most_tan > to_convert * (q.k_a + most_tan)) &
                          (most_n * carbonate * most_no2 > (to_convert - Pack{kClearBelow / kAsNo2}) * (q.k_n + most_no2)) &
                          (ready > Pack{kNotYet / 2});
    if (!any(possible)) return;
    State<Pack> loaded = y;
    loaded.tan += Pack{task.load_tan};
    Nothing nothing;
    const State<Pack> later = loop::simulate(*task.timeline, (*task.quiet)[i], q, loaded, ln_h, nothing);
    const Mask gone = (later.tan * Pack{kAsNh3} < Pack{kClearBelow}) & (later.no2 * Pack{kAsNo2} < Pack{kClearBelow}) &
                      (ready > Pack{kNotYet / 2});
    ready = select(gone, Pack{(*task.series_days)[i]}, ready);
  }
  // The larger of the temperature factors of growing bacteria and of a full film: in the cold that is the film's.
  Pack warmth_of(Pack ln_theta, double growth_dt) const {
    return exp(max(ln_theta * Pack{growth_dt}, q.ln_theta_film * Pack{growth_dt}));
  }
  static Pack most_in_a_day(Pack capacity, Pack mu, Pack warm) {
    const Pack grown = mu * warm;
    return capacity * warm * (exp(grown) - Pack{1.0f}) / grown;
  }

  // Where each member stands. Later lines overrule earlier ones; thresholds in mg/L as ion are ours.
  void judge_stage(double day, const loop::Environment& env, const State<Pack>& y, const loop::Equilibrium<Pack>& e) {
    loop::Loads loads;
    loads.knot = task.timeline->knot_at(day);
    const loop::Nitrification<Pack> n = loop::nitrification(q, loop::constants_of(q), env, loads, y, e);
    const Pack chemistry = loop::ph_factor(q, loop::ph_of(e)) * loop::alkalinity_factor(q, y.alk);
    const Pack p = max(y.p, Pack{0.0f}), growth = p / (q.k_p + p);
    const Pack a = y.tan * Pack{kAsNh3}, b = y.no2 * Pack{kAsNo2};
    const Pack some{kClearBelow}, much{kClearAfterAbove};
    const auto value = [](Stage s) { return Pack{static_cast<float>(s)}; };
    Pack s = value(Stage::waiting);
    s = select((a > some) & (n.rate_a > Pack{0.05f} * y.tan), value(Stage::ammonia_falling), s);
    s = select(b > some, select(n.rate_a > n.rate_n, value(Stage::nitrite_rising), value(Stage::nitrite_falling)), s);
    s = select(((a > much) | (b > much)) & ((chemistry < Pack{0.15f}) | (growth < Pack{0.15f})), value(Stage::stalled), s);
    s = select((highest_ammonia < some) & (b < some), value(Stage::empty), s);
    s = select(ready < Pack{kNotYet / 2}, value(Stage::ready), s);
    if (task.fish) {
      // Ammonia has come and gone, or it never shows because the filter turns over what little there is within a day.
      const Mask turning = (n.chord_a > Pack{1.0f}) & (n.chord_n > Pack{1.0f});
      s = select((a < much) & (b < much) & ((ammonia.day < Pack{kNotYet / 2}) | turning), value(Stage::running), s);
    }
    const Mask changed = (s < stage) | (s > stage);
    stage_since = select(changed, Pack{day}, stage_since);
    stage = s;
  }

  void finish() {
    put(out.ammonia_clear, first, ammonia.day);
    put(out.nitrite_clear, first, nitrite.day);
    put(out.nitrite_peak, first, select(peak_day < Pack{task.end_day - 1e-4}, peak_day, Pack{kNotYet}));
    put(out.nitrite_peak_height, first, peak);
    put(out.alkalinity_out, first, alkalinity_out);
    put(out.ready, first, ready);
    put(out.stage, first, stage);
    put(out.stage_since, first, stage_since);
    put(out.so_far, first, TrackState<Pack>{ammonia.above, ammonia.day, nitrite.above, nitrite.day, peak, peak_day,
                                            alkalinity_out, ready, highest_ammonia, stage, stage_since});
    put(out.worst_free_ammonia_72h, first, worst_free);
    put(out.worst_nitrite_72h, first, worst_nitrite);
  }
};

inline void run_water_at_readings(const loop::Timeline& timeline, const loop::Grid& grid, const MemberBlock& members, BlockWater* out) {
  const NoSubnormals fast;
  for (int first = 0; first < kBlockLanes; first += kLanes) {
    const auto q = taken<loop::Parameters<Pack>>(members.parameters, first);
    Readings observer{out, first};
    loop::simulate(timeline, grid, q, taken<State<Pack>>(members.start, first), taken<Pack>(members.ln_h, first), observer);
  }
}

inline void run_forecast(const BlockForecast& task, const MemberBlock& members, BlockTrack& out) {
  const NoSubnormals fast;
  for (int first = 0; first < kBlockLanes; first += kLanes) {
    const auto q = taken<loop::Parameters<Pack>>(members.parameters, first);
    Track track(task, q, out, first);
    loop::simulate(*task.timeline, *task.grid, q, taken<State<Pack>>(members.start, first), taken<Pack>(members.ln_h, first), track);
    track.finish();
  }
}

}  // namespace HELMWATER_INSTRUCTIONS
}  // namespace helmwater::infer
