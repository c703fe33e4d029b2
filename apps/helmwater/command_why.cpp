// SPDX-License-Identifier: Apache-2.0
// helmwater why: why a loop does not move, and the one test that tells the likeliest causes apart.
#include <iostream>
#include <memory>
#include <nlohmann/json.hpp>

#include "commands.hpp"
#include "infer/outlook.hpp"
#include "loop_argument.hpp"
#include "server/why_json.hpp"
#include "steer/why_stuck.hpp"
#include "why_page.hpp"

namespace helmwater::app {
namespace {

struct Options {
  std::string folder, as_of;
  std::uint64_t seed = 1;
  bool json = false;
};

int run(const Options& options) {
  const LoopOrExit loop = read_loop(options.folder);
  if (!loop.log) return loop.exit_code;
  const auto as_of = moment_asked(options.folder, options.as_of, *loop.log);
  if (!as_of) return 2;
  infer::Checkpoints checkpoints(infer::cache_folder());
  steer::WhyStuckOptions wanted;
  wanted.as_of = *as_of;
  wanted.seed = options.seed;
  wanted.checkpoints = &checkpoints;
  const steer::WhyStuck why = steer::why_stuck(*loop.log, wanted);
  if (options.json) {
    std::cout << server::to_json(why).dump() << '\n';
  } else {
    std::cout << why_page(why, loop.log->loop.zone(), page_style_from_environment());
  }
  return 0;
}

}  // namespace

Command add_why(CLI::App& program) {
  CLI::App* sub = program.add_subcommand("why", "why it does not move: causes by what the log says for each, and the test that tells them apart");
  const auto options = std::make_shared<Options>();
  sub->add_option("LOOP", options->folder, "loop folder with loop.toml and log.csv")->required();
  sub->add_option("--as-of", options->as_of, "use the log up to this moment (default: the latest entry)");
  sub->add_option("--seed", options->seed, "of the random numbers (default 1)")->check(CLI::Range(0u, 4294967295u));
  sub->add_flag("--json", options->json, "machine-readable");
  return {sub, [options] { return run(*options); }};
}

}  // namespace helmwater::app
