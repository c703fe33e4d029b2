// SPDX-License-Identifier: Apache-2.0
// Readings as evidence: what each says about the water, with the kit's noise, bias and misreads
// (docs/model/readings.md; sizes in data/handbook/priors.toml).
#pragma once
#include <string>
#include <vector>

#include "records/entry.hpp"

namespace helmwater::infer {

// The tests that speak about the model's state.
enum class Channel { ammonia, nitrite, nitrate, ph, alkalinity, oxygen };
inline constexpr int kChannels = 6;
const char* to_text(Channel channel);  // "ammonia" … "pH" …

// One reading in the model's units: mg N/L, pH, meq/L, mg O2/L.
struct Observation {
  int line = 0;           // in log.csv
  records::Instant when;
  double day = 0;
  Channel channel = Channel::ammonia;
  records::Seen::Shape shape = records::Seen::Shape::interval;
  double low = 0, high = 0;     // of the value the kit shows, model units
  double centre = 0, sd = 0;    // normal: model units; lognormal: sd of ln
  double noise_sd = 0;          // of ln(value + floor); pH: of pH
  double floor = 0;             // model units; 0 for pH
  int kit_slot = -1;            // which kit's bias applies, -1: none
  int person_slot = -1;         // and which reader's, -1: none; added up by bias_of (priors.hpp)
  bool unmixed = false;         // taken before a dose of the same thing was mixed
  double misread = 0.05;        // probability that the number means nothing
  double to_kit = 1;            // from model units to the reading's own basis
  // Worked out once by prepare(): the interval on the scale where the noise is normal (ends infinite where open), and
  // the probability or density of the reading if it was a gross misread.
  double scale_low = 0, scale_high = 0;
  double misread_likelihood = 0;
};

void prepare(Observation& observation);

// What a kit adds: its latent bias (ln, or pH units) and for nitrate kits the efficiency with which nitrite's larger
// partner nitrate is reduced.
struct KitSlot {
  Channel channel = Channel::ammonia;
  int kit = -1;  // index into Loop::kits, -1: a kit not described
};

// What a person who reads vials adds, in one test: ln, or pH units.
struct PersonSlot {
  Channel channel = Channel::ammonia;
  std::string person;  // as reader_of() gives it; empty: those nobody is named for
};
// The prior of that, in the handbook; null: a test that everybody reads alike (drops, meters).
const char* person_bias_prior(Channel channel);
// Who read it: the column `author`, trimmed, in small letters.
std::string reader_of(const records::Entry& entry);

struct Evidence {
  std::vector<Observation> observations;  // by time
  std::vector<KitSlot> slots;             // kits of the whole log, so that predictions know their bias
  std::vector<PersonSlot> people;         // likewise; empty where the log names fewer than two readers
};

// All readings of the channels from `start`, which is day 0, on. Readings taken before a dose of the same
// thing has mixed are widened.
Evidence evidence_from_log(const records::LoopLog& log, records::Instant start);
// Those not later than as_of.
std::vector<Observation> up_to(const std::vector<Observation>& all, records::Instant as_of);

// The state as a kit of this channel meets it, model units. `nitrite_share`: 1 / efficiency of the nitrate kit.
struct Met {
  double ammonia = 0, nitrite = 0, nitrate = 0, ph = 7, alkalinity = 0, oxygen = 0;
};
double met_value(const Observation& o, const Met& water, double nitrate_efficiency);

// ln of the probability (interval) or density of the observation, given the true value met and the bias: ln, or pH units, of
// kit and reader together; 0 where none applies.
double log_likelihood(const Observation& o, double met, double bias);
// Probability that the kit would show a value in [low, high] (model units).
double probability_shown(const Observation& o, double met, double bias, double low, double high);
// A draw of what the kit would show, given two uniforms in (0, 1).
double draw_shown(const Observation& o, double met, double bias, double u_misread, double u_value);

// Noise of what is shown, on the scale where it is normal.
double noise_on_scale(const Observation& o);
// What a kit of this bias would show without noise, on that scale.
double shown_on_scale(const Observation& o, double met, double bias);

}  // namespace helmwater::infer
