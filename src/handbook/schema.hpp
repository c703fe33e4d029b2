// SPDX-License-Identifier: Apache-2.0
// Holds a handbook text to data/handbook/schema.toml.
#pragma once
#include <optional>
#include <string_view>

#include "handbook/handbook.hpp"
#include "handbook/sources.hpp"

namespace helmwater::handbook {

// The first violation in `text`, which must look as [file.KIND] of the schema says; nullopt: none. Checks syntax,
// unknown and missing keys, types, allowed words, ranges, and that every source is a key of `sources`. Throws
// std::logic_error if the schema itself is broken.
std::optional<Handbook::Error> schema_violation(std::string_view text, std::string_view kind, std::string_view file,
                                                std::string_view schema, const SourceKeys& sources);

}  // namespace helmwater::handbook
