// SPDX-License-Identifier: Apache-2.0
// The entries of a loop's log as plain values: what was read, what was done, when.
#pragma once
#include <limits>
#include <map>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "records/instant.hpp"
#include "records/loop.hpp"
#include "units/quantity.hpp"

namespace helmwater::records {

// What a reading says about the kit's own number before the kit's noise and bias, in the reading's own unit and basis
// (pH in pH units). `interval`: somewhere in [low, high], ends may be infinite (low end of a concentration is 0).
// `lognormal`: a plain number of a kit without steps, sd is of ln(value). `normal`: `x±s`, or a pH or meter value.
struct Seen {
  enum class Shape { interval, normal, lognormal } shape = Shape::interval;
  double low = 0;
  double high = std::numeric_limits<double>::infinity();  // for normal and lognormal: one sd either side
  double centre = 0;                                      // normal and lognormal
  double sd = 0;
  bool kit_noise = true;      // false for `±` and meters: nothing comes on top
  bool doubted = false;       // `x?`: misread probability 0.5
};

struct Reading {
  Test test = Test::ammonia;
  Basis basis = Basis::none;  // of the numbers in `seen`
  Seen seen;
  std::string value_text;     // the log's text, unchanged
  int kit = -1;               // index into Loop::kits, -1: none
  bool meter = false;
};

// How much was dosed. `grams`/`millilitres` of the product, or the effect that was aimed at (mg/L in `basis`).
struct Dose {
  enum class Amount { grams, millilitres, raise_by, raise_to } how = Amount::grams;
  double amount = 0;
  Basis basis = Basis::none;      // for raise_by and raise_to: of ammonia, or caco3 (alkalinity)
  std::string substance;          // handbook name
  std::optional<double> percent;  // strength w/w, or purity of a solid
};

struct WaterChange {
  std::optional<double> share;           // 0..1 of all water
  std::optional<units::Litres> litres;
  std::string source;
};
struct TopUp {
  std::optional<double> share;
  std::optional<units::Litres> litres;
  std::string source;
};
struct Feed {
  units::Grams amount{0};
  double protein_percent = 32;
};
struct FishMove {
  bool in = true;
  double count = 0;
  std::string species;              // empty: not said
  std::optional<units::Grams> mean_weight;
  std::string why;                  // stocked, harvested, died
};
struct PlantMove {
  bool in = true;
  std::optional<double> count;
  std::optional<units::SquareMetres> area;
  std::string crop;
  std::string stage;
  std::optional<units::Grams> yield;
};
struct Seed {
  double amount = 0;
  std::string unit;                 // mL, L, m2
  enum class Kind { bottled_culture, mature_media, established_water, other } kind = Kind::other;
};
struct VolumeChange {
  units::Litres litres{0};
};
struct Medication {};
struct Switch {
  enum class Device { pump, air, light, heater } device = Device::pump;
  bool on = true;
};
struct Note {};

using Body = std::variant<Reading, Dose, WaterChange, TopUp, Feed, FishMove, PlantMove, Seed, VolumeChange, Medication,
                          Switch, Note>;

struct Entry {
  int line = 0;  // in log.csv, header = 1; 0: never written
  Instant when;
  bool to_the_minute = false;
  Body body;
  // The row as written, for a lossless round trip.
  std::string when_text, what_text, value_text, unit_text, detail_text;
  std::map<std::string, std::string> more;  // further columns by header name
};

// Something odd but usable. `entry` is the line in log.csv, nullopt: about the loop as a whole.
struct Doubt {
  std::optional<int> entry;
  std::string code;  // snake_case
  std::string text;  // one plain sentence
};

// A loop with its log, entries sorted by time (readings before actions at equal times, actions in file order).
// Duplicates (a line equal in all five fields and timed to the minute) are left out of `entries`, with a doubt.
struct LoopLog {
  Loop loop;
  std::vector<Entry> entries;
  std::vector<Doubt> doubts;
  std::vector<std::string> columns;        // header of log.csv as read
  std::vector<Entry> dropped_duplicates;   // kept so that writing loses nothing
  // Rows that another row supersedes, or that are withdrawn: never used, kept for writing. Their body is a Note.
  std::vector<Entry> not_in_force;
};

// The plan that is in force: what is written, else the default for this loop (fishless: to_target; fish in: the mean
// feed of the log's last 7 days).
Plan effective_plan(const LoopLog& log);
units::Litres volume_at(const LoopLog& log, Instant at);  // stated, with the log's changes up to then
bool has_fish(const LoopLog& log, Instant at);  // start = fish, or more fish in than out

}  // namespace helmwater::records
