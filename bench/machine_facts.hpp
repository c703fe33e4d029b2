// SPDX-License-Identifier: Apache-2.0
// What a table of times must say about the machine it was made on.
#pragma once
#include <string>

namespace helmwater::bench {

// Several lines: processor, cores, instruction set in use, compiler, how busy the machine is, date.
std::string machine_facts();
// Of the processes waiting for a core in the last minute.
double load_average();

}  // namespace helmwater::bench
