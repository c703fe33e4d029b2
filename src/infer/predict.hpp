// SPDX-License-Identifier: Apache-2.0
// What the kits would show, according to a posterior.
#pragma once
#include <functional>
#include <vector>

#include "infer/posterior.hpp"
#include "records/entry.hpp"

namespace helmwater::infer {

// For each observation (rising in time, none before the posterior's window) and each member: calls use(observation index, member index, value met by the
// test, bias of its kit), from several threads but never twice at once for one member. Deeds of the whole log are
// honoured; temperature readings after the posterior's as_of are not used.
void each_predicted_reading(const records::LoopLog& log, const Posterior& posterior,
                            const std::vector<Observation>& observations,
                            const std::function<void(std::size_t, std::size_t, double, double)>& use);

}  // namespace helmwater::infer
