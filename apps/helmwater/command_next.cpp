// SPDX-License-Identifier: Apache-2.0
// helmwater next: what to test next, and why.
#include <iostream>
#include <memory>
#include <nlohmann/json.hpp>

#include "commands.hpp"
#include "infer/outlook.hpp"
#include "loop_argument.hpp"
#include "next_page.hpp"
#include "server/outlook_json.hpp"

namespace helmwater::app {
namespace {

struct Options {
  std::string folder, as_of, plan, history;
  double days = 60;
  int members = 4000;
  std::uint64_t seed = 1;
  bool json = false;
};

int run(const Options& options) {
  const LoopOrExit loop = read_loop(options.folder);
  if (!loop.log) return loop.exit_code;
  infer::OutlookOptions wanted;
  if (!read_as_of(options.as_of, *loop.log, wanted.as_of)) return 2;
  wanted.days = options.days;
  wanted.members = options.members;
  wanted.seed = options.seed;
  wanted.with_plan = options.plan != "none";
  const auto as_of = infer::resolve_as_of(*loop.log, wanted.as_of);
  if (!as_of) {
    std::cerr << options.folder
              << ": the log has no entry and loop.toml no `started`; give --as-of, or write when the loop started\n";
    return 2;
  }
  if (loop.log->loop.started && *as_of < *loop.log->loop.started) {
    std::cerr << "--as-of " << options.as_of << ": before the loop started ("
              << records::to_utc_text(*loop.log->loop.started) << "); choose a later moment\n";
    return 2;
  }
  infer::Checkpoints checkpoints(infer::cache_folder());
  wanted.checkpoints = &checkpoints;
  const HistoryOrExit history =
      read_history(options.history, options.folder, *loop.log, {wanted.seed, wanted.members, &checkpoints});
  if (history.exit_code != 0) return history.exit_code;
  if (history.at) wanted.history = history.at(*as_of);
  const infer::Outlook outlook = infer::outlook_of(*loop.log, wanted);
  if (options.json) {
    std::cout << server::to_json(*outlook.next_test, outlook.as_of).dump() << '\n';
  } else {
    std::cout << next_page(outlook, page_style_from_environment());
  }
  return 0;
}

}  // namespace

Command add_next(CLI::App& program) {
  CLI::App* sub = program.add_subcommand("next", "what to test next and when, and what each test would be worth");
  const auto options = std::make_shared<Options>();
  sub->add_option("LOOP", options->folder, "loop folder with loop.toml and log.csv")->required();
  sub->add_option("--as-of", options->as_of, "use readings up to this moment (default: the latest entry)");
  sub->add_option("--days", options->days, "how far ahead dates are looked for, 1 to 365 (default 60)")->check(number_between(1.0, 365.0));
  sub->add_option("--members", options->members, "how many possible loops are followed, 100 to 100000 (default 4000)")
      ->check(CLI::Range(100, 100000));
  sub->add_option("--seed", options->seed, "of the random numbers, 0 or more (default 1)")->check(number_between(0, 1e15));
  sub->add_option("--plan", options->plan, "\"none\": nothing is done after the log's end")->check(CLI::IsMember({"none"}));
  sub->add_option("--history", options->history, kHistoryHelp);
  sub->add_flag("--json", options->json, "machine-readable");
  return {sub, [options] { return run(*options); }};
}

}  // namespace helmwater::app
