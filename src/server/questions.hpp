// SPDX-License-Identifier: Apache-2.0
// What a request asks, read and checked: parameters of the address, the members of a JSON body, the moment asked about.
#pragma once
#include <map>
#include <optional>
#include <string>
#include <vector>

#include <tl/expected.hpp>

#include "infer/outlook.hpp"
#include "records/entry.hpp"
#include "server/message.hpp"
#include "steer/fish_plan.hpp"
#include "steer/what_if.hpp"

namespace helmwater::server {

tl::unexpected<Problem> refuse(int status, std::string code, std::string message, std::string field = {});

// Reads the query and refuses what it does not know, so that a mistyped name does not pass for the default.
class Query {
 public:
  explicit Query(const std::map<std::string, std::string>& query) : query_(query) {}
  std::optional<std::string> text(const char* key);
  std::optional<double> number(const char* key, double low, double high, bool above_low = false);
  void fail(std::string code, std::string message, std::string field);
  // After all keys were asked for.
  std::optional<Problem> problem();

 private:
  const std::map<std::string, std::string>& query_;
  std::vector<std::string> known_;
  std::optional<Problem> problem_;
};

// nullopt: an outlook of so many days can be had.
std::optional<Problem> too_much(const records::LoopLog& log, records::Instant as_of, double days);
// Sets options.as_of; absent: the log's own. nullopt: possible.
std::optional<Problem> set_as_of(const records::LoopLog& log, const std::optional<std::string>& text, infer::OutlookOptions& options);

tl::expected<steer::WhatIf, Problem> read_wish(const Request& request);

struct FishQuestion {
  steer::FishWish wish;
  std::optional<std::string> as_of;
};
tl::expected<FishQuestion, Problem> read_fish_question(const Request& request);

}  // namespace helmwater::server
