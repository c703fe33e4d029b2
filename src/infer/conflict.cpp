// SPDX-License-Identifier: Apache-2.0
#include "infer/conflict.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>

#include "infer/as_written.hpp"
#include "infer/block_of.hpp"
#include "infer/member_block.hpp"
#include "infer/parallel.hpp"
#include "infer/random.hpp"
#include "loop/charge_balance.hpp"

namespace helmwater::infer {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();

// The likelihood's power in every statistic: few members then carry some weight for any log (estimate).
constexpr double kFlatten = 0.3;
constexpr double kTailShare = 0.1;
// For naming, deviations are measured in units of the distance from the median to this tail of the invented logs.
constexpr double kTail = 0.03;
// A kind is named if its deviation is at least this share of the largest (estimate).
constexpr double kNamed = 0.7;

// Power of the likelihood under a conflict (structure_trials: coverage on loops of another structure).
constexpr double kPowerInConflict = 0.5;

// What a log says of a loop, as numbers that can be compared with those of other logs of the same schedule: how well the
// members explain it, ln of the mean of likelihood^kFlatten, or the mean of a trait of theirs with these weights.
struct Statistic {
  enum class What { ammonia_capacity, nitrite_capacity, ph, nitrogen, kit, fit, fit_of_channel, standing } what = What::fit;
  int which = 0;  // kit slot, channel
  bool low_only() const { return what == What::fit || what == What::fit_of_channel; }
};

// The first three make the answer; with `names` come those that say what is unlike.
constexpr std::size_t kFit = 0, kAmmoniaStep = 1, kNitriteStep = 2;
std::vector<Statistic> statistics_for(const std::vector<Observation>& used, bool names) {
  using What = Statistic::What;
  std::vector<Statistic> some{{What::fit, 0}, {What::ammonia_capacity, 0}, {What::nitrite_capacity, 0}};
  if (!names) return some;
  std::array<int, kChannels> of_channel{};
  std::map<int, int> of_slot;
  for (const Observation& o : used) {
    ++of_channel[static_cast<std::size_t>(o.channel)];
    if (o.kit_slot >= 0) ++of_slot[o.kit_slot];
  }
  if (of_channel[static_cast<std::size_t>(Channel::ph)] > 0) some.push_back({What::ph, 0});
  if (of_channel[static_cast<std::size_t>(Channel::nitrate)] > 0) some.push_back({What::nitrogen, 0});
  // One reading says next to nothing of its kit.
  for (const auto& [slot, n] : of_slot) {
    if (n > 1) some.push_back({What::kit, slot});
  }
  for (int c = 0; c < kChannels; ++c) {
    if (of_channel[static_cast<std::size_t>(c)] > 0) some.push_back({What::fit_of_channel, c});
  }
  return some;
}

struct Crowd {
  std::vector<Member> members;
  std::vector<std::vector<float>> met;      // [reading][member] value met by the test
  std::vector<std::vector<float>> trait;    // [statistic][member], of those that have one
};

// Members first … first + count of the seed's endless list, through the loop.
Crowd crowd_of(const Priors& priors, const loop::Timeline& timeline, const loop::Grid& grid, const std::vector<Observation>& used,
               const std::vector<Statistic>& statistics, std::uint64_t seed, int first, int count) {
  Crowd crowd;
  crowd.members.resize(static_cast<std::size_t>(count));
  crowd.met.assign(used.size(), std::vector<float>(static_cast<std::size_t>(count)));
  crowd.trait.assign(statistics.size(), std::vector<float>(static_cast<std::size_t>(count)));
  const Draws random(seed, 0x6c0f0000u);
  const MemberBlockFunctions& run = member_block_functions();
  const int blocks = (count + kBlockLanes - 1) / kBlockLanes;
  parallel_for(blocks, [&](int block) {
    const int from = block * kBlockLanes, lanes = std::min(kBlockLanes, count - from);
    std::vector<double> z(static_cast<std::size_t>(priors.dimensions()));
    for (int lane = 0; lane < lanes; ++lane) {
      for (std::size_t d = 0; d < z.size(); ++d) {
        z[d] = random.normal(static_cast<std::uint32_t>(first + from + lane), static_cast<std::uint32_t>(d));
      }
      crowd.members[static_cast<std::size_t>(from + lane)] = priors.member(z.data());
    }
    std::vector<BlockWater> waters(used.size());
    run.water_at_readings(timeline, grid, block_of(&crowd.members[static_cast<std::size_t>(from)], lanes), waters.data());
    for (int lane = 0; lane < lanes; ++lane) {
      const auto m = static_cast<std::size_t>(from + lane);
      double ammonia = 0, nitrite = 0, ph = 0, nitrogen = 0;
      int ph_readings = 0;
      for (std::size_t k = 0; k < used.size(); ++k) {
        const Observation& o = used[k];
        const double met = met_value(o, met_of(waters[k], lane), crowd.members[m].nitrate_efficiency);
        crowd.met[k][m] = std::isfinite(met) ? static_cast<float>(met) : 0.0f;
        const auto at = [&](const Lanes& l) { return std::max(static_cast<double>(l.v[lane]), 0.0); };
        const loop::State<Lanes>& y = waters[k].y;
        ammonia += std::log(at(y.r_a) + 1e-6);
        nitrite += std::log(at(y.r_n) + 1e-6);
        nitrogen += std::log(at(y.tan) + at(y.no2) + at(y.no3) + 0.1);  // mg N/L; so that nearly none is not minus infinity
        if (o.channel == Channel::ph) {
          ph -= static_cast<double>(waters[k].ln_h.v[lane]) / loop::kLn10;
          ++ph_readings;
        }
      }
      const double n = static_cast<double>(used.size());
      for (std::size_t s = 0; s < statistics.size(); ++s) {
        double value = 0;
        switch (statistics[s].what) {
          case Statistic::What::ammonia_capacity: value = ammonia / n; break;
          case Statistic::What::nitrite_capacity: value = nitrite / n; break;
          case Statistic::What::ph: value = ph / std::max(ph_readings, 1); break;
          case Statistic::What::nitrogen: value = nitrogen / n; break;
          case Statistic::What::kit: value = crowd.members[m].kit_bias[static_cast<std::size_t>(statistics[s].which)]; break;
          default: break;
        }
        crowd.trait[s][m] = std::isfinite(value) ? static_cast<float>(value) : 0.0f;
      }
    }
  });
  return crowd;
}

// The statistics of every log: [log][statistic]. A log is the place of each reading in its form.
std::vector<std::vector<double>> measured(const std::vector<std::vector<int>>& logs, const std::vector<Observation>& used,
                                          const std::vector<ReadingForm>& forms, const std::vector<Statistic>& statistics,
                                          const Crowd& crowd) {
  // The readings as they could have been, each once, and which of them each log holds.
  std::vector<std::vector<Observation>> could(used.size());
  std::vector<std::vector<int>> which(logs.size(), std::vector<int>(used.size()));
  for (std::size_t k = 0; k < used.size(); ++k) {
    std::map<int, int> number;
    for (std::size_t j = 0; j < logs.size(); ++j) {
      const auto [found, fresh] = number.try_emplace(logs[j][k], static_cast<int>(could[k].size()));
      if (fresh) could[k].push_back(forms[k].at(logs[j][k]));
      which[j][k] = found->second;
    }
  }
  const std::size_t members = crowd.members.size();
  // ln likelihood by log, channel and member: what few channels there are keep it small.
  std::array<int, kChannels> row{};
  row.fill(-1);
  int rows = 0;
  for (const Observation& o : used) {
    int& r = row[static_cast<std::size_t>(o.channel)];
    if (r < 0) r = rows++;
  }
  const std::size_t stride = static_cast<std::size_t>(rows) * members;
  std::vector<float> sum(logs.size() * stride, 0.0f);
  const int blocks = static_cast<int>((members + kBlockLanes - 1) / kBlockLanes);
  parallel_for(blocks, [&](int block) {
    const std::size_t from = static_cast<std::size_t>(block) * kBlockLanes, lanes = std::min<std::size_t>(kBlockLanes, members - from);
    std::vector<float> table;
    for (std::size_t k = 0; k < used.size(); ++k) {
      table.resize(could[k].size() * kBlockLanes);
      for (std::size_t c = 0; c < could[k].size(); ++c) {
        const Observation& o = could[k][c];
        for (std::size_t lane = 0; lane < lanes; ++lane) {
          const Member& m = crowd.members[from + lane];
          const double bias = bias_of(o, m);
          const double value = log_likelihood(o, static_cast<double>(crowd.met[k][from + lane]), bias);
          table[c * kBlockLanes + lane] = std::isfinite(value) ? static_cast<float>(value) : -30.0f;
        }
      }
      const std::size_t at = static_cast<std::size_t>(row[static_cast<std::size_t>(used[k].channel)]) * members + from;
      for (std::size_t j = 0; j < logs.size(); ++j) {
        const float* add = &table[static_cast<std::size_t>(which[j][k]) * kBlockLanes];
        float* to = &sum[j * stride + at];
        for (std::size_t lane = 0; lane < lanes; ++lane) to[lane] += add[lane];
      }
    }
  });
  std::vector<std::vector<double>> out(logs.size(), std::vector<double>(statistics.size()));
  const double readings = static_cast<double>(used.size());
  parallel_for(static_cast<int>(logs.size()), [&](int log) {
    const auto j = static_cast<std::size_t>(log);
    const auto weights = [&](int from, int to, std::vector<double>& weight) {  // returns ln of their mean
      weight.assign(members, 0.0);
      double top = -kInfinity;
      for (std::size_t m = 0; m < members; ++m) {
        for (int r = from; r < to; ++r) weight[m] += static_cast<double>(sum[j * stride + static_cast<std::size_t>(r) * members + m]);
        top = std::max(top, weight[m]);
      }
      double total = 0;
      for (double& w : weight) total += w = std::exp(kFlatten * (w - top));
      for (double& w : weight) w /= total;
      return kFlatten * top + std::log(total / static_cast<double>(members));
    };
    std::vector<double> weight, other;
    const double fit = weights(0, rows, weight);
    for (std::size_t s = 0; s < statistics.size(); ++s) {
      if (statistics[s].what == Statistic::What::fit) {
        out[j][s] = fit / readings;
      } else if (statistics[s].what == Statistic::What::fit_of_channel) {
        const int r = row[static_cast<std::size_t>(statistics[s].which)];
        out[j][s] = weights(r, r + 1, other) / readings;
      } else {
        double mean = 0;
        for (std::size_t m = 0; m < members; ++m) mean += weight[m] * static_cast<double>(crowd.trait[s][m]);
        out[j][s] = mean;
      }
    }
  });
  return out;
}

std::vector<double> of_statistic(const std::vector<std::vector<double>>& measured, std::size_t s) {
  std::vector<double> out;
  for (const auto& one : measured) out.push_back(one[s]);
  return out;
}

// Share of the logs that lie as far out, below: by rank, and within the lowest tenth by an exponential tail of their mean
// excess, so that one far beyond the others counts as further out than one just beyond.
std::vector<double> shares_below(const std::vector<double>& values) {
  std::vector<double> sorted = values, out;
  std::sort(sorted.begin(), sorted.end());
  const double n = static_cast<double>(sorted.size());
  const auto tail = static_cast<std::size_t>(kTailShare * n);
  const double edge = sorted[tail];
  double excess = 0;
  for (std::size_t i = 0; i < tail; ++i) excess += (edge - sorted[i]) / static_cast<double>(tail);
  for (const double v : values) {
    const auto [from, to] = std::equal_range(sorted.begin(), sorted.end(), v);  // equal ones share their places
    const double rank = (static_cast<double>(from - sorted.begin()) + static_cast<double>(to - sorted.begin())) / (2 * n);
    out.push_back(v < edge && excess > 0 ? static_cast<double>(tail) / n * std::exp(-(edge - v) / excess) : rank);
  }
  return out;
}

// The same at the nearer of both ends.
std::vector<double> shares_beyond(std::vector<double> values) {
  const std::vector<double> below = shares_below(values);
  for (double& v : values) v = -v;
  std::vector<double> out = shares_below(values);
  for (std::size_t i = 0; i < out.size(); ++i) out[i] = 2 * std::min(out[i], below[i]);
  return out;
}

std::vector<double> standardised(std::vector<double> values) {
  double mean = 0, square = 0;
  const double n = static_cast<double>(values.size());
  for (const double v : values) mean += v / n;
  for (const double v : values) square += (v - mean) * (v - mean) / n;
  for (double& v : values) v = (v - mean) / std::max(std::sqrt(square), 1e-12);
  return values;
}

// How high each log's readings of a channel stand among the others' at the same moments: distance from the median in robust
// sd (of normal noise: range of the middle half / 1.35, at least one interval), averaged over the middle half of the
// readings, so that single misreads do not count. Empty: no reading of the channel.
std::vector<double> standing(const std::vector<std::vector<int>>& logs, const std::vector<Observation>& used, Channel channel) {
  std::vector<std::vector<double>> scores(logs.size());
  for (std::size_t k = 0; k < used.size(); ++k) {
    if (used[k].channel != channel) continue;
    std::vector<int> places;
    for (const auto& log : logs) places.push_back(log[k]);
    std::sort(places.begin(), places.end());
    const auto at = [&](std::size_t quarter) { return static_cast<double>(places[quarter * (places.size() - 1) / 4]); };
    const double sd = std::max((at(3) - at(1)) / 1.35, 1.0);
    for (std::size_t j = 0; j < logs.size(); ++j) scores[j].push_back((logs[j][k] - at(2)) / sd);
  }
  if (scores.front().empty()) return {};
  std::vector<double> out;
  for (std::vector<double>& score : scores) {
    std::sort(score.begin(), score.end());
    const std::size_t cut = score.size() / 4;
    double sum = 0;
    for (std::size_t k = cut; k < score.size() - cut; ++k) sum += score[k];
    out.push_back(sum / static_cast<double>(score.size() - 2 * cut));
  }
  return out;
}

// How unlike the others each log is: Fisher's sum of how badly the members explain it, how far out its pace lies, both steps
// together, and how far out the readings of the channel that stands out most.
std::vector<double> unlikeness(const std::vector<std::vector<double>>& measured, const std::vector<std::vector<double>>& standings) {
  const std::vector<double> ammonia = standardised(of_statistic(measured, kAmmoniaStep));
  std::vector<double> pace = standardised(of_statistic(measured, kNitriteStep)), standing(pace.size(), 0.0);
  for (std::size_t j = 0; j < pace.size(); ++j) pace[j] += ammonia[j];
  for (const auto& one : standings) {
    const std::vector<double> share = shares_beyond(one);
    for (std::size_t j = 0; j < share.size(); ++j) standing[j] = std::min(standing[j], std::log(share[j]));
  }
  const std::vector<double> fit = shares_below(of_statistic(measured, kFit)), far = shares_beyond(pace), stands = shares_below(standing);
  std::vector<double> sum;
  for (std::size_t j = 0; j < pace.size(); ++j) sum.push_back(-std::log(fit[j]) - std::log(far[j]) - std::log(stands[j]));
  return sum;
}

// How far the first lies from the middle of all, its sign kept: 1 is the tail's edge.
double deviation_of_first(std::vector<double> values, bool low_only) {
  const double first = values.front();
  std::sort(values.begin(), values.end());
  const auto at = [&](double share) { return values[static_cast<std::size_t>(share * static_cast<double>(values.size() - 1))]; };
  const double middle = at(0.5);
  if (first < middle) return (first - middle) / std::max(middle - at(kTail), 1e-12);
  return low_only ? 0 : (first - middle) / std::max(at(1 - kTail) - middle, 1e-12);
}

void name_kind(const std::vector<Statistic>& statistics, const std::vector<double>& deviation, const std::vector<KitSlot>& slots,
               Conflict& conflict) {
  double top = 0;
  for (const double d : deviation) top = std::max(top, std::abs(d));
  // What the water does comes before how well single tests fit: the first says what to look for.
  const auto best_of = [&](bool fits) {
    int best = -1;
    for (std::size_t s = 0; s < statistics.size(); ++s) {
      if (statistics[s].what == Statistic::What::fit) continue;
      if ((statistics[s].what == Statistic::What::fit_of_channel) != fits || std::abs(deviation[s]) < kNamed * top) continue;
      if (best < 0 || std::abs(deviation[s]) > std::abs(deviation[static_cast<std::size_t>(best)])) best = static_cast<int>(s);
    }
    return best;
  };
  int best = best_of(false);
  if (best < 0) best = best_of(true);
  if (best < 0) {
    conflict.kind = Conflict::Kind::unexplained;
    return;
  }
  const Statistic& s = statistics[static_cast<std::size_t>(best)];
  const bool low = deviation[static_cast<std::size_t>(best)] < 0;
  const auto of_channel = [&](Channel channel) {
    conflict.channel = channel;
    conflict.kind = channel == Channel::ph ? Conflict::Kind::ph_unlike : Conflict::Kind::vial_unlike;
  };
  switch (s.what) {
    case Statistic::What::ammonia_capacity: conflict.kind = low ? Conflict::Kind::slower_ammonia_step : Conflict::Kind::faster; break;
    case Statistic::What::nitrite_capacity: conflict.kind = low ? Conflict::Kind::slower_nitrite_step : Conflict::Kind::faster; break;
    case Statistic::What::ph: conflict.kind = Conflict::Kind::ph_unlike; break;
    case Statistic::What::nitrogen: conflict.kind = Conflict::Kind::nitrogen_unlike; break;
    case Statistic::What::kit: of_channel(slots[static_cast<std::size_t>(s.which)].channel); break;
    case Statistic::What::fit_of_channel: of_channel(static_cast<Channel>(s.which)); break;
    case Statistic::What::standing:
      switch (static_cast<Channel>(s.which)) {
        case Channel::ammonia: conflict.kind = low ? Conflict::Kind::faster : Conflict::Kind::slower_ammonia_step; break;
        case Channel::nitrite: conflict.kind = low ? Conflict::Kind::unexplained : Conflict::Kind::slower_nitrite_step; break;
        case Channel::nitrate: conflict.kind = Conflict::Kind::nitrogen_unlike; break;
        default: of_channel(static_cast<Channel>(s.which)); break;
      }
      break;
    case Statistic::What::fit: break;
  }
}

std::string text_of(const Conflict& conflict, double temperature) {
  using Kind = Conflict::Kind;
  const std::string at = fmt::format("nearly every loop the model knows of at {:.0f} °C (fewer than 1 in 100)", temperature);
  const std::string halved = " The readings count half as much until this is cleared up, so that the ranges are wider.";
  switch (conflict.kind) {
    case Kind::slower_ammonia_step:
      return "Ammonia goes slower than in " + at +
             ": check the thermometer, disinfectant in new water, the amounts dosed and the age of the reagents." + halved;
    case Kind::slower_nitrite_step:
      return "Nitrite goes slower than in " + at +
             ": check the thermometer, disinfectant in new water, and whether nitrite is far off the top of the chart (dilute the "
             "sample)." + halved;
    case Kind::faster:
      return "Faster than " + at +
             ": check the thermometer, the volume, and whether ripe media or a second filter is missing from loop.toml." + halved;
    case Kind::ph_unlike:
      return "The pH is unlike that of " + at +
             ": check the pH test against another, and the source water's pH and alkalinity in loop.toml." + halved;
    case Kind::nitrogen_unlike:
      return "The nitrogen in the water does not add up to what was given, unlike in " + at +
             ": check the volume, the amounts dosed, the source water's nitrate, and what was not logged." + halved;
    case Kind::vial_unlike:
      return fmt::format("The {} readings are unlike those of {}: check the age of the reagents and how the test is read, or repeat it "
                         "with another kit.", to_text(conflict.channel), at) + halved;
    case Kind::unexplained:
      return "These readings are unlike those of " + at +
             ", and no single thing explains it: check the log for wrong dates, units and amounts." + halved;
    case Kind::none: return "";
  }
  return "";
}

}  // namespace

