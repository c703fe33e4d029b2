// SPDX-License-Identifier: Apache-2.0
// helmwater outlook: what the water is, what it will do, when fish may go in.
#include <iostream>
#include <memory>
#include <nlohmann/json.hpp>

#include "commands.hpp"
#include "outlook_argument.hpp"
#include "outlook_page.hpp"
#include "server/outlook_json.hpp"

namespace helmwater::app {

Command add_outlook(CLI::App& program) {
  CLI::App* sub = program.add_subcommand("outlook", "the water now, its course and its dates, from the log of a loop");
  const auto argument = std::make_shared<OutlookArgument>();
  add_outlook_options(*sub, *argument, "how far ahead, 1 to 365 (default 60)");
  return {sub, [argument] {
            const OutlookOrExit asked = outlook_asked(*argument);
            if (!asked.outlook) return asked.exit_code;
            if (argument->json) {
              std::cout << server::to_json(*asked.outlook).dump() << '\n';
            } else {
              std::cout << outlook_page(*asked.outlook, *asked.log, page_style_from_environment());
            }
            return 0;
          }};
}

}  // namespace helmwater::app
