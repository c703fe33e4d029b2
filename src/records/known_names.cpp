// SPDX-License-Identifier: Apache-2.0
#include "records/known_names.hpp"

#include <algorithm>
#include <array>

#include "records/words.hpp"

namespace helmwater::records {
namespace {

// Species usual in small recirculating loops with plants, after the lists in Somerville et al. 2014 (FAO Technical
// Paper 589); short forms and scientific names beside them.
constexpr std::array<std::string_view, 38> kSpecies{
    "nile tilapia",       "tilapia",         "oreochromis niloticus",
    "common carp",        "carp",            "koi",
    "cyprinus carpio",    "channel catfish", "ictalurus punctatus",
    "african catfish",    "clarias gariepinus", "rainbow trout",
    "trout",              "oncorhynchus mykiss", "barramundi",
    "lates calcarifer",   "flathead mullet", "mullet",
    "mugil cephalus",     "giant river prawn", "prawn",
    "macrobrachium rosenbergii", "silver perch", "bidyanus bidyanus",
    "jade perch",         "scortum barcoo",  "murray cod",
    "maccullochella peelii", "largemouth bass", "micropterus salmoides",
    "yellow perch",       "perca flavescens", "goldfish",
    "carassius auratus",  "bluegill",        "lepomis macrochirus",
    "nile tilapia fingerling", "tilapia fingerling"};

constexpr std::array<std::string_view, 34> kCrops{
    "basil",     "lettuce",  "swiss chard", "chard",       "parsley",       "cabbage",      "broccoli",
    "cauliflower", "cucumber", "eggplant",  "aubergine",   "pepper",        "tomato",       "tomatoe",
    "bean",      "pea",      "beans and pea", "kale",      "pak choi",      "spinach",      "arugula",
    "rocket",    "coriander", "chive",      "mint",        "oregano",       "mustard green", "strawberry",
    "strawberrie", "okra",   "watercress",  "water spinach", "celery",      "dill"};
constexpr std::array<std::string_view, 4> kMoreCrops{"zucchini", "courgette", "microgreen", "cilantro"};

// Lower case, without a trailing bracket, without a plural s.
std::string plain_name(std::string_view name) {
  std::string word = key_word(name.substr(0, name.find('(')));
  if (word.size() > 3 && word.back() == 's' && word[word.size() - 2] != 's') word.pop_back();
  return word;
}

template <std::size_t N>
bool among(const std::array<std::string_view, N>& names, std::string_view name) {
  const std::string full = key_word(name.substr(0, name.find('(')));
  const std::string singular = plain_name(name);
  return std::any_of(names.begin(), names.end(), [&](std::string_view n) { return n == full || n == singular; });
}

}  // namespace

bool is_known_species(std::string_view name) { return among(kSpecies, name); }
bool is_known_crop(std::string_view name) { return among(kCrops, name) || among(kMoreCrops, name); }

}  // namespace helmwater::records
