// SPDX-License-Identifier: Apache-2.0
// Doubts as footnotes: a letter for each remark, and which lines of the log it is about.
#pragma once
#include <string>
#include <vector>

#include "records/entry.hpp"

namespace helmwater::app {

struct Note {
  std::string letter;  // "a" … "z", then "*"
  std::string text;
  std::vector<int> lines;  // of log.csv; empty: the log as a whole
};

// In the order given; the same remark on several lines is one note. Remarks on lines of the log get letters.
std::vector<Note> notes_of(const std::vector<records::Doubt>& doubts);
// Letter of the first note on this line, or empty.
std::string letter_of(const std::vector<Note>& notes, int line);

}  // namespace helmwater::app
