// SPDX-License-Identifier: Apache-2.0
// A keeper's finished start-ups as evidence about the next one (docs/model/history.md).
#pragma once
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "infer/checkpoints.hpp"
#include "infer/learned.hpp"
#include "infer/pooling.hpp"
#include "records/entry.hpp"

namespace helmwater::infer {

// A start-up is finished when nitrite has cleared with this probability, by the readings up to then, and there are so many
// of them (estimates: a chance of one in ten to be wrong, and about three visits with four vials).
inline constexpr double kFinishedProbability = 0.9;
inline constexpr int kFinishedReadings = 12;
// Fewer finished start-ups teach nothing; of more, the latest. Of loops whose vials once showed nitrite clear again, so many
// are looked at.
inline constexpr std::size_t kFewestLoops = 2, kMostLoops = 12, kMostLookedAt = 24;

struct History {
  bool named = false;                 // false: nobody said where earlier loops lie
  std::vector<std::string> of;        // names of the start-ups it rests on, the earliest finished first
  std::shared_ptr<const Learned> learned;  // null: off, fewer than kFewestLoops are finished by then
  std::string text;                   // one plain sentence
  std::vector<records::Doubt> doubts; // folders that could not be read; they come with the outlook's
};

struct EarlierLoop {
  std::string id;  // its folder
  std::shared_ptr<const records::LoopLog> log;
};

struct HistoryOptions {
  std::uint64_t seed = 1;
  int members = 4000;
  Checkpoints* checkpoints = nullptr;  // keeps what was learnt of each; null: made anew for this call
};

// What `others` had shown by as_of: of each log only the entries up to then are looked at, and a log of `own`'s name and
// start is taken for a copy of it and left out.
std::shared_ptr<const History> history_of(const records::LoopLog& own, const std::vector<EarlierLoop>& others,
                                          records::Instant as_of, const HistoryOptions& options);
// The same as of any moment, for looking back.
using HistoryAt = std::function<std::shared_ptr<const History>(records::Instant as_of)>;

// The moments at which a start-up may be found finished, each known from the entries up to it: the second, fourth, eighth …
// nitrite reading that begins at zero after one that does not, and the last entry by as_of if there is such a reading.
std::vector<records::Instant> looks(const records::LoopLog& log, records::Instant as_of);

struct FinishedStartUp {
  records::Instant when;  // of the look
  LoopSummary summary;
};
// nullopt: not finished by as_of.
std::optional<FinishedStartUp> finished_by(const records::LoopLog& log, records::Instant as_of, const HistoryOptions& options);

}  // namespace helmwater::infer
