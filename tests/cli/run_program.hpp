// SPDX-License-Identifier: Apache-2.0
// Runs the built program in a process of its own, without a terminal, and catches what it says.
#pragma once
#include <map>
#include <string>
#include <vector>

namespace helmwater::cli_test {

struct Said {
  int exit_code = -1;  // -1: ended by a signal, or stopped because it took longer than a minute
  std::string out;
  std::string err;
};

struct Surroundings {
  bool input_closed = false;                       // else standard input is empty
  std::map<std::string, std::string> environment;  // added to, or in place of, the test's own
  std::string output_to;                           // a device instead of the caught standard output
};

Said helmwater(const std::vector<std::string>& arguments, const Surroundings& around = {});

}  // namespace helmwater::cli_test
