// SPDX-License-Identifier: Apache-2.0
// What must not get into the handbook is refused with file, line and a reason.
#include <gtest/gtest.h>

#include <set>
#include <string>
#include <tuple>
#include <toml++/toml.h>

#include "csv_rows.hpp"
#include "handbook/handbook.hpp"
#include "handbook/sources.hpp"

namespace {

using helmwater::handbook::Handbook;
using helmwater::handbook_test::source_text;

// A small handbook that is right; each test spoils one thing. Line numbers below count from the first character.
struct Texts {
  std::string reagents = R"([[caution]]
key = "children"
says = "Keep it away from children."

[[reagent]]
name = "table acid"
formula = "HCl"
liquid = true
molar_mass = { value = 36.458, unit = "g/mol", source = "weights", confidence = "derived" }
per_mole = { alkalinity_eq = -1, source = "weights", confidence = "derived" }
cautions = ["children"]
strength = [
  { percent_w_w = 10, density_g_per_ml = 1.048, source = "from_memory", confidence = "memory" },
  { percent_w_w = 32, density_g_per_ml = 1.160, source = "weights", confidence = "seen" },
]
)";
  std::string priors = R"([[prior]]
name = "mu_a"
says = "Growth."
unit = "1/d"
shape = "lognormal"
median = 0.7
ln_sd = 0.4
source = "weights"
confidence = "seen"
)";
  std::string limits = R"([[limit]]
name = "nitrite_warm"
value = 1
unit = "mg/L as NO2"
source = "weights"
confidence = "seen"
says = "Keep nitrite low."
)";
  std::string bib = "@misc{weights, title = {Weights}}\n@misc{from_memory, title = {Recalled}}\n";
};

auto load(const Texts& t) { return Handbook::load(t.reagents, t.priors, t.limits, t.bib); }

void replace(std::string& text, const std::string& what, const std::string& by) {
  const std::size_t at = text.find(what);
  ASSERT_NE(at, std::string::npos) << what;
  text.replace(at, what.size(), by);
}

void expect_refused(const Texts& t, const std::string& file, int line, const std::string& words) {
  const auto loaded = load(t);
  ASSERT_FALSE(loaded.has_value()) << "accepted, expected: " << words;
  EXPECT_EQ(loaded.error().file, file);
  EXPECT_EQ(loaded.error().line, line) << loaded.error().message;
  EXPECT_NE(loaded.error().message.find(words), std::string::npos) << loaded.error().message;
}

TEST(Schema, accepts_a_handbook_that_is_right) {
  const auto loaded = load(Texts{});
  ASSERT_TRUE(loaded.has_value()) << loaded.error().message;
  EXPECT_EQ(loaded->reagents().size(), 1u);
  EXPECT_EQ(loaded->prior("mu_a").a, 0.7);
}

struct Spoilt {
  const char* what_is_wrong;
  std::string Texts::*text;
  const char* find;
  const char* put;
  const char* file;
  int line;
  const char* words;
};

class SpoiltHandbook : public testing::TestWithParam<Spoilt> {};

TEST_P(SpoiltHandbook, is_refused_with_file_and_line) {
  const Spoilt& spoilt = GetParam();
  Texts texts;
  replace(texts.*spoilt.text, spoilt.find, spoilt.put);
  expect_refused(texts, spoilt.file, spoilt.line, spoilt.words);
}

