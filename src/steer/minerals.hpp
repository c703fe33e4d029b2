// SPDX-License-Identifier: Apache-2.0
// A ledger of the ions that stay in the water: what doses brought, what water changes took, what evaporation concentrated,
// what a test showed (docs/model/minerals.md). Numbers only: no limits and no advice.
#pragma once
#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "handbook/handbook.hpp"
#include "records/entry.hpp"

namespace helmwater::steer {

enum class Mineral { potassium, calcium, magnesium, iron, chloride, sodium, sulfate };
inline constexpr std::size_t kMinerals = 7;
std::string_view to_text(Mineral);
// Of the ion, g/mol.
double molar_mass(Mineral);
// mg of the ion in a gram of the pure substance, by its formula.
std::array<double, kMinerals> milligrams_per_gram(const handbook::Reagent& reagent);

// mg/L. `high` may be infinite after a reading that is open above. The ends stand for a twentieth to either side.
struct MineralRange {
  double low = 0, middle = 0, high = 0;
};

// What new water holds, the first filling included; absent: not known.
struct MineralSource {
  std::array<std::optional<MineralRange>, kMinerals> mg_l;
};

struct MineralPoint {
  enum class Why { start, dose, water_change, top_up, reading, end } why = Why::start;
  records::Instant when;
  double day = 0;  // from the start
  int line = 0;    // in log.csv; 0: no line
  MineralRange mg_l;  // right after it
};

struct MineralCourse {
  Mineral mineral = Mineral::potassium;
  std::vector<MineralPoint> points;  // by time; before what changes it at a stroke, and after
  std::optional<records::Instant> read;  // the last reading that set it
  // All that is in the water is counted: the source water is known, or a test was read and no unknown water came since.
  bool whole = false;
  const MineralRange& at_end() const { return points.back().mg_l; }
  bool empty() const;  // nothing brought and nothing read
};

struct MineralLedger {
  records::Instant start, end;
  std::array<MineralCourse, kMinerals> courses;  // by Mineral
  struct NotCounted {
    int line = 0;
    std::string why;
  };
  std::vector<NotCounted> not_counted;  // lines that speak of these ions but cannot be booked
};

// From the loop's start (else its first entry) to its last entry; entries before the start do not count. Of the log's
// plain deeds only: feed and plants move these ions too, by amounts nobody has measured here.
MineralLedger mineral_ledger(const records::LoopLog& log, const MineralSource& source = {});

}  // namespace helmwater::steer
