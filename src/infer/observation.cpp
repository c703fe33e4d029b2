// SPDX-License-Identifier: Apache-2.0
#include "infer/observation.hpp"

#include <algorithm>
#include <cctype>
#include <cmath>
#include <optional>
#include <set>

#include "handbook/handbook.hpp"
#include "chem/oxygen.hpp"
#include "infer/distributions.hpp"
#include "infer/temperature_from_log.hpp"
#include "records/words.hpp"

namespace helmwater::infer {

const char* to_text(Channel channel) {
  switch (channel) {
    case Channel::ammonia: return "ammonia";
    case Channel::nitrite: return "nitrite";
    case Channel::nitrate: return "nitrate";
    case Channel::ph: return "pH";
    case Channel::alkalinity: return "alkalinity";
    case Channel::oxygen: return "oxygen";
  }
  return "";
}

namespace {

using records::Test;

std::optional<Channel> channel_of(Test test) {
  switch (test) {
    case Test::ammonia: return Channel::ammonia;
    case Test::nitrite: return Channel::nitrite;
    case Test::nitrate: return Channel::nitrate;
    case Test::ph: return Channel::ph;
    case Test::alkalinity: return Channel::alkalinity;
    case Test::oxygen: return Channel::oxygen;
    default: return std::nullopt;
  }
}

struct ChannelNoise {
  double sd = 0;     // of ln(value + floor), or of pH
  double floor = 0;  // model units
};

ChannelNoise noise_of(Channel channel) {
  const auto& book = handbook::Handbook::built_in();
  switch (channel) {
    case Channel::ammonia: return {book.prior("read_ammonia").a, book.prior("read_ammonia_floor").a};
    case Channel::nitrite: return {book.prior("read_nitrite").a, book.prior("read_nitrite_floor").a};
    case Channel::nitrate:
      // The floor is given as ion.
      return {book.prior("read_nitrate").a,
              book.prior("read_nitrate_floor").a * records::to_standard_factor(Test::nitrate, records::Basis::no3)};
    case Channel::ph: return {book.prior("read_ph").a, 0};
    case Channel::alkalinity: return {book.prior("read_alkalinity").a, book.prior("read_alkalinity_floor").a};
    case Channel::oxygen: return {book.prior("read_oxygen").a, book.prior("read_oxygen_floor").a};
  }
  return {};
}

// A gross misread shows anything: centre and sd of ln(value + floor), or of pH (estimates).
struct Misread {
  double centre, sd;
};
Misread misread_of(Channel channel) {
  switch (channel) {
    case Channel::ammonia:
    case Channel::nitrite: return {std::log(1.0), 1.5};
    case Channel::nitrate: return {std::log(5.0), 1.5};
    case Channel::ph: return {7.5, 1.0};
    case Channel::alkalinity: return {std::log(2.0), 1.0};
    case Channel::oxygen: return {std::log(7.0), 0.7};
  }
  return {0, 1};
}

// How far a dose of this reagent disturbs a channel until it is mixed.
bool disturbs(const handbook::Reagent& reagent, Channel channel) {
  if (channel == Channel::ammonia) return reagent.ammonia_n_mol_per_mol > 0;
  if (channel == Channel::ph || channel == Channel::alkalinity) return reagent.alkalinity_eq_per_mol != 0;
  return false;
}

// mg/L per unit of the reading: what a share of saturation means depends on the water's temperature.
double oxygen_factor(const records::LoopLog& log, const records::Entry& entry) {
  if (entry.unit_text.find('%') == std::string::npos) return 1;
  return chem::oxygen_saturation(units::Celsius{temperature_known_at(log, entry.when)}, units::Salinity{0}, units::Atm{1})
             .value() / 100;
}

// Scale on which the noise is normal.
double to_scale(const Observation& o, double value) {
  return o.channel == Channel::ph ? value : std::log(std::max(value, 0.0) + o.floor);
}
double from_scale(const Observation& o, double x) {
  return o.channel == Channel::ph ? x : std::max(std::exp(x) - o.floor, 0.0);
}
bool is_linear(const Observation& o) {
  return o.channel == Channel::ph || o.shape == records::Seen::Shape::normal;
}
// Centre and sd of what is shown, on the scale of the observation's noise.
struct Shown {
  double centre, sd;
  bool linear;
};
Shown shown(const Observation& o, double met, double bias) {
  const bool none = o.kit_slot < 0 && o.person_slot < 0;
  const double biased = none ? met : o.channel == Channel::ph ? met + bias : met * std::exp(bias);
  if (o.shape == records::Seen::Shape::normal) return {biased, std::hypot(o.sd, o.noise_sd), true};
  if (o.shape == records::Seen::Shape::lognormal) return {to_scale(o, biased), std::hypot(o.sd, o.noise_sd), false};
  return {to_scale(o, biased), o.noise_sd, o.channel == Channel::ph};
}

double interval_probability(const Observation& o, double centre, double sd, bool linear, double low, double high) {
  const auto place = [&](double value) { return linear ? value : to_scale(o, value); };
  const bool open_below = o.channel == Channel::ph ? std::isinf(low) : low <= 0;
  const double below = open_below ? 0 : normal_cdf((place(low) - centre) / sd);
  const double up_to_high = std::isinf(high) ? 1 : normal_cdf((place(high) - centre) / sd);
  return std::max(up_to_high - below, 0.0);
}

// One reader's bias is within that of his kit; from the second on each has his own beside it.
void name_people(Evidence& evidence, const std::vector<std::string>& readers) {
  const auto by_eye = [&](std::size_t k) {
    const Observation& o = evidence.observations[k];
    return o.kit_slot >= 0 && person_bias_prior(o.channel) != nullptr;
  };
  std::set<std::string> named;
  for (std::size_t k = 0; k < readers.size(); ++k) {
    if (by_eye(k) && !readers[k].empty()) named.insert(readers[k]);
  }
  if (named.size() < 2) return;
  for (std::size_t k = 0; k < readers.size(); ++k) {
    if (!by_eye(k)) continue;
    Observation& o = evidence.observations[k];
    const auto found = std::find_if(evidence.people.begin(), evidence.people.end(), [&](const PersonSlot& s) {
      return s.channel == o.channel && s.person == readers[k];
    });
    o.person_slot = static_cast<int>(found - evidence.people.begin());
    if (found == evidence.people.end()) evidence.people.push_back({o.channel, readers[k]});
  }
}

}  // namespace

const char* person_bias_prior(Channel channel) {
  switch (channel) {
    case Channel::ammonia:
    case Channel::nitrite:
    case Channel::nitrate: return "person_bias";
    case Channel::ph: return "person_bias_ph";
    case Channel::alkalinity:
    case Channel::oxygen: return nullptr;
  }
  return nullptr;
}

std::string reader_of(const records::Entry& entry) {
  const auto author = entry.more.find("author");
  if (author == entry.more.end()) return {};
  std::string name(records::trimmed(author->second));
  std::transform(name.begin(), name.end(), name.begin(), [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return name;
}

Evidence evidence_from_log(const records::LoopLog& log, records::Instant start) {
  const auto& book = handbook::Handbook::built_in();
  const double default_misread = book.prior("misread_share").a;
  Evidence evidence;
  std::vector<std::string> readers;  // by observation
  for (const records::Entry& entry : log.entries) {
    const auto* reading = std::get_if<records::Reading>(&entry.body);
    if (reading == nullptr || entry.when < start) continue;
    const auto channel = channel_of(reading->test);
    if (!channel) continue;
    const double factor = *channel == Channel::oxygen ? oxygen_factor(log, entry)
                                                      : records::to_standard_factor(reading->test, reading->basis);
    const ChannelNoise noise = noise_of(*channel);
    Observation o;
    o.line = entry.line;
    o.when = entry.when;
    o.day = records::days_between(start, entry.when);
    o.channel = *channel;
    o.shape = reading->seen.shape;
    o.low = reading->seen.low * factor;
    o.high = reading->seen.high * factor;
    o.centre = reading->seen.centre * factor;
    o.sd = o.shape == records::Seen::Shape::normal ? reading->seen.sd * factor : reading->seen.sd;
    o.floor = noise.floor;
    o.misread = reading->seen.doubted ? 0.5 : default_misread;
    o.to_kit = 1 / factor;
    // Oxygen swings with the hour, the last meal and the sun; the model knows the day's mean. What a meter adds itself is
    // in its sd; a kit's chart has noise and bias like the others.
    const bool oxygen_kit =
        *channel == Channel::oxygen && reading->kit >= 0 && o.shape != records::Seen::Shape::normal;
    if (*channel == Channel::oxygen) {
      const double swing = book.prior("oxygen_of_the_hour").a;
      const double at = std::isfinite(o.high) ? o.high : o.low;
      o.noise_sd = o.shape == records::Seen::Shape::normal ? swing : swing / std::max(at, 1.0);
    }
    if (reading->seen.kit_noise || oxygen_kit) {
      // A plain pH number carries its whole noise in its sd; the bias comes on top in every case.
      const bool noise_inside = o.channel == Channel::ph && o.shape == records::Seen::Shape::normal;
      o.noise_sd = noise_inside ? 0 : std::hypot(o.noise_sd, noise.sd);
      const KitSlot slot{*channel, reading->kit};
      const auto found = std::find_if(evidence.slots.begin(), evidence.slots.end(), [&](const KitSlot& s) {
        return s.channel == slot.channel && s.kit == slot.kit;
      });
      o.kit_slot = static_cast<int>(found - evidence.slots.begin());
      if (found == evidence.slots.end()) evidence.slots.push_back(slot);
    }
    // Until a dose is mixed a sample may hold more or less of it: the spread fades with the turnover.
    double unmixed = 0;
    for (const records::Entry& earlier : log.entries) {
      if (earlier.when >= entry.when) break;
      const auto* dose = std::get_if<records::Dose>(&earlier.body);
      if (dose == nullptr) continue;
      const handbook::Reagent* reagent = book.reagent(dose->substance);
      if (reagent == nullptr || !disturbs(*reagent, *channel)) continue;
      const double hours = 24 * records::days_between(earlier.when, entry.when);
      unmixed = std::max(unmixed, std::exp(-log.loop.turnover_per_h * hours));
    }
    if (unmixed > 0.05) {
      o.unmixed = true;
      const double spread = o.channel == Channel::ph ? 0.5 : 0.7;  // pH, ln units; estimates
      const double scale = o.shape == records::Seen::Shape::normal && o.channel != Channel::ph ? o.centre : 1.0;
      o.noise_sd = std::hypot(o.noise_sd, spread * unmixed * scale);
    }
    prepare(o);
    evidence.observations.push_back(o);
    readers.push_back(reader_of(entry));
  }
  name_people(evidence, readers);
  return evidence;
}

std::vector<Observation> up_to(const std::vector<Observation>& all, records::Instant as_of) {
  std::vector<Observation> some;
  std::copy_if(all.begin(), all.end(), std::back_inserter(some), [&](const Observation& o) { return o.when <= as_of; });
  return some;
}

double met_value(const Observation& o, const Met& water, double nitrate_efficiency) {
  switch (o.channel) {
    case Channel::ammonia: return std::max(water.ammonia, 0.0);
    case Channel::nitrite: return std::max(water.nitrite, 0.0);
    case Channel::nitrate: return std::max(water.nitrate, 0.0) + std::max(water.nitrite, 0.0) / nitrate_efficiency;
    case Channel::ph: return water.ph;
    case Channel::alkalinity: return std::max(water.alkalinity, 0.0);
    case Channel::oxygen: return std::max(water.oxygen, 0.0);
  }
  return 0;
}

void prepare(Observation& o) {
  const Misread m = misread_of(o.channel);
  if (o.shape == records::Seen::Shape::interval) {
    const bool open_below = o.channel == Channel::ph ? std::isinf(o.low) : o.low <= 0;
    o.scale_low = open_below ? -INFINITY : to_scale(o, o.low);
    o.scale_high = std::isinf(o.high) ? INFINITY : to_scale(o, o.high);
    o.misread_likelihood = interval_probability(o, m.centre, m.sd, o.channel == Channel::ph, o.low, o.high);
  } else if (is_linear(o)) {
    o.scale_low = o.scale_high = o.centre;
    const double spread = o.channel == Channel::ph ? m.sd : std::max(o.centre, 1.0) * m.sd;
    o.misread_likelihood = std::exp(normal_log_density(o.centre, o.channel == Channel::ph ? m.centre : o.centre, spread));
  } else {
    o.scale_low = o.scale_high = to_scale(o, o.centre);
    o.misread_likelihood = std::exp(normal_log_density(o.scale_low, m.centre, m.sd));
  }
}

double log_likelihood(const Observation& o, double met, double bias) {
  const Shown s = shown(o, met, bias);
  double right = 0;
  if (o.shape == records::Seen::Shape::interval) {
    right = std::max(quick_normal_cdf((o.scale_high - s.centre) / s.sd) - quick_normal_cdf((o.scale_low - s.centre) / s.sd), 0.0);
  } else {
    right = std::exp(normal_log_density(o.scale_low, s.centre, s.sd));
  }
  return std::log((1 - o.misread) * right + o.misread * o.misread_likelihood + 1e-12);
}

double probability_shown(const Observation& o, double met, double bias, double low, double high) {
  const Shown s = shown(o, met, bias);
  const Misread m = misread_of(o.channel);
  const double right = interval_probability(o, s.centre, s.sd, s.linear, low, high);
  const double wrong = interval_probability(o, m.centre, m.sd, o.channel == Channel::ph, low, high);
  return (1 - o.misread) * right + o.misread * wrong;
}

double draw_shown(const Observation& o, double met, double bias, double u_misread, double u_value) {
  const double z = normal_quantile(u_value);
  if (u_misread < o.misread) {
    const Misread m = misread_of(o.channel);
    return from_scale(o, m.centre + m.sd * z);
  }
  const Shown s = shown(o, met, bias);
  const double x = s.centre + s.sd * z;
  return s.linear && o.channel != Channel::ph ? std::max(x, 0.0) : s.linear ? x : from_scale(o, x);
}

double noise_on_scale(const Observation& o) { return shown(o, 1, 0).sd; }

double shown_on_scale(const Observation& o, double met, double bias) { return shown(o, met, bias).centre; }

}  // namespace helmwater::infer