INSTANTIATE_TEST_SUITE_P(
    Each, SpoiltHandbook,
    testing::Values(
        Spoilt{"unknown_key", &Texts::reagents, "liquid = true", "liquidity = true", "reagents.toml", 8,
               "unknown key \"liquidity\"; allowed here: aliases"},
        Spoilt{"unknown_key_inside", &Texts::reagents, "alkalinity_eq", "alkalinity_meq", "reagents.toml", 10,
               "unknown key \"alkalinity_meq\""},
        Spoilt{"unknown_list", &Texts::priors, "[[prior]]", "[[priors]]", "priors.toml", 1, "unknown key \"priors\""},
        Spoilt{"number_as_text", &Texts::reagents, "36.458", "\"36.458\"", "reagents.toml", 9, "must be a number"},
        Spoilt{"not_finite", &Texts::limits, "value = 1", "value = nan", "limits.toml", 3, "must be a finite number"},
        Spoilt{"text_as_number", &Texts::reagents, "\"HCl\"", "1", "reagents.toml", 7, "must be text in quotes"},
        Spoilt{"empty_text", &Texts::priors, "\"1/d\"", "\"\"", "priors.toml", 4, "must not be empty"},
        Spoilt{"word_for_yes_no", &Texts::reagents, "= true", "= \"yes\"", "reagents.toml", 8, "true or false"},
        Spoilt{"list_expected", &Texts::reagents, "[\"children\"]", "\"children\"", "reagents.toml", 11, "must be a list"},
        Spoilt{"table_expected", &Texts::reagents, "{ value = 36.458, unit = \"g/mol\", source = \"weights\", confidence = \"derived\" }",
               "36.458", "reagents.toml", 9, "must be a table"},
        Spoilt{"bad_enum", &Texts::priors, "\"seen\"", "\"certain\"", "priors.toml", 9,
               "must be one of: seen, second_hand, derived, memory, estimate"},
        Spoilt{"bad_shape", &Texts::priors, "\"lognormal\"", "\"log-normal\"", "priors.toml", 5,
               "must be one of: normal, lognormal, beta, fixed"},
        Spoilt{"bad_unit", &Texts::reagents, "g/mol", "kg/mol", "reagents.toml", 9, "must be one of: g/mol"},
        Spoilt{"out_of_range", &Texts::reagents, "density_g_per_ml = 1.048", "density_g_per_ml = 1048", "reagents.toml",
               13, "must be at most 2.5"},
        Spoilt{"below_range", &Texts::limits, "value = 1", "value = -1", "limits.toml", 3, "must be at least 0"},
        Spoilt{"zero_spread", &Texts::priors, "ln_sd = 0.4", "ln_sd = 0", "priors.toml", 7, "must be more than 0"},
        Spoilt{"missing_source", &Texts::limits, "source = \"weights\"\n", "", "limits.toml", 1, "\"source\" is missing"},
        Spoilt{"missing_source_inside", &Texts::reagents, "alkalinity_eq = -1, source = \"weights\",", "alkalinity_eq = -1,",
               "reagents.toml", 10, "\"source\" is missing"},
        Spoilt{"missing_confidence", &Texts::priors, "confidence = \"seen\"\n", "", "priors.toml", 1,
               "\"confidence\" is missing"},
        Spoilt{"missing_unit", &Texts::priors, "unit = \"1/d\"\n", "", "priors.toml", 1, "\"unit\" is missing"},
        Spoilt{"missing_spread", &Texts::priors, "ln_sd = 0.4\n", "", "priors.toml", 1, "\"ln_sd\" is missing"},
        Spoilt{"number_of_another_shape", &Texts::priors, "ln_sd = 0.4", "ln_sd = 0.4\nsd = 0.4", "priors.toml", 8,
               "belongs to shape = \"normal\" only"},
        Spoilt{"source_not_listed", &Texts::limits, "\"weights\"", "\"wieghts\"", "limits.toml", 5,
               "source \"wieghts\" is not in sources.bib"},
        Spoilt{"memory_called_seen", &Texts::reagents, "confidence = \"memory\"", "confidence = \"seen\"", "reagents.toml",
               13, "cannot have confidence \"seen\""},
        Spoilt{"strengths_fall", &Texts::reagents, "percent_w_w = 32", "percent_w_w = 9", "reagents.toml", 14,
               "strengths must rise"},
        Spoilt{"unknown_caution", &Texts::reagents, "[\"children\"]", "[\"childern\"]", "reagents.toml", 11,
               "there is no caution \"childern\""},
        Spoilt{"no_caution", &Texts::reagents, "[\"children\"]", "[]", "reagents.toml", 5, "at least one caution"},
        Spoilt{"capital_name", &Texts::reagents, "\"table acid\"", "\"Table acid\"", "reagents.toml", 5, "lower case"},
        Spoilt{"broken_toml", &Texts::limits, "value = 1", "value = = 1", "limits.toml", 3, ""},
        Spoilt{"broken_bib", &Texts::bib, "@misc{weights, ", "@misc weights ", "sources.bib", 1, "begins with @kind{key,"},
        Spoilt{"bib_without_title", &Texts::bib, "title = {Recalled}", "year = 1", "sources.bib", 2, "has no title"},
        Spoilt{"bib_key_twice", &Texts::bib, "from_memory", "weights", "sources.bib", 2, "listed twice"}),
    [](const testing::TestParamInfo<Spoilt>& spoilt) { return std::string(spoilt.param.what_is_wrong); });

TEST(Schema, a_liquid_needs_a_strength) {
  Texts texts;
  const std::size_t at = texts.reagents.find("strength = [");
  texts.reagents.resize(at);
  expect_refused(texts, "reagents.toml", 5, "is a liquid: \"strength\" is missing");
}

