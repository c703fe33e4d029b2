// SPDX-License-Identifier: Apache-2.0
#include <algorithm>
#include <exception>
#include <iostream>
#include <vector>

#include "commands.hpp"

int main(int argc, char** argv) {
  using namespace helmwater::app;
  CLI::App program{"Helmwater: what the water is, what it will do, and when fish may go in"};
  program.name("helmwater");
  program.require_subcommand(1);
  const std::vector<Command> commands{add_outlook(program), add_next(program), add_why(program), add_fish(program), add_hindcast(program), add_track(program), add_explain(program),
                                      add_import(program), add_water(program),
                                      add_serve(program)};
  if (argc > 1 && argv[1][0] != '-' && std::none_of(commands.begin(), commands.end(), [&](const Command& c) { return c.subcommand->get_name() == argv[1]; })) {
    std::cerr << "helmwater: there is no command \"" << argv[1] << "\"; there are:";
    for (const Command& command : commands) std::cerr << ' ' << command.subcommand->get_name();
    std::cerr << ". helmwater --help says what each answers.\n";
    return 2;
  }
  try {
    program.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    return program.exit(error) == 0 ? 0 : 2;
  }
  for (const Command& command : commands) {
    if (!command.subcommand->parsed()) continue;
    try {
      const int code = command.run();
      std::cout.flush();
      if (!std::cout) {
        std::cerr << "helmwater: the answer could not be written; is the disk full, or the reader gone?\n";
        return 1;
      }
      return code;
    } catch (const std::exception& error) {
      std::cerr << "helmwater: " << error.what() << '\n';
      return 1;
    }
  }
  return 2;
}
