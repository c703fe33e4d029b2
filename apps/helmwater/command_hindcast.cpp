// SPDX-License-Identifier: Apache-2.0
// helmwater hindcast: how earlier outlooks of this loop would have done.
#include <iostream>
#include <memory>
#include <nlohmann/json.hpp>

#include "commands.hpp"
#include "hindcast_page.hpp"
#include "infer/hindcast.hpp"
#include "loop_argument.hpp"
#include "server/outlook_json.hpp"

namespace helmwater::app {
namespace {

struct Options {
  std::string folder, as_of, history;
  double every = 3, horizon = 7;
  int members = 4000;
  std::uint64_t seed = 1;
  bool json = false;
};

int run(const Options& options) {
  const LoopOrExit loop = read_loop(options.folder);
  if (!loop.log) return loop.exit_code;
  infer::HindcastOptions wanted;
  if (!read_as_of(options.as_of, *loop.log, wanted.as_of)) return 2;
  wanted.every_days = options.every;
  wanted.horizon_days = options.horizon;
  wanted.members = options.members;
  wanted.seed = options.seed;
  infer::Checkpoints checkpoints(infer::cache_folder());
  wanted.checkpoints = &checkpoints;
  const HistoryOrExit history =
      read_history(options.history, options.folder, *loop.log, {options.seed, options.members, &checkpoints});
  if (history.exit_code != 0) return history.exit_code;
  wanted.history = history.at;
  const infer::Hindcast hindcast = infer::hindcast_of(*loop.log, wanted, [](int done, int of) {
    if (of > 1) std::cerr << "\rlooking back: " << done << " of " << of << (done == of ? "\n" : "") << std::flush;
  });
  if (options.json) {
    std::cout << server::to_json(hindcast).dump() << '\n';
  } else {
    std::cout << hindcast_page(hindcast, page_style_from_environment());
  }
  return 0;
}

}  // namespace

Command add_hindcast(CLI::App& program) {
  CLI::App* sub = program.add_subcommand("hindcast", "earlier outlooks of a loop against what its vials then showed");
  const auto options = std::make_shared<Options>();
  sub->add_option("LOOP", options->folder, "loop folder with loop.toml and log.csv")->required();
  CLI::Option* as_of = sub->add_option("--as-of", options->as_of, "look back from this moment only");
  sub->add_option("--every", options->every, "days between the moments looked at, 0.25 to 100 (default 3)")
      ->check(number_between(0.25, 100.0))
      ->excludes(as_of);
  sub->add_option("--horizon", options->horizon, "days after each moment, 0.25 to 60 (default 7)")->check(number_between(0.25, 60.0));
  sub->add_option("--members", options->members, "how many possible loops are followed, 100 to 100000 (default 4000)")
      ->check(CLI::Range(100, 100000));
  sub->add_option("--seed", options->seed, "of the random numbers, 0 or more (default 1)")->check(number_between(0, 1e15));
  sub->add_option("--history", options->history, kHistoryHelp);
  sub->add_flag("--json", options->json, "machine-readable");
  return {sub, [options] { return run(*options); }};
}

}  // namespace helmwater::app