TEST(Schema, names_are_given_once) {
  Texts texts;
  texts.priors += texts.priors;
  expect_refused(texts, "priors.toml", 10, "prior \"mu_a\" is listed twice");
  texts = Texts{};
  texts.limits += texts.limits;
  expect_refused(texts, "limits.toml", 8, "limit \"nitrite_warm\" is listed twice");
  texts = Texts{};
  replace(texts.reagents, "formula", "aliases = [\"table acid\"]\nformula");
  expect_refused(texts, "reagents.toml", 5, "the name \"table acid\" is given twice");
}

// ---- the shipped texts

// Calls `use` for every table of the document, at any depth.
template <class Use>
void each_table(const toml::table& table, const Use& use) {
  use(table);
  for (const auto& [key, node] : table) {
    if (const toml::table* inner = node.as_table()) each_table(*inner, use);
    if (const toml::array* list = node.as_array()) {
      for (const toml::node& element : *list) {
        if (const toml::table* inner = element.as_table()) each_table(*inner, use);
      }
    }
  }
}

std::set<std::string> used_sources(const toml::table& document) {
  std::set<std::string> used;
  each_table(document, [&](const toml::table& table) {
    if (const auto source = table["source"].value<std::string>()) used.insert(*source);
    if (const toml::array* also = table["also"].as_array()) {
      for (const toml::node& key : *also) used.insert(key.value_or(std::string{}));
    }
  });
  return used;
}

constexpr const char* kFish = R"([[fish]]
name = "minnow"
water = "cold"
water_source = "weights"
lives = { low = 4, high = 25, unit = "degC", source = "weights", confidence = "seen" }
thrives = { low = 10, high = 18, unit = "degC", source = "weights", confidence = "seen" }
ration = [
  { from_g = 1, to_g = 5, low = 3, high = 4, unit = "%/d", source = "weights", confidence = "seen" },
  { from_g = 5, to_g = 9, low = 1, high = 2, unit = "%/d", source = "weights", confidence = "seen" },
]
)";

TEST(FishTable, is_taken_or_refused_with_line_and_reason) {
  const Texts t;
  const auto with = [&](const char* find, const char* put) {
    std::string fish = kFish;
    if (*find != 0) replace(fish, find, put);
    return Handbook::load(t.reagents, t.priors, t.limits, t.bib, fish);
  };
  const auto right = with("", "");
  ASSERT_TRUE(right.has_value()) << right.error().message;
  ASSERT_NE(right->fish("young minnow"), nullptr);
  EXPECT_EQ(right->fish("young minnow")->ration_at(5)->high_percent, 2);
  EXPECT_EQ(right->fish("young minnow")->ration_at(9), nullptr);
  EXPECT_EQ(right->fish("minnows"), nullptr);
  for (const auto& [find, put, line, words] : {
           std::tuple{"\"cold\"", "\"lukewarm\"", 3, "lukewarm"},
           std::tuple{"high = 25", "high = 3", 1, "temperatures must rise"},
           std::tuple{"high = 18", "high = 28", 1, "thrives where it lives"},
           std::tuple{"from_g = 5", "from_g = 4", 9, "rations must rise"},
           std::tuple{"low = 1, high = 2", "low = 3, high = 2", 9, "rations must rise"},
           std::tuple{"\"minnow\"", "\"Minnow\"", 1, "lower case"},
           std::tuple{"ration = [", "food = [", 7, "unknown key \"food\""},
       }) {
    const auto wrong = with(find, put);
    ASSERT_FALSE(wrong.has_value()) << put;
    EXPECT_EQ(wrong.error().file, "fish.toml");
    EXPECT_EQ(wrong.error().line, line) << put << ": " << wrong.error().message;
    EXPECT_NE(wrong.error().message.find(words), std::string::npos) << wrong.error().message;
  }
}

constexpr const char* kCauses = R"([[threshold]]
name = "enough"
value = 0.5
unit = "1"
source = "weights"
confidence = "estimate"
says = "Enough."
[[cause]]
name = "stopped_clock"
title = "The clock has stopped"
says = "It does not tick."
weight = 2
test = "ph"
look = "Listen."
remedy = "Wind it up."
reagent = "table acid"
cautions = ["Springs jump."]
source = "weights"
confidence = "estimate"
supposes = [{ what = "ticks", says = "Ticks.", median = 3, ln_sd = 0.5, unit = "1/s", source = "weights", confidence = "estimate" }]
clue = [{ when = "silence", factor = 2, says = "it is silent", source = "weights", confidence = "estimate" }]
)";

