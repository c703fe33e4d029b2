// SPDX-License-Identifier: Apache-2.0
#include "commands.hpp"

namespace helmwater::app {

Command add_hindcast(CLI::App& program) {
  CLI::App* sub = program.add_subcommand("hindcast");
  return {sub, [] { return 1; }};
}

}  // namespace helmwater::app
