// SPDX-License-Identifier: Apache-2.0
// Outlooks and logs made by hand, for pages. Nothing in them is computed by the model.
#pragma once
#include <string>
#include <vector>

#include "infer/outlook.hpp"
#include "page_style.hpp"

namespace helmwater::app_test {

records::Instant at(const std::string& utc);  // "2026-03-12T08:00"
infer::Quantiles spread(double middle, double share);
infer::Milestone between(const std::string& p05, const std::string& p50, const std::string& p95);
// Begins at p05, the rest is later than the outlook's end.
infer::Milestone open_from(const std::string& p05, double probability);
infer::Milestone never(double probability);

// A start-up on day 11 in Vienna, nitrite rising; every date can be told.
infer::Outlook start_up();
// The same loop with fish in it, nitrite near their limit.
infer::Outlook with_fish();
// Readings in other bases than the page's, a dose, a water change, a doubtful reading; lines count from 2.
records::LoopLog log_of_start_up();
// Without any entry.
records::LoopLog empty_log();

records::Entry reading(int line, const std::string& when, records::Test test, records::Basis basis,
                       double low, double high, const std::string& value);

std::vector<std::string> lines_of(const std::string& page);
// Without colour codes.
std::string uncoloured(const std::string& page);
bool has(const std::string& page, const std::string& text);
// The page's words as one line, so that wrapping does not matter.
std::string unwrapped(const std::string& page);

}  // namespace helmwater::app_test