TEST(CauseTable, is_taken_or_refused_with_line_and_reason) {
  const Texts t;
  const auto with = [&](const char* find, const char* put) {
    std::string causes = kCauses;
    if (*find != 0) replace(causes, find, put);
    return Handbook::load(t.reagents, t.priors, t.limits, t.bib, {}, causes);
  };
  const auto right = with("", "");
  ASSERT_TRUE(right.has_value()) << right.error().message;
  EXPECT_EQ(right->threshold("enough").fact.value, 0.5);
  const auto& cause = right->cause("stopped_clock");
  EXPECT_EQ(cause.supposition("ticks").median, 3);
  EXPECT_EQ(cause.clues.at(0).factor, 2);
  // Its own, and those of what it doses.
  EXPECT_EQ(cause.cautions, (std::vector<std::string>{"Springs jump.", "Keep it away from children."}));
  EXPECT_THROW(cause.supposition("tocks"), std::out_of_range);
  for (const auto& [find, put, line, words] : {
           std::tuple{"weight = 2", "weight = 0", 12, "weight"},
           std::tuple{"\"ph\"", "\"noise\"", 13, "noise"},
           std::tuple{"\"table acid\"", "\"oil\"", 8, "there is no reagent"},
           std::tuple{"factor = 2", "factor = -1", 21, "factor"},
           std::tuple{"says = \"It does", "words = \"It does", 11, "words"},
       }) {
    const auto wrong = with(find, put);
    ASSERT_FALSE(wrong.has_value()) << put;
    EXPECT_EQ(wrong.error().file, "causes.toml");
    EXPECT_EQ(wrong.error().line, line) << put << ": " << wrong.error().message;
    EXPECT_NE(wrong.error().message.find(words), std::string::npos) << wrong.error().message;
  }
}

TEST(ShippedHandbook, every_number_has_a_source_and_a_confidence) {
  for (const char* file : {"reagents", "priors", "limits", "fish", "causes"}) {
    int numbers = 0;
    each_table(toml::parse(source_text(std::string("data/handbook/") + file + ".toml")), [&](const toml::table& table) {
      for (const auto& [key, node] : table) {
        if (!node.is_number()) continue;
        ++numbers;
        EXPECT_TRUE(table.contains("source")) << file << ".toml:" << node.source().begin.line;
        EXPECT_TRUE(table.contains("confidence")) << file << ".toml:" << node.source().begin.line;
      }
    });
    EXPECT_GT(numbers, 20) << file;
  }
}

TEST(ShippedHandbook, every_listed_source_is_used) {
  std::set<std::string> used;
  for (const char* file : {"reagents", "priors", "limits", "fish", "causes"}) {
    used.merge(used_sources(toml::parse(source_text(std::string("data/handbook/") + file + ".toml"))));
  }
  const auto keys = helmwater::handbook::source_keys(source_text("data/handbook/sources.bib"), "sources.bib");
  ASSERT_TRUE(keys.has_value()) << keys.error().message;
  for (const std::string& key : *keys) EXPECT_TRUE(used.contains(key)) << "no number points at " << key;
}

TEST(ShippedHandbook, the_built_in_texts_are_the_files) {
  const auto from_files =
      Handbook::load(source_text("data/handbook/reagents.toml"), source_text("data/handbook/priors.toml"),
                     source_text("data/handbook/limits.toml"), source_text("data/handbook/sources.bib"),
                     source_text("data/handbook/fish.toml"), source_text("data/handbook/causes.toml"));
  ASSERT_TRUE(from_files.has_value()) << from_files.error().file << ":" << from_files.error().line << ": "
                                      << from_files.error().message;
  const Handbook& built_in = Handbook::built_in();
  ASSERT_EQ(built_in.priors().size(), from_files->priors().size());
  for (std::size_t i = 0; i < built_in.priors().size(); ++i) {
    EXPECT_EQ(built_in.priors()[i].name, from_files->priors()[i].name);
    EXPECT_EQ(built_in.priors()[i].a, from_files->priors()[i].a) << built_in.priors()[i].name;
  }
  EXPECT_EQ(built_in.reagents().size(), from_files->reagents().size());
  EXPECT_EQ(built_in.limits().size(), from_files->limits().size());
  EXPECT_EQ(built_in.all_fish().size(), from_files->all_fish().size());
  EXPECT_EQ(built_in.causes().size(), from_files->causes().size());
}

}  // namespace
