// SPDX-License-Identifier: Apache-2.0
#include "infer/doubts.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "infer/predict.hpp"
#include "infer/timeline_from_log.hpp"
#include "infer/unlogged.hpp"

namespace helmwater::infer {
namespace {

constexpr double kEffectiveWanted = 1000;
// A deed that is more likely forgotten in the log than not done.
constexpr double kAskedAbout = 0.5;
// A reading that is more likely a misread than not.
constexpr double kProbablyMisread = 0.5;

void add_misreads(const records::LoopLog& log, const Posterior& posterior, std::vector<records::Doubt>& doubts) {
  std::vector<int> lines;
  for (const Carried* c = posterior.carried.get(); c != nullptr; c = c->before.get()) {
    lines.insert(lines.end(), c->misread_lines.begin(), c->misread_lines.end());
  }
  const std::vector<int> here = misread_lines(log, posterior);
  lines.insert(lines.end(), here.begin(), here.end());
  std::sort(lines.begin(), lines.end());
  for (const Observation& o : posterior.evidence.observations) {
    if (!std::binary_search(lines.begin(), lines.end(), o.line)) continue;
    doubts.push_back({o.line, "surprising_reading",
                      std::string("This ") + to_text(o.channel) +
                          " reading does not fit the others; it counts little. Repeat the test if you can."});
  }
}

void add_unmixed(const Posterior& posterior, std::vector<records::Doubt>& doubts) {
  for (const Observation& o : posterior.evidence.observations) {
    if (o.when > posterior.as_of || !o.unmixed) continue;
    doubts.push_back({o.line, "sampled_before_mixed",
                      std::string("This ") + to_text(o.channel) +
                          " reading came so soon after a dose that it may not be mixed; it counts less. Wait for about three "
                          "turnovers of the water."});
  }
}

}  // namespace

std::vector<int> misread_lines(const records::LoopLog& log, const Posterior& posterior) {
  const std::vector<Observation> used = posterior.readings_in_window();
  const std::size_t members = posterior.draws.weight.size();
  std::vector<float> wrong(used.size() * members);  // probability that reading k was a misread, given member m
  each_predicted_reading(log, posterior, used, [&](std::size_t k, std::size_t m, double met, double bias) {
    const double total = std::exp(log_likelihood(used[k], met, bias));
    wrong[k * members + m] = static_cast<float>(std::min(used[k].misread * used[k].misread_likelihood / total, 1.0));
  });
  std::vector<int> lines;
  for (std::size_t k = 0; k < used.size(); ++k) {
    double probability = 0;
    for (std::size_t m = 0; m < members; ++m) probability += posterior.draws.weight[m] * wrong[k * members + m];
    // A reading its reader doubted is expected to be wrong half the time; it needs more.
    if (probability >= std::max(kProbablyMisread, 1.2 * used[k].misread)) lines.push_back(used[k].line);
  }
  return lines;
}

std::vector<records::Doubt> doubts_of(const records::LoopLog& log, const Posterior& posterior) {
  std::vector<records::Doubt> doubts;
  if (posterior.conflict.said()) doubts.push_back({std::nullopt, "unlike_any_loop", posterior.conflict.text});
  if (uses_of(log).unknown_feed) {
    doubts.push_back({std::nullopt, "feed_not_logged",
                      "Fish are in but no feed was ever logged: an unknown steady feed is assumed, which makes every range "
                      "wide. Log what you feed."});
  }
  const Unlogged unlogged = unlogged_in(log, posterior.start, posterior.as_of,
                                        window_start(posterior.start, posterior.carried.get()));
  if (unlogged.supply == Supply::certain) {
    doubts.push_back({std::nullopt, "no_ammonia_logged",
                      "The vials show ammonia or nitrite, but nothing in the log brings any: an unknown first dose and a steady "
                      "unknown supply are assumed, which makes every range wide. Log what was given."});
  }
  for (const Suspected& s : suspected_by(log, posterior)) {
    if (s.probability < kAskedAbout) continue;
    const std::string likely = fmt::format("(chance {:.0f} in 100)", std::min(std::round(100 * s.probability), 99.0));
    if (s.suspicion.kind == Suspicion::Kind::ammonia) {
      const double size = s.size / records::to_standard_factor(records::Test::ammonia, records::Basis::nh3);
      doubts.push_back({s.suspicion.line, "unlogged_addition",
                        fmt::format("More ammonia than the log explains: about {:.1f} mg/L (as NH3) seems to have come in before this "
                                    "reading {}. Was ammonia given and not logged?", size, likely)});
    } else {
      doubts.push_back({s.suspicion.line, "unlogged_water_change",
                        fmt::format("The water lost more than the log explains: about {:.0f} % of it seems to have been changed before "
                                    "this reading {}. Was water changed and not logged?", 100 * std::min(s.size, 1.0), likely)});
    }
  }
  if (const auto supply = supply_by(log, posterior); supply && supply->probability >= kAskedAbout) {
    doubts.push_back({std::nullopt, "unlogged_supply",
                      fmt::format("Ammonia and nitrite creep up without a deed: something seems to bring about {:.2f} mg/L of nitrogen a "
                                  "day (chance {:.0f} in 100). Look for food, dead animals or plants, and test the source water for "
                                  "ammonia.",
                                  supply->mg_n_l_d, std::min(std::round(100 * supply->probability), 99.0))});
  }
  if (!log.loop.source_water.disinfectant) {
    for (const records::Entry& e : log.entries) {
      const bool new_water = std::holds_alternative<records::WaterChange>(e.body) || std::holds_alternative<records::TopUp>(e.body);
      if (!new_water || e.when > posterior.as_of) continue;
      doubts.push_back({e.line, "disinfectant_not_stated",
                        "New water came in, but loop.toml does not say whether the source water is disinfected: some loss of "
                        "bacteria is thought possible. Say so under [source_water]."});
      break;
    }
  }
  add_unmixed(posterior, doubts);
  add_misreads(log, posterior, doubts);
  if (!posterior.certificate.certified) {
    doubts.push_back({std::nullopt, "steps_too_long",
                      "The water changes faster than the finest time step follows; the figures may be off by more than the readings."});
  }
  if (posterior.draws.effective < kEffectiveWanted && static_cast<double>(posterior.draws.weight.size()) >= kEffectiveWanted) {
    doubts.push_back({std::nullopt, "sampling_thin",
                      "The ranges rest on fewer independent draws than wanted and are rougher than usual."});
  }
  return doubts;
}

}  // namespace helmwater::infer
