// SPDX-License-Identifier: Apache-2.0
// What the commands that make an outlook are asked with: their options, and the outlook itself.
#pragma once
#include <CLI/CLI.hpp>
#include <cstdint>
#include <optional>
#include <string>

#include "infer/outlook.hpp"
#include "records/entry.hpp"

namespace helmwater::app {

struct OutlookArgument {
  std::string folder, as_of, plan, history;
  double days = 60;
  int members = 4000;
  std::uint64_t seed = 1;
  bool json = false;
};
void add_outlook_options(CLI::App& sub, OutlookArgument& argument, const char* days_help);

// The exit code, with a message on stderr, instead of an outlook that cannot be made.
struct OutlookOrExit {
  std::optional<records::LoopLog> log;
  std::optional<infer::Outlook> outlook;
  int exit_code = 0;
};
OutlookOrExit outlook_asked(const OutlookArgument& argument);

}  // namespace helmwater::app
