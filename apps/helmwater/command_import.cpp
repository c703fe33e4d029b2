// SPDX-License-Identifier: Apache-2.0
#include "commands.hpp"

namespace helmwater::app {

Command add_import(CLI::App& program) {
  CLI::App* sub = program.add_subcommand("import");
  return {sub, [] { return 1; }};
}

}  // namespace helmwater::app
