// SPDX-License-Identifier: Apache-2.0
#include "machine_facts.hpp"

#include <fmt/format.h>

#include <chrono>
#include <cstdlib>
#include <fstream>
#include <thread>

#include "date/date.h"
#include "infer/member_block.hpp"

namespace helmwater::bench {
namespace {

std::string processor() {
  std::ifstream in("/proc/cpuinfo");
  std::string model, family, number;
  for (std::string line; std::getline(in, line) && !line.empty();) {
    const auto value = [&](const char* key, std::string& to) {
      if (line.rfind(key, 0) == 0 && line.find(": ") != std::string::npos && to.empty())
        to = line.substr(line.find(": ") + 2);
    };
    value("model name", model);
    value("cpu family", family);
    value("model\t", number);
  }
  if (model.empty()) return "unknown";
  return fmt::format("{} (family {} model {})", model, family, number);
}

}  // namespace

double load_average() {
  double minute = 0;
  return getloadavg(&minute, 1) == 1 ? minute : -1;
}

std::string machine_facts() {
#if defined(__clang__)
  const std::string compiler = "clang " __clang_version__;
#else
  const std::string compiler = "g++ " __VERSION__;
#endif
  const auto today = std::chrono::floor<std::chrono::days>(std::chrono::system_clock::now());
  return fmt::format(
      "date          {}\nprocessor     {}, {} cores\ninstructions  {} (in use)\ncompiler      {}, rivals "
      "with {}\n"
      "load average  {:.2f} at the start\n",
      date::format("%F", today), processor(), std::thread::hardware_concurrency(),
      infer::member_block_functions().instructions, compiler, HELMWATER_RIVAL_FLAGS, load_average());
}

}  // namespace helmwater::bench
