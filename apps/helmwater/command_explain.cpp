// SPDX-License-Identifier: Apache-2.0
#include "commands.hpp"

namespace helmwater::app {

Command add_explain(CLI::App& program) {
  CLI::App* sub = program.add_subcommand("explain");
  return {sub, [] { return 1; }};
}

}  // namespace helmwater::app
