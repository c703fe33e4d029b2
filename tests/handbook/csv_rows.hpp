// SPDX-License-Identifier: Apache-2.0
// Reads the small reference tables beside these tests: comment lines begin with #, then a header, no quoting.
#pragma once
#include <map>
#include <string>
#include <vector>

namespace helmwater::handbook_test {

using Row = std::map<std::string, std::string>;
// `name` is a file in tests/handbook. Throws std::runtime_error if it cannot be read.
std::vector<Row> csv_rows(const std::string& name);
// The text of a file below the source tree's root.
std::string source_text(const std::string& path);

}  // namespace helmwater::handbook_test
