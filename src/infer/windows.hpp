// SPDX-License-Identifier: Apache-2.0
// A long log taken window by window (docs/model/windows.md).
#pragma once
#include <memory>

#include "infer/posterior.hpp"
#include "records/fingerprint.hpp"

namespace helmwater::infer {

// Day 0 of a question about as_of.
records::Instant start_for(const records::LoopLog& log, records::Instant as_of);

// For the keys of what is kept: another program, another instruction set gives another answer in the last digits, or
// altogether.
void add_program(records::Fingerprint& sum);
// The log as it stood at a moment: its entries up to then, and no doubts.
records::LoopLog log_until(const records::LoopLog& log, records::Instant end);

// One window, on what the one before carried over (null: the first).
Posterior posterior_in_window(const records::LoopLog& log, const PosteriorOptions& options, std::shared_ptr<const Carried> carried);

// What the windows before the one that holds as_of carry over to it; null: it is the first.
std::shared_ptr<const Carried> carried_to(const records::LoopLog& log, const PosteriorOptions& options);

}  // namespace helmwater::infer
