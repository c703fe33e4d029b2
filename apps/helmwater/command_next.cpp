// SPDX-License-Identifier: Apache-2.0
// helmwater next: what to test next, and why.
#include <iostream>
#include <memory>
#include <nlohmann/json.hpp>

#include "commands.hpp"
#include "outlook_argument.hpp"
#include "next_page.hpp"
#include "server/outlook_json.hpp"

namespace helmwater::app {

Command add_next(CLI::App& program) {
  CLI::App* sub = program.add_subcommand("next", "what to test next and when, and what each test would be worth");
  const auto argument = std::make_shared<OutlookArgument>();
  add_outlook_options(*sub, *argument, "how far ahead dates are looked for, 1 to 365 (default 60)");
  return {sub, [argument] {
            const OutlookOrExit asked = outlook_asked(*argument);
            if (!asked.outlook) return asked.exit_code;
            if (argument->json) {
              std::cout << server::to_json(*asked.outlook->next_test, asked.outlook->as_of).dump() << '\n';
            } else {
              std::cout << next_page(*asked.outlook, page_style_from_environment());
            }
            return 0;
          }};
}

}  // namespace helmwater::app
