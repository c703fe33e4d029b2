// SPDX-License-Identifier: Apache-2.0
#include "steer/track_record.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <cmath>
#include <fstream>
#include <limits>
#include <set>

#include "infer/distributions.hpp"
#include "infer/timeline_from_log.hpp"
#include "infer/windows.hpp"
#include "records/fingerprint.hpp"

namespace helmwater::steer {
namespace {

namespace fs = std::filesystem;
using infer::Observation;

constexpr std::size_t kMostFiles = 500;
constexpr int kFewestToJudge = 20;

double binomial_cdf(int k, int n, double p) {
  double sum = 0;
  for (int i = 0; i <= k; ++i) {
    sum += std::exp(std::lgamma(n + 1.0) - std::lgamma(i + 1.0) - std::lgamma(n - i + 1.0) + i * std::log(p) + (n - i) * std::log1p(-p));
  }
  return std::min(sum, 1.0);
}

bool is_linear(const Observation& o) { return o.channel == infer::Channel::ph || o.shape == records::Seen::Shape::normal; }
double scaled(const Observation& o, double value) {
  if (is_linear(o)) return value;
  return value <= 0 ? -INFINITY : std::log(value + o.floor);
}
// Where an interval lies, as one number: its middle, or its one end.
double middle(const Observation& o) {
  const double low = scaled(o, o.low), high = scaled(o, o.high);
  if (std::isinf(low) && std::isinf(high)) return 0;
  return std::isinf(low) ? high : std::isinf(high) ? low : (low + high) / 2;
}

// The same again: normal around the last reading of the test, as wide as this log's changes from reading to reading have been
// and at least two readings' noise, with the share of misreads spread over everything.
std::optional<double> persistence_of(const std::vector<Observation>& all, const Observation& o, records::Instant as_of) {
  const Observation* last = nullptr;
  double square = 0;
  int changes = 0;
  for (const Observation& earlier : all) {
    if (earlier.channel != o.channel || earlier.when > as_of) continue;
    if (last != nullptr) {
      const double change = middle(earlier) - middle(*last);
      square += change * change;
      ++changes;
    }
    last = &earlier;
  }
  if (last == nullptr) return std::nullopt;
  const double noise = std::sqrt(2.0) * std::max(infer::noise_on_scale(o), 0.05);
  const double sd = changes == 0 ? 2 * noise : std::max(noise, std::sqrt(square / changes));
  const double centre = middle(*last), low = scaled(o, o.low), high = scaled(o, o.high);
  const double share = infer::normal_cdf((high - centre) / sd) - infer::normal_cdf((low - centre) / sd);
  return (1 - o.misread) * share + o.misread * std::min(o.misread_likelihood, 1.0);
}

TrackTally tally(const std::vector<const TrackCase*>& cases) {
  TrackTally t;
  double ours = 0, same = 0;
  for (const TrackCase* c : cases) {
    ++t.n;
    t.in_50 += c->hindcast.rank > 0.25 && c->hindcast.rank < 0.75;
    t.in_90 += c->hindcast.rank > 0.05 && c->hindcast.rank < 0.95;
    if (!c->persistence) continue;
    ++t.compared;
    ours += std::log(std::max(c->hindcast.probability, 1e-12));
    same += std::log(std::max(*c->persistence, 1e-12));
  }
  t.share_50 = binomial_range(t.in_50, t.n);
  t.share_90 = binomial_range(t.in_90, t.n);
  if (t.compared > 0) {
    t.log_score = ours / t.compared;
    t.persistence_log_score = same / t.compared;
  }
  return t;
}

std::string in_words(const TrackRecord& r) {
  const TrackTally& t = r.near;
  if (t.n == 0) return "No reading has come within three days after an earlier outlook yet: nothing can be said of how they did.";
  std::string text = fmt::format("Of {} later reading{}, looked at up to three days ahead, {} ({:.0f} %) fell into the range given for 9 in 10 "
                                 "and {} ({:.0f} %) into that for 1 in 2.",
                                 t.n, t.n == 1 ? "" : "s", t.in_90, 100.0 * t.in_90 / t.n, t.in_50, 100.0 * t.in_50 / t.n);
  if (t.n < kFewestToJudge) {
    text += fmt::format(" That is too few to judge by: chance alone would let the true share for 9 in 10 be anything from {:.0f} to {:.0f} %.",
                        100 * t.share_90.low, 100 * t.share_90.high);
  } else if (t.share_90.high < 0.9) {
    text += " That is fewer than it should be, and more than chance explains: take the ranges as too narrow for this water.";
  } else if (t.share_90.low > 0.9) {
    text += " That is more than it should be: the ranges seem wider than they need be.";
  } else {
    text += fmt::format(" That is as it should be, as far as {} readings can tell (true share {:.0f} to {:.0f} %).", t.n, 100 * t.share_90.low,
                        100 * t.share_90.high);
  }
  if (t.compared >= kFewestToJudge && t.log_score) {
    const double gain = *t.log_score - *t.persistence_log_score;
    text += gain > 0.02 ? fmt::format(" They said more than \"it stays as it is\" would have: what was read had been thought {:.1f} times as likely.",
                                      std::exp(gain))
            : gain < -0.02 ? " They said less than \"it stays as it is\" would have."
                           : " They said about as much as \"it stays as it is\" would have.";
  }
  return text;
}

// ---- kept cases: numbers alone, what is text comes from the log by the entry's place in it

constexpr const char kMagic[] = "helmwater track 1";

std::string key_of(const records::LoopLog& log, const TrackOptions& options) {
  records::Fingerprint sum;
  infer::add_program(sum);
  sum.add(static_cast<double>(options.members));
  sum.add(log.loop);
  for (const records::Entry& e : log.entries) sum.add(e);
  return sum.hex();
}

std::optional<std::vector<TrackCase>> kept(const fs::path& file, const records::LoopLog& log) {
  std::ifstream in(file);
  std::string head;
  std::size_t count = 0;
  if (!std::getline(in, head) || head != kMagic || !(in >> count) || count > 10'000'000) return std::nullopt;
  std::vector<TrackCase> cases;
  const auto number = [&](double& to) {
    std::string word;  // operator>> reads no "inf"
    if (!(in >> word)) return false;
    char* end = nullptr;
    to = std::strtod(word.c_str(), &end);
    return *end == '\0';
  };
  for (std::size_t i = 0; i < count; ++i) {
    std::size_t entry = 0;
    long long as_of = 0;
    double persistence = -1;
    TrackCase c;
    infer::HindcastCase& h = c.hindcast;
    if (!(in >> entry >> as_of) || entry >= log.entries.size()) return std::nullopt;
    for (double* to : {&h.low, &h.high, &h.predicted.p05, &h.predicted.p25, &h.predicted.p50, &h.predicted.p75, &h.predicted.p95, &h.probability,
                       &h.lead_days, &h.rank, &persistence}) {
      if (!number(*to)) return std::nullopt;
    }
    const records::Entry& e = log.entries[entry];
    c.loop = log.loop.name;
    h.as_of = records::Instant(records::Instant::duration(as_of));
    h.when = e.when;
    h.line = e.line;
    h.what = e.what_text;
    h.value = e.value_text;
    if (persistence >= 0) c.persistence = persistence;
    cases.push_back(std::move(c));
  }
  std::string end;
  if (!(in >> end) || end != "end") return std::nullopt;
  return cases;
}

void remove_oldest(const fs::path& folder) {
  std::error_code problem;
  std::vector<std::pair<fs::file_time_type, fs::path>> files;
  for (fs::directory_iterator i(folder, problem), end; !problem && i != end; i.increment(problem)) {
    std::error_code ignored;
    if (i->path().extension() == ".track") files.emplace_back(fs::last_write_time(i->path(), ignored), i->path());
  }
  if (files.size() <= kMostFiles) return;
  std::sort(files.begin(), files.end());
  files.resize(files.size() - kMostFiles);
  for (const auto& [when, file] : files) {
    std::error_code ignored;
    fs::remove(file, ignored);
  }
}

void keep(const fs::path& folder, const std::string& key, const std::vector<TrackCase>& cases, const records::LoopLog& log) {
  static std::atomic<unsigned> number{0};
  std::map<int, std::size_t> place;  // of a line
  for (std::size_t i = 0; i < log.entries.size(); ++i) place[log.entries[i].line] = i;
  std::string text = fmt::format("{}\n{}\n", kMagic, cases.size());
  for (const TrackCase& c : cases) {
    const infer::HindcastCase& h = c.hindcast;
    text += fmt::format("{} {} {} {} {} {} {} {} {} {} {} {} {}\n", place[h.line], h.as_of.time_since_epoch().count(), h.low, h.high,
                        h.predicted.p05, h.predicted.p25, h.predicted.p50, h.predicted.p75, h.predicted.p95, h.probability, h.lead_days, h.rank,
                        c.persistence.value_or(-1));
  }
  text += "end\n";
  std::error_code problem;
  fs::create_directories(folder, problem);
  if (problem) return;
  const fs::path scratch = folder / fmt::format(".track-{}-{}", ::getpid(), number++);
  bool whole = false;
  {
    std::ofstream out(scratch, std::ios::binary);
    out << text;
    out.close();
    whole = out.good();
  }
  if (whole) fs::rename(scratch, folder / (key + ".track"), problem);
  if (!whole || problem) fs::remove(scratch, problem);
  remove_oldest(folder);
}

}  // namespace

Range binomial_range(int hits, int n) {
  Range r;
  if (n <= 0) return r;
  // P(X >= hits) at the lower end and P(X <= hits) at the upper are 0.025 each.
  const auto where = [&](auto below) {
    double low = 0, high = 1;
    for (int i = 0; i < 60; ++i) {
      const double p = (low + high) / 2;
      (below(p) ? low : high) = p;
    }
    return (low + high) / 2;
  };
  if (hits > 0) r.low = where([&](double p) { return 1 - binomial_cdf(hits - 1, n, p) < 0.025; });
  if (hits < n) r.high = where([&](double p) { return binomial_cdf(hits, n, p) > 0.025; });
  return r;
}

TrackRecord track_record_of(std::vector<TrackCase> cases) {
  TrackRecord r;
  r.cases = std::move(cases);
  std::stable_sort(r.cases.begin(), r.cases.end(),
                   [](const TrackCase& a, const TrackCase& b) { return a.hindcast.when < b.hindcast.when; });
  std::set<std::string> loops;
  std::vector<const TrackCase*> near, far;
  std::map<std::string, std::vector<const TrackCase*>> near_by, far_by;
  for (const TrackCase& c : r.cases) {
    loops.insert(c.loop);
    if (!r.since || c.hindcast.as_of < *r.since) r.since = c.hindcast.as_of;
    const bool is_near = c.hindcast.lead_days <= kNearDays;
    (is_near ? near : far).push_back(&c);
    (is_near ? near_by : far_by)[c.hindcast.what].push_back(&c);
  }
  r.loops.assign(loops.begin(), loops.end());
  r.near = tally(near);
  r.far = tally(far);
  for (const auto& [test, some] : near_by) r.near_by_test[test] = tally(some);
  for (const auto& [test, some] : far_by) r.far_by_test[test] = tally(some);
  r.text = in_words(r);
  return r;
}

std::vector<TrackCase> track_cases_of(const records::LoopLog& log, const TrackOptions& options,
                                      const std::function<void(int, int)>& progress) {
  const std::string key = options.cache ? key_of(log, options) : std::string();
  if (options.cache) {
    if (auto found = kept(*options.cache / (key + ".track"), log)) return *found;
  }
  infer::HindcastOptions wanted;
  wanted.every_days = kNearDays;
  wanted.horizon_days = kFarDays;
  wanted.members = options.members;
  wanted.checkpoints = options.checkpoints;
  infer::Hindcast hindcast = infer::hindcast_of(log, wanted, progress);
  std::vector<TrackCase> cases;
  if (hindcast.cases.empty()) return cases;
  const std::vector<Observation> all =
      infer::evidence_from_log(log, infer::start_of(log, log.entries.front().when)).observations;
  for (infer::HindcastCase& h : hindcast.cases) {
    const auto o = std::find_if(all.begin(), all.end(), [&](const Observation& one) { return one.line == h.line; });
    TrackCase c;
    c.loop = log.loop.name;
    if (o != all.end()) c.persistence = persistence_of(all, *o, h.as_of);
    c.hindcast = std::move(h);
    cases.push_back(std::move(c));
  }
  if (options.cache) keep(*options.cache, key, cases, log);
  return cases;
}

}  // namespace helmwater::steer