const char* to_text(Conflict::Kind kind) {
  switch (kind) {
    case Conflict::Kind::none: return "none";
    case Conflict::Kind::slower_ammonia_step: return "slower_ammonia_step";
    case Conflict::Kind::slower_nitrite_step: return "slower_nitrite_step";
    case Conflict::Kind::faster: return "faster";
    case Conflict::Kind::ph_unlike: return "ph_unlike";
    case Conflict::Kind::nitrogen_unlike: return "nitrogen_unlike";
    case Conflict::Kind::vial_unlike: return "vial_unlike";
    case Conflict::Kind::unexplained: return "unexplained";
  }
  return "";
}

double conflict_power(const Conflict& conflict) { return conflict.said() ? kPowerInConflict : 1; }

Conflict conflict_of(const records::LoopLog& log, const Evidence& evidence, const std::vector<Observation>& used,
                     const Priors& priors, const loop::Timeline& timeline, const loop::Grid& grid, const ConflictOptions& options) {
  Conflict conflict;
  conflict.readings = static_cast<int>(used.size());
  if (used.empty()) return conflict;
  std::vector<ReadingForm> forms;
  for (const Observation& o : used) forms.emplace_back(o, log);
  const Draws random(options.seed, 0x6c0f0001u);

  const auto look = [&](int invented, bool names) {
    const std::vector<Statistic> statistics = statistics_for(used, names);
    const Crowd crowd = crowd_of(priors, timeline, grid, used, statistics, options.seed, 0, options.members);
    const Crowd others = crowd_of(priors, timeline, grid, used, statistics, options.seed, options.members, invented);
    std::vector<std::vector<int>> logs(static_cast<std::size_t>(invented) + 1, std::vector<int>(used.size(), 0));
    for (std::size_t j = 0; j < others.members.size(); ++j) {
      const Member& m = others.members[j];
      for (std::size_t k = 0; k < used.size(); ++k) {
        const Observation& o = used[k];
        const double bias = bias_of(o, m);
        const auto i = static_cast<std::uint32_t>(j), d = static_cast<std::uint32_t>(2 * k);
        const double shown = draw_shown(o, static_cast<double>(others.met[k][j]), bias, random.uniform(i, d), random.uniform(i, d + 1));
        logs[j + 1][k] = forms[k].place_of(shown);
      }
    }
    const auto values = measured(logs, used, forms, statistics, crowd);
    // The real log is one of the crowd: its rank among all is as likely to be any.
    std::vector<std::vector<double>> standings;
    std::vector<Channel> standing_of;
    for (int c = 0; c < kChannels; ++c) {
      std::vector<double> one = standing(logs, used, static_cast<Channel>(c));
      if (one.empty()) continue;
      standings.push_back(std::move(one));
      standing_of.push_back(static_cast<Channel>(c));
    }
    const std::vector<double> unlike = unlikeness(values, standings);
    conflict.p = static_cast<double>(std::count_if(unlike.begin(), unlike.end(), [&](double u) { return u >= unlike.front(); })) /
                 static_cast<double>(unlike.size());
    if (!names) return;
    std::vector<double> real;
    for (std::size_t s = 0; s < statistics.size(); ++s) {
      real.push_back(deviation_of_first(of_statistic(values, s), statistics[s].low_only()));
    }
    std::vector<Statistic> all = statistics;
    for (std::size_t c = 0; c < standings.size(); ++c) {
      all.push_back({Statistic::What::standing, static_cast<int>(standing_of[c])});
      real.push_back(deviation_of_first(standings[c], false));
    }
    name_kind(all, real, evidence.slots, conflict);
  };
  look(options.screen, false);
  if (conflict.p <= options.look_closer) look(options.refined, true);
  if (conflict.said()) {
    double mean = 0;
    for (const Observation& o : used) mean += loop::interpolate(timeline.temperature_c, o.day) / static_cast<double>(used.size());
    conflict.text = text_of(conflict, mean);
  }
  return conflict;
}

}  // namespace helmwater::infer
