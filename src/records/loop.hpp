// SPDX-License-Identifier: Apache-2.0
// One recirculating loop as its owner describes it (loop.toml), as plain values. Absent is nullopt.
#pragma once
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "records/instant.hpp"
#include "units/quantity.hpp"

namespace helmwater::records {

enum class Test {
  ammonia, nitrite, nitrate, ph, alkalinity, oxygen, temperature, conductivity,
  phosphate, iron, potassium, calcium, magnesium, chloride, chlorine
};
// What the numbers of a test count.
enum class Basis { none, n, nh3, nh4, no2, no3, caco3, dkh, meq, p, po4 };

std::string_view to_text(Test);
std::string_view to_text(Basis);  // "N", "NH3", "CaCO3", …
std::optional<Test> test_from(std::string_view word);  // letter case ignored
const std::vector<std::string>& test_names();
// The bases a test's numbers may be counted in, the standard one first; empty: the test has none.
const std::vector<Basis>& bases_of(Test test);
// Mass or charge in water, so that dilution and geometric midpoints make sense; not pH, temperature, conductivity.
bool is_concentration(Test test);

// Factor from a value in `basis` to the test's standard basis: mg/L N for ammonia, nitrite and nitrate, meq/L for
// alkalinity, mg/L P for phosphate; 1 for all others.
double to_standard_factor(Test test, Basis basis);

struct Kit {
  Test test = Test::ammonia;
  Basis basis = Basis::none;
  std::vector<double> steps;  // rising; empty: not known
  std::optional<std::string> id;
  std::optional<std::string> lot;
  std::optional<Instant> from;
  std::optional<Instant> until;  // no longer valid at this instant
};

enum class Start { unseeded, bottled_culture, fish, seeded_media };
enum class Bed { media, raft, film, mixed };
enum class Air { none, gentle, strong };
enum class Disinfectant { none, chlorine, chloramine };

struct SourceWater {
  std::optional<double> ph;
  std::optional<units::AlkalinityCaCO3> alkalinity;
  std::optional<units::NitrateIon> nitrate;
  std::optional<Disinfectant> disinfectant;
  std::optional<units::ChlorineCl2> disinfectant_dose;
};

struct Media {
  std::optional<units::Litres> volume;
  std::optional<double> specific_surface_m2_m3;
};

enum class Redose { none, to_target };
struct Plan {
  Redose redose = Redose::none;
  units::AmmoniaNH3 redose_to{2.0};
  units::AmmoniaNH3 redose_below{0.25};
  units::NitriteIon redose_while_nitrite_below{5.0};
  std::optional<units::AlkalinityCaCO3> buffer_below;
  std::optional<units::AlkalinityCaCO3> buffer_to;
  std::optional<double> feed_g_per_day;
  double protein_percent = 32;
  units::AmmoniaNH3 ready_load{2.0};
  // The keys a loop file wrote; the others take this loop's defaults. Empty: a plan made by a program, taken whole.
  std::vector<std::string> written;
};

struct Loop {
  std::string name;
  units::Litres volume{0};
  units::Litres volume_sd{0};   // default: 10 % of volume
  std::optional<std::string> time_zone;  // IANA; absent: UTC
  std::optional<Instant> started;
  bool started_is_date = false;  // written as a date alone; it is noon then, or the first entry of that day if earlier
  Start start = Start::unseeded;
  std::optional<units::SquareMetres> seed_area;
  std::optional<std::string> seed_note;
  units::Celsius typical_temperature{22};
  Bed bed = Bed::media;
  units::SquareMetres bed_area{0};
  double turnover_per_h = 1;
  Air air = Air::gentle;
  Media media;
  SourceWater source_water;
  std::vector<Kit> kits;
  std::optional<Plan> plan;  // as written; see effective_plan()
  std::vector<std::string> written;  // the top-level keys a loop file gave; the others are defaults

  std::string zone() const { return time_zone.value_or("UTC"); }
};

}  // namespace helmwater::records
