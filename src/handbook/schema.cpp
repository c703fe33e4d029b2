// SPDX-License-Identifier: Apache-2.0
#include "handbook/schema.hpp"

#include <fmt/format.h>

#include <cmath>
#include <stdexcept>
#include <string>
#include <toml++/toml.h>
#include <vector>

namespace helmwater::handbook {
namespace {

using Violation = std::optional<Handbook::Error>;

constexpr std::string_view kListOf = "list of ";

// One check of one text; carries what every step needs.
class Check {
 public:
  Check(const toml::table& schema, std::string_view file, const SourceKeys& sources)
      : schema_(schema), file_(file), sources_(sources) {}

  // A table against its rules, `label` says to a reader which table is meant.
  Violation table(const toml::table& table, const toml::table& rules, const std::string& label) const {
    for (const auto& [key, node] : table) {
      if (!rules.contains(key.str())) {
        return wrong(node, fmt::format("{}unknown key \"{}\"; allowed here: {}", label, key.str(), keys_of(rules)));
      }
    }
    // Keys that depend on another key's word come last: that word must be checked before anything is built on it.
    for (const bool depends : {false, true}) {
      for (const auto& [key, rule_node] : rules) {
        const toml::table& rule = as_table(rule_node);
        if (rule.contains("when") != depends) continue;
        if (Violation found = entry(table, key.str(), rule, label)) return found;
      }
    }
    return std::nullopt;
  }

  const toml::table& rules(std::string_view group, std::string_view name) const {
    const toml::table* found = schema_[group][name].as_table();
    if (!found) throw std::logic_error(fmt::format("schema.toml has no [{}.{}]", group, name));
    return *found;
  }

 private:
  // One key of a table: there if it must be, absent if it must not be, and right.
  Violation entry(const toml::table& table, std::string_view key, const toml::table& rule,
                  const std::string& label) const {
    const std::string name = fmt::format("{}\"{}\"", label, key);
    const toml::node* node = table.get(key);
    bool required = !rule["optional"].value_or(false);
    if (const toml::table* when = rule["when"].as_table()) {
      const std::string other = (*when)["key"].value_or(std::string{});
      const std::string word = (*when)["is"].value_or(std::string{});
      required = table[other].value_or(std::string{}) == word;
      if (node && !required) return wrong(*node, fmt::format("{} belongs to {} = \"{}\" only", name, other, word));
    }
    if (node) return value(*node, rule, name);
    if (required) return wrong(table, fmt::format("{} is missing", name));
    return std::nullopt;
  }

  Violation value(const toml::node& node, const toml::table& rule, const std::string& name) const {
    const std::string type = rule["type"].value_or(std::string{});
    if (type.starts_with(kListOf)) {
      const toml::array* list = node.as_array();
      if (!list) return wrong(node, fmt::format("{} must be a list", name));
      toml::table element_rule = rule;
      element_rule.insert_or_assign("type", type.substr(kListOf.size()));
      for (const toml::node& element : *list) {
        if (Violation found = value(element, element_rule, name)) return found;
      }
      return std::nullopt;
    }
    if (type == "number") return number(node, rule, name);
    if (type == "text" || type == "source") return text(node, rule, type == "source", name);
    if (type == "yes_no") {
      if (node.is_boolean()) return std::nullopt;
      return wrong(node, fmt::format("{} must be true or false", name));
    }
    const toml::table* inner = node.as_table();
    if (!inner) return wrong(node, fmt::format("{} must be a table", name));
    return table(*inner, rules("shape", type), label_of(*inner, name));
  }

  Violation number(const toml::node& node, const toml::table& rule, const std::string& name) const {
    if (!node.is_number()) return wrong(node, fmt::format("{} must be a number", name));
    const double seen = node.value_or(std::nan(""));
    if (!std::isfinite(seen)) return wrong(node, fmt::format("{} must be a finite number", name));
    const auto outside = [&](std::string_view bound, std::string_view words, auto fails) -> Violation {
      const std::optional<double> limit = rule[bound].value<double>();
      if (!limit || !fails(seen, *limit)) return std::nullopt;
      return wrong(node, fmt::format("{} = {} must be {} {}", name, seen, words, *limit));
    };
    if (Violation found = outside("at_least", "at least", [](double x, double l) { return x < l; })) return found;
    if (Violation found = outside("at_most", "at most", [](double x, double l) { return x > l; })) return found;
    if (Violation found = outside("more_than", "more than", [](double x, double l) { return x <= l; })) return found;
    return outside("less_than", "less than", [](double x, double l) { return x >= l; });
  }

  Violation text(const toml::node& node, const toml::table& rule, bool is_source, const std::string& name) const {
    const std::optional<std::string> seen = node.value_exact<std::string>();
    if (!seen) return wrong(node, fmt::format("{} must be text in quotes", name));
    if (seen->empty()) return wrong(node, fmt::format("{} must not be empty", name));
    if (is_source && !sources_.contains(*seen)) {
      return wrong(node, fmt::format("{}: source \"{}\" is not in sources.bib; add it there or correct the key", name,
                                     *seen));
    }
    const toml::array* words = rule["one_of"].as_array();
    if (!words) return std::nullopt;
    std::vector<std::string> allowed;
    for (const toml::node& word : *words) allowed.push_back(word.value_or(std::string{}));
    for (const std::string& word : allowed) {
      if (word == *seen) return std::nullopt;
    }
    return wrong(node, fmt::format("{} = \"{}\" must be one of: {}", name, *seen, fmt::join(allowed, ", ")));
  }

  Handbook::Error wrong(const toml::node& node, std::string message) const {
    const toml::source_position at = node.source().begin;
    return {std::string(file_), static_cast<int>(at.line), static_cast<int>(at.column), std::move(message)};
  }

  static const toml::table& as_table(const toml::node& node) {
    const toml::table* found = node.as_table();
    if (!found) throw std::logic_error("schema.toml: a rule must be a table");
    return *found;
  }

  // "mu_a" if the table has a name of its own, else the way to it.
  static std::string label_of(const toml::table& table, const std::string& way) {
    for (const std::string_view key : {"name", "key"}) {
      if (const std::optional<std::string> own = table[key].value<std::string>()) return fmt::format("\"{}\": ", *own);
    }
    return way + ": ";
  }

  static std::string keys_of(const toml::table& rules) {
    std::vector<std::string_view> keys;
    for (const auto& [key, rule] : rules) keys.push_back(key.str());
    return fmt::format("{}", fmt::join(keys, ", "));
  }

  const toml::table& schema_;
  std::string_view file_;
  const SourceKeys& sources_;
};

}  // namespace

std::optional<Handbook::Error> schema_violation(std::string_view text, std::string_view kind, std::string_view file,
                                                std::string_view schema, const SourceKeys& sources) {
  const toml::table rules = [&] {
    try {
      return toml::parse(schema, std::string_view("schema.toml"));
    } catch (const toml::parse_error& error) {
      throw std::logic_error(fmt::format("schema.toml:{}: {}", error.source().begin.line, error.description()));
    }
  }();
  try {
    const toml::table document = toml::parse(text, file);
    const Check check(rules, file, sources);
    return check.table(document, check.rules("file", kind), "");
  } catch (const toml::parse_error& error) {
    const toml::source_position at = error.source().begin;
    return Handbook::Error{std::string(file), static_cast<int>(at.line), static_cast<int>(at.column),
                           std::string(error.description())};
  }
}

}  // namespace helmwater::handbook
