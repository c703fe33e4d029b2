// SPDX-License-Identifier: Apache-2.0
// What the water and the bacteria would be like if a loop stood still for this cause or that (docs/model/why_stuck.md).
// Numbers: data/handbook/causes.toml.
#pragma once
#include <memory>
#include <string>
#include <vector>

#include "infer/alteration.hpp"
#include "infer/posterior.hpp"
#include "loop/state.hpp"
#include "records/entry.hpp"

namespace helmwater::steer {

// The plain prior with one thing altered. A cause may have several.
struct Hypothesis {
  std::string cause;      // as the handbook names it; "young": nothing is altered
  double share = 1;       // of the cause's weight
  std::shared_ptr<const infer::Alteration> altered;
};
// A cause that some fact of the log settles without a model.
struct SetAside {
  std::string cause, why;
};
struct Hypotheses {
  std::vector<Hypothesis> tried;      // the first is "young"
  std::vector<SetAside> set_aside;
};
// `later_window`: the log is so long that its first weeks are taken from an earlier posterior.
Hypotheses hypotheses_for(const records::LoopLog& log, records::Instant start, records::Instant as_of, bool later_window);

// How much colder than the log says a draw has the water, degC; 0 unless the hypothesis is about that.
double degrees_colder(const records::LoopLog& log, const infer::Posterior& posterior, std::size_t draw);

// One member's days, the last as_of.
struct MemberCourse {
  std::vector<loop::State<float>> at;  // every day
  double source_no3 = 0;               // mg N/L
  double k_p = 0.02;                   // mg P/L
  double celsius = 20;                 // of the water now, as this hypothesis has it
  double oxygen = 8;                   // mg/L, likewise
};
// What holds a member up: the altered thing, unless nothing is held up, or what the plain model itself runs into.
std::string cause_of(const Hypothesis& hypothesis, const MemberCourse& course);

}  // namespace helmwater::steer
