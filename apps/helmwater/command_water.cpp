// SPDX-License-Identifier: Apache-2.0
#include "commands.hpp"

namespace helmwater::app {

Command add_water(CLI::App& program) {
  CLI::App* sub = program.add_subcommand("water");
  return {sub, [] { return 1; }};
}

}  // namespace helmwater::app
