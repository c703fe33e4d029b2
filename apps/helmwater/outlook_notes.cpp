// SPDX-License-Identifier: Apache-2.0
#include "outlook_notes.hpp"

#include <algorithm>

namespace helmwater::app {

std::vector<Note> notes_of(const std::vector<records::Doubt>& doubts) {
  std::vector<Note> notes;
  char next = 'a';
  for (const records::Doubt& doubt : doubts) {
    auto note = std::find_if(notes.begin(), notes.end(), [&](const Note& n) {
      return n.text == doubt.text && n.lines.empty() == !doubt.entry.has_value();
    });
    if (note == notes.end()) {
      std::string letter;
      if (doubt.entry) letter = next <= 'z' ? std::string(1, next++) : "*";
      note = notes.insert(notes.end(), {letter, doubt.text, {}});
    }
    if (doubt.entry && std::find(note->lines.begin(), note->lines.end(), *doubt.entry) == note->lines.end()) {
      note->lines.push_back(*doubt.entry);
    }
  }
  return notes;
}

std::string letter_of(const std::vector<Note>& notes, int line) {
  for (const Note& note : notes) {
    if (line > 0 && std::find(note.lines.begin(), note.lines.end(), line) != note.lines.end())
      return note.letter;
  }
  return {};
}

}  // namespace helmwater::app
