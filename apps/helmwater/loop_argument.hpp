// SPDX-License-Identifier: Apache-2.0
// What the commands on a loop folder share: reading the folder and a moment, with errors on stderr.
#pragma once
#include <CLI/CLI.hpp>
#include <optional>
#include <string>

#include "infer/history.hpp"
#include "records/entry.hpp"

namespace helmwater::app {

// The exit code instead of a loop when it cannot be read.
struct LoopOrExit {
  std::optional<records::LoopLog> log;
  int exit_code = 0;
};
LoopOrExit read_loop(const std::string& folder);

// `--history DIR`: the loop folders in DIR but the one at `own`; those that cannot be read become doubts. An empty DIR is
// no history; a DIR that cannot be one ends with exit_code 2.
struct HistoryOrExit {
  infer::HistoryAt at;  // empty: none was asked for
  int exit_code = 0;
};
HistoryOrExit read_history(const std::string& folder, const std::string& own, const records::LoopLog& log,
                           const infer::HistoryOptions& options);
inline constexpr char kHistoryHelp[] = "folder with loop folders of the same keeper: finished start-ups narrow this one's ranges";

// `--as-of`: empty is nullopt. False, with a message, if it is no moment.
bool read_as_of(const std::string& text, const records::LoopLog& log, std::optional<records::Instant>& as_of);

// The moment asked about: --as-of, else the latest entry, else the start. nullopt, with a message, if there is none or it lies
// before the start.
std::optional<records::Instant> moment_asked(const std::string& folder, const std::string& as_of, const records::LoopLog& log);

// A check for CLI11: a number within [low, high]; "nan" is none.
CLI::Validator number_between(double low, double high);

}  // namespace helmwater::app
