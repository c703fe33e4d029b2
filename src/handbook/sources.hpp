// SPDX-License-Identifier: Apache-2.0
// The list of sources: which keys sources.bib knows.
#pragma once
#include <set>
#include <string>
#include <string_view>
#include <tl/expected.hpp>

#include "handbook/handbook.hpp"

namespace helmwater::handbook {

using SourceKeys = std::set<std::string, std::less<>>;

// Keys of a BibTeX text. Every entry begins on a line of its own with `@kind{key,` and has a title; a key given
// twice is an error.
tl::expected<SourceKeys, Handbook::Error> source_keys(std::string_view bib, std::string_view file);

// True for the entries of sources.bib that are no texts: they may stand behind memory and estimates, never behind a
// number called seen.
bool is_without_text(std::string_view key);

}  // namespace helmwater::handbook
