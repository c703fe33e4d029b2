// SPDX-License-Identifier: Apache-2.0
#include "handbook/handbook.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <stdexcept>

#include "handbook/built_in_texts.hpp"

namespace helmwater::handbook {
namespace {

constexpr double kWaterDensity = 1.000;  // g/mL, to the three digits the strength tables carry

template <class Entry>
const Entry& named(const std::vector<Entry>& entries, std::string_view name, std::string_view kind) {
  const auto found = std::find_if(entries.begin(), entries.end(), [&](const Entry& e) { return e.name == name; });
  if (found == entries.end()) throw std::out_of_range(fmt::format("the handbook has no {} \"{}\"", kind, name));
  return *found;
}

}  // namespace

std::string matched_name(std::string_view name) {
  const auto is_space = [](char c) { return c == ' ' || c == '\t'; };
  const auto trim_end = [&] {
    while (!name.empty() && is_space(name.back())) name.remove_suffix(1);
  };
  trim_end();
  if (!name.empty() && name.back() == ')') {
    if (const std::size_t open = name.rfind('('); open != std::string_view::npos) name = name.substr(0, open);
    trim_end();
  }
  std::string matched;
  for (const char c : name) {
    if (is_space(c)) {
      if (!matched.empty() && matched.back() != ' ') matched += ' ';
    } else {
      matched += c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
    }
  }
  return matched;
}

double density_g_per_ml(const Reagent& reagent, double percent_w_w) {
  if (reagent.strengths.empty()) {
    throw std::logic_error(fmt::format("the handbook has no density for a solution of {}", reagent.name));
  }
  double low_percent = 0;
  double low_density = kWaterDensity;
  for (const Reagent::Strength& strength : reagent.strengths) {
    if (percent_w_w <= strength.percent_w_w) {
      const double share = std::max(0.0, percent_w_w - low_percent) / (strength.percent_w_w - low_percent);
      return low_density + share * (strength.density_g_per_ml - low_density);
    }
    low_percent = strength.percent_w_w;
    low_density = strength.density_g_per_ml;
  }
  return low_density;
}

const Handbook& Handbook::built_in() {
  static const Handbook handbook = [] {
    auto loaded = load(kReagentsToml, kPriorsToml, kLimitsToml, kSourcesBib, kFishToml, kCausesToml);
    if (!loaded) {
      const Error& error = loaded.error();
      throw std::logic_error(fmt::format("built-in handbook, {}:{}:{}: {}", error.file, error.line, error.column,
                                         error.message));
    }
    return *std::move(loaded);
  }();
  return handbook;
}

const Reagent* Handbook::reagent(std::string_view name) const {
  const std::string wanted = matched_name(name);
  for (const Reagent& reagent : reagents_) {
    if (reagent.name == wanted) return &reagent;
    if (std::find(reagent.aliases.begin(), reagent.aliases.end(), wanted) != reagent.aliases.end()) return &reagent;
  }
  return nullptr;
}

const Fish* Handbook::fish(std::string_view name) const {
  const std::string wanted = matched_name(name);
  if (wanted.empty()) return nullptr;
  for (const Fish& fish : fish_) {
    if (fish.name == wanted || std::find(fish.aliases.begin(), fish.aliases.end(), wanted) != fish.aliases.end()) return &fish;
  }
  const std::string padded = " " + wanted + " ";
  for (const Fish& fish : fish_) {
    if (padded.find(" " + fish.name + " ") != std::string::npos) return &fish;
  }
  return nullptr;
}

const Fish::Ration* Fish::ration_at(double grams) const {
  for (const Ration& r : rations) {
    if (grams >= r.from_g && grams < r.to_g) return &r;
  }
  return nullptr;
}

std::string_view to_text(Confidence confidence) {
  switch (confidence) {
    case Confidence::seen: return "seen";
    case Confidence::second_hand: return "second_hand";
    case Confidence::derived: return "derived";
    case Confidence::memory: return "memory";
    case Confidence::estimate: return "estimate";
  }
  return "estimate";
}

const Prior& Handbook::prior(std::string_view name) const { return named(priors_, name, "prior"); }
const Limit& Handbook::limit(std::string_view name) const { return named(limits_, name, "limit"); }
const Cause& Handbook::cause(std::string_view name) const { return named(causes_, name, "cause"); }
const Limit& Handbook::threshold(std::string_view name) const { return named(thresholds_, name, "threshold"); }

const Cause::Supposition& Cause::supposition(std::string_view what) const {
  const auto found = std::find_if(supposes.begin(), supposes.end(), [&](const Supposition& s) { return s.what == what; });
  if (found == supposes.end()) throw std::out_of_range(fmt::format("the cause \"{}\" supposes no \"{}\"", name, what));
  return *found;
}

}  // namespace helmwater::handbook
