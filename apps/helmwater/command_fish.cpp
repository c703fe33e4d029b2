// SPDX-License-Identifier: Apache-2.0
// helmwater fish: may fish go in, how many, on how much feed; with fish in, how much feed and new water.
#include <iostream>
#include <memory>
#include <nlohmann/json.hpp>

#include "commands.hpp"
#include "fish_page.hpp"
#include "infer/outlook.hpp"
#include "loop_argument.hpp"
#include "server/fish_json.hpp"
#include "steer/fish_plan.hpp"

namespace helmwater::app {
namespace {

struct Options {
  std::string folder, as_of, species, history;
  double count = 0, weight = 0, feed = 0, percent = 0, protein = 32;
  int weeks = 6;
  bool json = false;
};

// As it is called at the shell.
std::string option_of(const std::string& field) {
  if (field == "weight_g") return "--weight";
  if (field == "feed_g") return "--feed";
  if (field == "feed_percent") return "--feed-percent";
  return "--" + field;
}

int run(const Options& options) {
  const LoopOrExit loop = read_loop(options.folder);
  if (!loop.log) return loop.exit_code;
  infer::OutlookOptions wanted;
  const auto as_of = moment_asked(options.folder, options.as_of, *loop.log);
  if (!as_of) return 2;
  wanted.as_of = as_of;
  infer::Checkpoints checkpoints(infer::cache_folder());
  wanted.checkpoints = &checkpoints;
  const HistoryOrExit history =
      read_history(options.history, options.folder, *loop.log, {wanted.seed, wanted.members, &checkpoints});
  if (history.exit_code != 0) return history.exit_code;
  if (history.at) wanted.history = history.at(*as_of);
  steer::FishWish wish;
  if (options.count > 0) wish.count = options.count;
  if (options.weight > 0) wish.weight_g = options.weight;
  if (options.feed > 0) wish.feed_g = options.feed;
  if (options.percent > 0) wish.feed_percent = options.percent;
  wish.species = options.species;
  wish.protein_percent = options.protein;
  wish.weeks = options.weeks;
  const infer::Posterior posterior = infer::posterior_for(*loop.log, wanted);
  const auto plan = steer::fish_plan(*loop.log, posterior, wish);
  if (!plan) {
    std::cerr << option_of(plan.error().field) << ": " << plan.error().message << '\n';
    return 2;
  }
  if (options.json) {
    std::cout << server::to_json(*plan).dump() << '\n';
  } else {
    std::cout << fish_page(*plan, page_style_from_environment());
  }
  return 0;
}

}  // namespace

Command add_fish(CLI::App& program) {
  CLI::App* sub = program.add_subcommand("fish", "may fish go in, how many, on how much feed; with fish in, how much feed and new water");
  const auto options = std::make_shared<Options>();
  sub->add_option("LOOP", options->folder, "loop folder with loop.toml and log.csv")->required();
  sub->add_option("--count", options->count, "how many fish, 1 to 100000 (with fish in: from the log)")->check(number_between(1, 100000));
  sub->add_option("--weight", options->weight, "of one fish, g, 0.1 to 20000")->check(number_between(0.1, 20000));
  sub->add_option("--species", options->species, "which kind (default: the strictest limits)");
  CLI::Option* feed = sub->add_option("--feed", options->feed, "g a day for all of them, 0.1 to 100000")->check(number_between(0.1, 100000));
  sub->add_option("--feed-percent", options->percent, "% of body weight a day, 0.1 to 30 (default: the handbook's highest ration)")
      ->check(number_between(0.1, 30))
      ->excludes(feed);
  sub->add_option("--protein", options->protein, "% of the feed, 10 to 70 (default 32)")->check(number_between(10, 70));
  sub->add_option("--weeks", options->weeks, "of the ramp, 1 to 12 (default 6)")->check(CLI::Range(1, 12));
  sub->add_option("--as-of", options->as_of, "use the log up to this moment (default: the latest entry)");
  sub->add_option("--history", options->history, kHistoryHelp);
  sub->add_flag("--json", options->json, "machine-readable");
  return {sub, [options] { return run(*options); }};
}

}  // namespace helmwater::app
