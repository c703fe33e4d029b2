// SPDX-License-Identifier: Apache-2.0
// handbook_check FOLDER: holds the texts of a handbook folder to the schema this program was built with. Prints the
// first violation as file:line:column and ends with 1; 2 for wrong use.
#include <fmt/core.h>

#include <cstdio>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>

#include "handbook/handbook.hpp"

namespace {

std::string text_of(const std::filesystem::path& path) {
  std::ifstream in(path);
  std::stringstream text;
  text << in.rdbuf();
  if (!in) throw std::runtime_error("cannot read " + path.string());
  return text.str();
}

}  // namespace

int main(int argc, char** argv) try {
  if (argc != 2) {
    fmt::print(stderr, "usage: handbook_check FOLDER\n");
    return 2;
  }
  const std::filesystem::path folder = argv[1];
  const auto handbook =
      helmwater::handbook::Handbook::load(text_of(folder / "reagents.toml"), text_of(folder / "priors.toml"),
                                          text_of(folder / "limits.toml"), text_of(folder / "sources.bib"),
                                          text_of(folder / "fish.toml"), text_of(folder / "causes.toml"));
  if (!handbook) {
    const auto& error = handbook.error();
    fmt::print(stderr, "{}:{}:{}: {}\n", (folder / error.file).string(), error.line, error.column, error.message);
    return 1;
  }
  fmt::print("{} reagents, {} priors, {} limits, {} fish, {} causes\n", handbook->reagents().size(), handbook->priors().size(),
             handbook->limits().size(), handbook->all_fish().size(),
             handbook->causes().size());
  return 0;
} catch (const std::exception& error) {
  fmt::print(stderr, "handbook_check: {}\n", error.what());
  return 1;
}
