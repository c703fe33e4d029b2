// SPDX-License-Identifier: Apache-2.0
#include "infer/history.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <sstream>

#include "infer/forecast.hpp"
#include "infer/posterior.hpp"
#include "infer/timeline_from_log.hpp"
#include "infer/windows.hpp"
#include "records/fingerprint.hpp"

namespace helmwater::infer {
namespace {

// A start-up that takes longer is not learnt from: it is sampled in one piece, since later windows forget the seed, d.
constexpr double kLongestStartUp = 120;
constexpr char kHead[] = "helmwater start-up 1";

std::string to_text(const std::optional<FinishedStartUp>& finished) {
  if (!finished) return fmt::format("{}\nno\n", kHead);
  const LoopSummary& s = finished->summary;
  std::string text = fmt::format("{}\n{} {} {:a}\n", kHead, finished->when.time_since_epoch().count(), s.names.size(), s.effective);
  for (const std::string& name : s.names) text += name + "\n";
  for (const double v : s.mean) text += fmt::format("{:a}\n", v);
  for (const double v : s.covariance.reshaped()) text += fmt::format("{:a}\n", v);
  return text;
}

// False: the text is not whole.
bool from_text(const std::string& text, std::optional<FinishedStartUp>& finished) {
  std::istringstream in(text);
  std::string line;
  if (!std::getline(in, line) || line != kHead || !std::getline(in, line)) return false;
  finished.reset();
  if (line == "no") return true;
  std::istringstream first(line);
  records::Instant::rep when = 0;
  std::size_t count = 0;
  std::string number;
  if (!(first >> when >> count >> number) || count > 1000) return false;
  FinishedStartUp f;
  f.when = records::Instant(records::Instant::duration(when));
  f.summary.effective = std::strtod(number.c_str(), nullptr);
  for (std::size_t i = 0; i < count; ++i) {
    if (!std::getline(in, line)) return false;
    f.summary.names.push_back(line);
  }
  const auto n = static_cast<Eigen::Index>(count);
  f.summary.mean.resize(n);
  f.summary.covariance.resize(n, n);
  const auto read = [&](double& value) {
    if (!std::getline(in, line)) return false;
    char* end = nullptr;
    value = std::strtod(line.c_str(), &end);
    return end != line.c_str() && std::isfinite(value);
  };
  for (double& v : f.summary.mean) {
    if (!read(v)) return false;
  }
  for (Eigen::Index i = 0; i < n * n; ++i) {
    if (!read(f.summary.covariance.data()[i])) return false;
  }
  finished = std::move(f);
  return true;
}

std::optional<FinishedStartUp> look_at(const records::LoopLog& log, records::Instant when, const HistoryOptions& options) {
  PosteriorOptions wanted;
  wanted.as_of = when;
  wanted.seed = options.seed;
  wanted.members = options.members;
  wanted.effective_wanted = std::min(1100.0, 0.9 * options.members);
  const records::LoopLog known = log_until(log, when);
  const Posterior posterior = posterior_in_window(known, wanted, nullptr);
  if (posterior.readings_used < kFinishedReadings) return std::nullopt;
  const Forecast f = forecast(known, posterior, 0, false);
  double cleared = 0;
  for (std::size_t m = 0; m < f.weight.size(); ++m) {
    if (f.dates[m].nitrite_first_clear <= f.as_of_day) cleared += f.weight[m];
  }
  if (cleared < kFinishedProbability) return std::nullopt;

  FinishedStartUp finished;
  finished.when = when;
  LoopSummary& s = finished.summary;
  s.effective = posterior.draws.effective;
  std::vector<Eigen::Index> rows;
  const std::vector<std::string>& names = posterior.priors->names();
  for (std::size_t k = 0; k < names.size(); ++k) {
    std::string shared = shared_name(known.loop, posterior.evidence.slots, names[k], posterior.evidence.people);
    if (shared.empty() || std::find(s.names.begin(), s.names.end(), shared) != s.names.end()) continue;
    s.names.push_back(std::move(shared));
    rows.push_back(static_cast<Eigen::Index>(k));
  }
  const Eigen::MatrixXd z = posterior.draws.z(rows, Eigen::all);
  const Eigen::Map<const Eigen::VectorXd> weight(posterior.draws.weight.data(), static_cast<Eigen::Index>(posterior.draws.weight.size()));
  s.mean = z * weight;
  const Eigen::MatrixXd off = z.colwise() - s.mean;
  s.covariance = off * weight.asDiagonal() * off.transpose();
  return finished;
}

bool is_copy(const records::LoopLog& a, const records::LoopLog& b) {
  const auto start = [](const records::LoopLog& log) { return start_of(log, records::Instant::min()); };
  return a.loop.name == b.loop.name && start(a) == start(b);
}

}  // namespace

std::vector<records::Instant> looks(const records::LoopLog& log, records::Instant as_of) {
  std::vector<records::Instant> moments;
  bool risen = false;
  int clear = 0, next = 2;
  std::optional<records::Instant> last;
  for (const records::Entry& e : log.entries) {
    if (e.when > as_of) break;
    last = e.when;
    const auto* reading = std::get_if<records::Reading>(&e.body);
    if (reading == nullptr || reading->test != records::Test::nitrite) continue;
    // A plain number counts as zero below a quarter mg/L as the ion, as in the dates.
    const double quarter = 0.25 * records::to_standard_factor(records::Test::nitrite, records::Basis::no2);
    const double factor = records::to_standard_factor(records::Test::nitrite, reading->basis);
    const bool zero = reading->seen.shape == records::Seen::Shape::interval ? reading->seen.low <= 0
                                                                            : reading->seen.centre * factor < quarter;
    risen = risen || !zero;
    if (!risen || !zero || ++clear < next) continue;
    moments.push_back(e.when);
    next *= 2;
  }
  if (clear > 0 && (moments.empty() || *last > moments.back())) moments.push_back(*last);
  const records::Instant start = start_of(log, records::Instant::min());
  std::erase_if(moments, [&](records::Instant when) { return records::days_between(start, when) > kLongestStartUp; });
  return moments;
}

std::optional<FinishedStartUp> finished_by(const records::LoopLog& log, records::Instant as_of, const HistoryOptions& options) {
  const std::vector<records::Instant> moments = looks(log, as_of);
  if (moments.empty()) return std::nullopt;
  Checkpoints mine;
  Checkpoints& checkpoints = options.checkpoints == nullptr ? mine : *options.checkpoints;
  records::Fingerprint sum;
  sum.add("start-up");
  add_program(sum);
  sum.add(static_cast<double>(options.seed));
  sum.add(static_cast<double>(options.members));
  sum.add(log.loop);
  std::size_t entry = 0;
  for (const records::Instant when : moments) {
    for (; entry < log.entries.size() && log.entries[entry].when <= when; ++entry) sum.add(log.entries[entry]);
    const std::string key = sum.hex();
    std::optional<FinishedStartUp> finished;
    const auto kept = checkpoints.find_text(key);
    if (!kept || !from_text(*kept, finished)) {
      finished = look_at(log, when, options);
      checkpoints.keep_text(key, to_text(finished));
    }
    if (finished) return finished;
  }
  return std::nullopt;
}

std::shared_ptr<const History> history_of(const records::LoopLog& own, const std::vector<EarlierLoop>& others,
                                          records::Instant as_of, const HistoryOptions& options) {
  struct Found {
    const records::LoopLog* log;
    FinishedStartUp start_up;
  };
  std::vector<std::pair<records::Instant, const records::LoopLog*>> candidates;  // by their first look
  std::vector<const records::LoopLog*> seen{&own};
  for (const EarlierLoop& other : others) {
    const records::LoopLog& log = *other.log;
    if (std::any_of(seen.begin(), seen.end(), [&](const records::LoopLog* one) { return is_copy(*one, log); })) continue;
    seen.push_back(&log);
    const std::vector<records::Instant> moments = looks(log, as_of);
    if (!moments.empty()) candidates.emplace_back(moments.front(), &log);
  }
  std::stable_sort(candidates.begin(), candidates.end(), [](const auto& a, const auto& b) { return a.first > b.first; });
  if (candidates.size() > kMostLookedAt) candidates.resize(kMostLookedAt);
  std::vector<Found> found;
  for (const auto& [when, log] : candidates) {
    if (candidates.size() < kFewestLoops || found.size() == kMostLoops) break;
    if (auto finished = finished_by(*log, as_of, options)) found.push_back({log, std::move(*finished)});
  }
  std::stable_sort(found.begin(), found.end(), [](const Found& a, const Found& b) { return a.start_up.when < b.start_up.when; });
  auto history = std::make_shared<History>();
  history->named = true;
  if (found.size() < kFewestLoops) {
    history->text = fmt::format("Nothing is taken from earlier start-ups of yours: fewer than {} were finished by then.", kFewestLoops);
    return history;
  }
  for (const Found& one : found) history->of.push_back(one.log->loop.name);
  std::vector<LoopSummary> summaries;
  records::Fingerprint sum;
  for (const Found& one : found) {
    summaries.push_back(one.start_up.summary);
    sum.add(to_text(one.start_up));
  }
  auto learned = std::make_shared<Learned>(pool(summaries, shares_of_handbook()));
  learned->key = sum.hex();
  history->text = fmt::format("Based on {} earlier start-ups of yours.", learned->loops);
  history->learned = std::move(learned);
  return history;
}

}  // namespace helmwater::infer
