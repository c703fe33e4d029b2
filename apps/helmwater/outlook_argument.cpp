// SPDX-License-Identifier: Apache-2.0
#include "outlook_argument.hpp"

#include "infer/checkpoints.hpp"
#include "loop_argument.hpp"

namespace helmwater::app {

void add_outlook_options(CLI::App& sub, OutlookArgument& argument, const char* days_help) {
  sub.add_option("LOOP", argument.folder, "loop folder with loop.toml and log.csv")->required();
  sub.add_option("--as-of", argument.as_of, "use readings up to this moment (default: the latest entry)");
  sub.add_option("--days", argument.days, days_help)->check(number_between(1.0, 365.0));
  sub.add_option("--members", argument.members, "how many possible loops are followed, 100 to 100000 (default 4000)")
      ->check(CLI::Range(100, 100000));
  sub.add_option("--seed", argument.seed, "of the random numbers, 0 or more (default 1)")->check(number_between(0, 1e15));
  sub.add_option("--plan", argument.plan, "\"none\": nothing is done after the log's end")->check(CLI::IsMember({"none"}));
  sub.add_option("--history", argument.history, kHistoryHelp);
  sub.add_flag("--json", argument.json, "machine-readable");
}

OutlookOrExit outlook_asked(const OutlookArgument& argument) {
  OutlookOrExit out;
  LoopOrExit loop = read_loop(argument.folder);
  if (!loop.log) return {std::nullopt, std::nullopt, loop.exit_code};
  infer::OutlookOptions wanted;
  wanted.as_of = moment_asked(argument.folder, argument.as_of, *loop.log);
  if (!wanted.as_of) return {std::nullopt, std::nullopt, 2};
  wanted.days = argument.days;
  wanted.members = argument.members;
  wanted.seed = argument.seed;
  wanted.with_plan = argument.plan != "none";
  infer::Checkpoints checkpoints(infer::cache_folder());
  wanted.checkpoints = &checkpoints;
  const HistoryOrExit history =
      read_history(argument.history, argument.folder, *loop.log, {wanted.seed, wanted.members, &checkpoints});
  if (history.exit_code != 0) return {std::nullopt, std::nullopt, history.exit_code};
  if (history.at) wanted.history = history.at(*wanted.as_of);
  out.outlook = infer::outlook_of(*loop.log, wanted);
  out.log = std::move(loop.log);
  return out;
}

}  // namespace helmwater::app
