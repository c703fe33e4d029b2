// SPDX-License-Identifier: Apache-2.0
// The subcommands of helmwater. Each add_… declares its options on the program and returns what to run when the
// subcommand was chosen; the function answers with the exit code (0 done, 1 the answer is no or the world failed,
// 2 wrong use or bad input).
#pragma once
#include <CLI/CLI.hpp>
#include <functional>

namespace helmwater::app {

struct Command {
  CLI::App* subcommand = nullptr;
  std::function<int()> run;
};

Command add_water(CLI::App& program);
Command add_explain(CLI::App& program);
Command add_import(CLI::App& program);
Command add_outlook(CLI::App& program);
Command add_why(CLI::App& program);
Command add_next(CLI::App& program);
Command add_hindcast(CLI::App& program);
Command add_track(CLI::App& program);
Command add_fish(CLI::App& program);
Command add_serve(CLI::App& program);

}  // namespace helmwater::app
