// SPDX-License-Identifier: Apache-2.0
// From checked texts to plain values. What the schema cannot say is checked here: names given once, strengths
// rising, liquids with a strength, cautions that exist, and that nothing called seen rests on memory.
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <toml++/toml.h>
#include <utility>
#include <vector>

#include "handbook/built_in_texts.hpp"
#include "handbook/handbook.hpp"
#include "handbook/schema.hpp"
#include "handbook/sources.hpp"

namespace helmwater::handbook {
namespace {

using Error = Handbook::Error;

constexpr std::string_view kReagentsFile = "reagents.toml";
constexpr std::string_view kPriorsFile = "priors.toml";
constexpr std::string_view kLimitsFile = "limits.toml";
constexpr std::string_view kFishFile = "fish.toml";
constexpr std::string_view kCausesFile = "causes.toml";
constexpr std::string_view kSourcesFile = "sources.bib";

Error wrong(std::string_view file, const toml::node& node, std::string message) {
  const toml::source_position at = node.source().begin;
  return {std::string(file), static_cast<int>(at.line), static_cast<int>(at.column), std::move(message)};
}

std::string text(const toml::table& table, std::string_view key) { return table[key].value_or(std::string{}); }
double number(const toml::table& table, std::string_view key) { return table[key].value_or(0.0); }

Confidence confidence(const toml::table& table) {
  const std::string word = text(table, "confidence");
  if (word == "seen") return Confidence::seen;
  if (word == "second_hand") return Confidence::second_hand;
  if (word == "derived") return Confidence::derived;
  return word == "memory" ? Confidence::memory : Confidence::estimate;
}

Fact fact(const toml::table& table) {
  return {number(table, "value"), text(table, "unit"), text(table, "source"), confidence(table)};
}

// The first table, at any depth, that calls a number seen although no text stands behind it.
std::optional<Error> seen_without_text(const toml::table& table, std::string_view file) {
  const std::string source = text(table, "source");
  if (text(table, "confidence") == "seen" && is_without_text(source)) {
    return wrong(file, table, fmt::format("a number from \"{}\" cannot have confidence \"seen\"", source));
  }
  for (const auto& [key, node] : table) {
    if (const toml::table* inner = node.as_table()) {
      if (auto found = seen_without_text(*inner, file)) return found;
    }
    if (const toml::array* list = node.as_array()) {
      for (const toml::node& element : *list) {
        if (const toml::table* inner = element.as_table()) {
          if (auto found = seen_without_text(*inner, file)) return found;
        }
      }
    }
  }
  return std::nullopt;
}

// Calls `use` with each table of a top-level list; the schema has made sure that it is one.
template <class Use>
std::optional<Error> each(const toml::table& document, std::string_view list, Use use) {
  for (const toml::node& node : *document[list].as_array()) {
    if (std::optional<Error> found = use(*node.as_table())) return found;
  }
  return std::nullopt;
}

tl::expected<std::vector<Reagent>, Error> reagents_of(const toml::table& document) {
  std::map<std::string, std::string> cautions;
  std::vector<Reagent> reagents;
  std::set<std::string> names;
  std::optional<Error> found = each(document, "caution", [&](const toml::table& table) -> std::optional<Error> {
    if (cautions.emplace(text(table, "key"), text(table, "says")).second) return std::nullopt;
    return wrong(kReagentsFile, table, fmt::format("caution \"{}\" is listed twice", text(table, "key")));
  });
  if (found) return tl::unexpected(*found);

  found = each(document, "reagent", [&](const toml::table& table) -> std::optional<Error> {
    Reagent reagent;
    reagent.name = text(table, "name");
    reagent.formula = text(table, "formula");
    reagent.note = text(table, "note");
    reagent.liquid = table["liquid"].value_or(false);
    reagent.molar_mass = fact(*table["molar_mass"].as_table());

    const toml::table& per_mole = *table["per_mole"].as_table();
    reagent.alkalinity_eq_per_mol = number(per_mole, "alkalinity_eq");
    reagent.carbon_mol_per_mol = number(per_mole, "carbon_mol");
    reagent.ammonia_n_mol_per_mol = number(per_mole, "ammonia_n_mol");
    reagent.urea_n_mol_per_mol = number(per_mole, "urea_n_mol");
    reagent.nitrate_n_mol_per_mol = number(per_mole, "nitrate_n_mol");
    reagent.phosphate_p_mol_per_mol = number(per_mole, "phosphate_p_mol");
    reagent.source = text(per_mole, "source");
    if (const toml::table* ions = table["ions"].as_table()) {
      reagent.ions = {number(*ions, "potassium_mol"), number(*ions, "calcium_mol"),  number(*ions, "magnesium_mol"),
                      number(*ions, "sodium_mol"),    number(*ions, "chloride_mol"), number(*ions, "sulfate_mol")};
    }
    if (const toml::table* chlorine = table["chlorine_removed"].as_table()) {
      reagent.chlorine_removed_g_per_g = number(*chlorine, "value");
    }

    if (const toml::array* aliases = table["aliases"].as_array()) {
      for (const toml::node& alias : *aliases) reagent.aliases.push_back(alias.value_or(std::string{}));
    }
    std::vector<std::string> known_as = reagent.aliases;
    known_as.insert(known_as.begin(), reagent.name);
    for (const std::string& name : known_as) {
      if (name != matched_name(name)) {
        return wrong(kReagentsFile, table, fmt::format("name \"{}\" must be lower case and without a bracket", name));
      }
      if (!names.insert(name).second) {
        return wrong(kReagentsFile, table, fmt::format("the name \"{}\" is given twice", name));
      }
    }

    if (const toml::array* strengths = table["strength"].as_array()) {
      for (const toml::node& node : *strengths) {
        const toml::table& row = *node.as_table();
        const double percent = number(row, "percent_w_w");
        if (!reagent.strengths.empty() && percent <= reagent.strengths.back().percent_w_w) {
          return wrong(kReagentsFile, row, fmt::format("\"{}\": strengths must rise; {} follows {}", reagent.name, percent,
                                                       reagent.strengths.back().percent_w_w));
        }
        reagent.strengths.push_back({percent, number(row, "density_g_per_ml"), text(row, "source"), confidence(row)});
      }
    }
    if (reagent.liquid && reagent.strengths.empty()) {
      return wrong(kReagentsFile, table, fmt::format("\"{}\" is a liquid: \"strength\" is missing", reagent.name));
    }

    for (const toml::node& node : *table["cautions"].as_array()) {
      const std::string key = node.value_or(std::string{});
      const auto caution = cautions.find(key);
      if (caution == cautions.end()) {
        return wrong(kReagentsFile, node, fmt::format("\"{}\": there is no caution \"{}\"", reagent.name, key));
      }
      reagent.cautions.push_back(caution->second);
    }
    if (reagent.cautions.empty()) {
      return wrong(kReagentsFile, table, fmt::format("\"{}\" needs at least one caution", reagent.name));
    }
    reagents.push_back(std::move(reagent));
    return std::nullopt;
  });
  if (found) return tl::unexpected(*found);
  return reagents;
}

// Puts the two numbers of the distribution where Prior keeps them.
void fill_distribution(Prior& prior, const toml::table& table) {
  const std::string shape = text(table, "shape");
  if (shape == "normal") {
    prior.shape = Prior::Shape::normal;
    prior.a = number(table, "mean");
    prior.b = number(table, "sd");
  } else if (shape == "lognormal") {
    prior.shape = Prior::Shape::lognormal;
    prior.a = number(table, "median");
    prior.b = number(table, "ln_sd");
  } else if (shape == "beta") {
    prior.shape = Prior::Shape::beta;
    prior.a = number(table, "alpha");
    prior.b = number(table, "beta");
  } else {
    prior.shape = Prior::Shape::fixed;
    prior.a = number(table, "value");
  }
}

tl::expected<std::vector<Prior>, Error> priors_of(const toml::table& document) {
  std::vector<Prior> priors;
  std::set<std::string> names;
  const std::optional<Error> found = each(document, "prior", [&](const toml::table& table) -> std::optional<Error> {
    Prior prior;
    prior.name = text(table, "name");
    prior.unit = text(table, "unit");
    prior.says = text(table, "says");
    prior.note = text(table, "note");
    prior.cut_at_zero = table["cut_at_zero"].value_or(false);
    prior.source = text(table, "source");
    prior.confidence = confidence(table);
    fill_distribution(prior, table);
    if (!names.insert(prior.name).second) {
      return wrong(kPriorsFile, table, fmt::format("prior \"{}\" is listed twice", prior.name));
    }
    priors.push_back(std::move(prior));
    return std::nullopt;
  });
  if (found) return tl::unexpected(*found);
  return priors;
}

tl::expected<std::vector<Limit>, Error> limits_of(const toml::table& document, const char* list = "limit",
                                                  std::string_view file = kLimitsFile) {
  std::vector<Limit> limits;
  std::set<std::string> names;
  const std::optional<Error> found = each(document, list, [&](const toml::table& table) -> std::optional<Error> {
    Limit limit{text(table, "name"), fact(table), text(table, "says"), text(table, "note")};
    if (!names.insert(limit.name).second) {
      return wrong(file, table, fmt::format("{} \"{}\" is listed twice", list, limit.name));
    }
    limits.push_back(std::move(limit));
    return std::nullopt;
  });
  if (found) return tl::unexpected(*found);
  return limits;
}

tl::expected<std::vector<Fish>, Error> fish_of(const toml::table& document) {
  std::vector<Fish> all;
  std::set<std::string> names;
  const std::optional<Error> found = each(document, "fish", [&](const toml::table& table) -> std::optional<Error> {
    Fish fish;
    fish.name = text(table, "name");
    fish.warm_water = text(table, "water") == "warm";
    fish.note = text(table, "note");
    std::vector<std::string> called{fish.name};
    if (const toml::array* list = table["aliases"].as_array()) {
      for (const toml::node& alias : *list) fish.aliases.push_back(alias.value_or(std::string{}));
      called.insert(called.end(), fish.aliases.begin(), fish.aliases.end());
    }
    for (const std::string& name : called) {
      if (name != matched_name(name)) return wrong(kFishFile, table, fmt::format("\"{}\" must be in lower case", name));
      if (!names.insert(name).second) return wrong(kFishFile, table, fmt::format("fish \"{}\" is listed twice", name));
    }
    const auto degrees = [&](const char* key, Fact& low, Fact& high) {
      const toml::table& range = *table[key].as_table();
      low = high = Fact{0, text(range, "unit"), text(range, "source"), confidence(range)};
      low.value = number(range, "low");
      high.value = number(range, "high");
      return low.value < high.value;
    };
    if (!degrees("lives", fish.lives_low, fish.lives_high) || !degrees("thrives", fish.thrives_low, fish.thrives_high) ||
        fish.thrives_low.value < fish.lives_low.value || fish.thrives_high.value > fish.lives_high.value) {
      return wrong(kFishFile, table, fmt::format("fish \"{}\": temperatures must rise, and it thrives where it lives", fish.name));
    }
    if (const toml::table* eats = table["eats_from"].as_table()) fish.eats_from = fact(*eats);
    if (const toml::array* rations = table["ration"].as_array()) {
      double reached = 0;
      for (const toml::node& node : *rations) {
        const toml::table& row = *node.as_table();
        const Fish::Ration r{number(row, "from_g"), number(row, "to_g"), number(row, "low"), number(row, "high"),
                             text(row, "source"), confidence(row)};
        if (r.from_g < reached || r.to_g <= r.from_g || r.high_percent < r.low_percent) {
          return wrong(kFishFile, row, fmt::format("fish \"{}\": rations must rise in weight, low before high", fish.name));
        }
        reached = r.to_g;
        fish.rations.push_back(r);
      }
    }
    all.push_back(std::move(fish));
    return std::nullopt;
  });
  if (found) return tl::unexpected(*found);
  return all;
}

tl::expected<std::vector<Cause>, Error> causes_of(const toml::table& document, const std::vector<Reagent>& reagents) {
  std::vector<Cause> causes;
  std::set<std::string> names;
  const std::optional<Error> found = each(document, "cause", [&](const toml::table& table) -> std::optional<Error> {
    Cause cause{text(table, "name"), text(table, "title"), text(table, "says"), number(table, "weight"), text(table, "test"),
                text(table, "look"), text(table, "remedy"), text(table, "reagent"), {}, text(table, "source"), confidence(table), {}, {}};
    if (!names.insert(cause.name).second) {
      return wrong(kCausesFile, table, fmt::format("cause \"{}\" is listed twice", cause.name));
    }
    if (const toml::array* list = table["cautions"].as_array()) {
      for (const toml::node& caution : *list) cause.cautions.push_back(caution.value_or(std::string{}));
    }
    // What is dosed is dosed with its cautions.
    if (!cause.reagent.empty()) {
      const auto reagent = std::find_if(reagents.begin(), reagents.end(), [&](const Reagent& r) { return r.name == cause.reagent; });
      if (reagent == reagents.end()) {
        return wrong(kCausesFile, table, fmt::format("\"{}\": there is no reagent \"{}\"", cause.name, cause.reagent));
      }
      cause.cautions.insert(cause.cautions.end(), reagent->cautions.begin(), reagent->cautions.end());
    }
    std::set<std::string> whats;
    if (const toml::array* list = table["supposes"].as_array()) {
      for (const toml::node& node : *list) {
        const toml::table& row = *node.as_table();
        cause.supposes.push_back({text(row, "what"), text(row, "says"), text(row, "unit"), number(row, "median"), number(row, "ln_sd")});
        if (!whats.insert(cause.supposes.back().what).second) {
          return wrong(kCausesFile, row, fmt::format("\"{}\" supposes \"{}\" twice", cause.name, cause.supposes.back().what));
        }
      }
    }
    if (const toml::array* list = table["clue"].as_array()) {
      for (const toml::node& node : *list) {
        const toml::table& row = *node.as_table();
        cause.clues.push_back({text(row, "when"), number(row, "factor"), text(row, "says")});
      }
    }
    causes.push_back(std::move(cause));
    return std::nullopt;
  });
  if (found) return tl::unexpected(*found);
  return causes;
}

}  // namespace

tl::expected<Handbook, Handbook::Error> Handbook::load(std::string_view reagents_toml, std::string_view priors_toml,
                                                       std::string_view limits_toml, std::string_view sources_bib,
                                                       std::string_view fish_toml, std::string_view causes_toml) {
  const auto sources = source_keys(sources_bib, kSourcesFile);
  if (!sources) return tl::unexpected(sources.error());
  const auto checked = [&](std::string_view words, std::string_view kind,
                           std::string_view file) -> tl::expected<toml::table, Error> {
    if (auto found = schema_violation(words, kind, file, kSchemaToml, *sources)) return tl::unexpected(*found);
    toml::table document = toml::parse(words, file);
    if (auto found = seen_without_text(document, file)) return tl::unexpected(*found);
    return document;
  };
  auto reagents = checked(reagents_toml, "reagents", kReagentsFile).and_then(reagents_of);
  if (!reagents) return tl::unexpected(reagents.error());
  auto priors = checked(priors_toml, "priors", kPriorsFile).and_then(priors_of);
  if (!priors) return tl::unexpected(priors.error());
  auto limits = checked(limits_toml, "limits", kLimitsFile).and_then([](const toml::table& document) { return limits_of(document); });
  if (!limits) return tl::unexpected(limits.error());
  std::vector<Fish> known_fish;
  if (!fish_toml.empty()) {
    auto fish = checked(fish_toml, "fish", kFishFile).and_then(fish_of);
    if (!fish) return tl::unexpected(fish.error());
    known_fish = std::move(*fish);
  }
  std::vector<Cause> causes;
  std::vector<Limit> thresholds;
  if (!causes_toml.empty()) {
    const auto document = checked(causes_toml, "causes", kCausesFile);
    if (!document) return tl::unexpected(document.error());
    auto all = causes_of(*document, *reagents);
    if (!all) return tl::unexpected(all.error());
    auto needed = limits_of(*document, "threshold", kCausesFile);
    if (!needed) return tl::unexpected(needed.error());
    causes = std::move(*all);
    thresholds = std::move(*needed);
  }

  Handbook handbook;
  handbook.fish_ = std::move(known_fish);
  handbook.causes_ = std::move(causes);
  handbook.thresholds_ = std::move(thresholds);
  handbook.reagents_ = std::move(*reagents);
  handbook.priors_ = std::move(*priors);
  handbook.limits_ = std::move(*limits);
  return handbook;
}

}  // namespace helmwater::handbook
