// SPDX-License-Identifier: Apache-2.0
#include "infer/learned.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <optional>
#include <string_view>

namespace helmwater::infer {
namespace {

// Those whose prior means the same in every loop.
constexpr std::array<std::string_view, 24> kAsTheyAre{
    "mu_a",        "mu_n",            "theta_a", "theta_n",        "b_a",             "b_n",    "k_a",          "k_n",
    "ki_n_fa",     "ln_theta_ph",     "k_alk",   "nitrogen_sink",  "ph_high_midpoint", "air_co2", "phosphate_start", "k_min",
    "k_urea",      "f_tan",           "f_sol",   "f_den",          "u_crop",          "effect_doses", "seed_factor_a", "seed_factor_n"};

std::string stated(const std::optional<double>& value) { return value ? fmt::format(" stated {:g}", *value) : " not stated"; }
template <class Amount>
std::string stated(const std::optional<Amount>& value) {
  return stated(value ? std::optional<double>(value->value()) : std::nullopt);
}

const char* word(records::Start start) {
  switch (start) {
    case records::Start::unseeded: return "unseeded";
    case records::Start::bottled_culture: return "bottled culture";
    case records::Start::fish: return "fish";
    case records::Start::seeded_media: return "seeded media";
  }
  return "";
}

const char* word(Channel channel) {
  switch (channel) {
    case Channel::ammonia: return "ammonia";
    case Channel::nitrite: return "nitrite";
    case Channel::nitrate: return "nitrate";
    case Channel::ph: return "ph";
    case Channel::alkalinity: return "alkalinity";
    case Channel::oxygen: return "oxygen";
  }
  return "";
}

// "nitrite n-kit, lot 7"; empty: nobody named the kit.
std::string kit_named(const records::Loop& loop, const KitSlot& slot) {
  if (slot.kit < 0 || static_cast<std::size_t>(slot.kit) >= loop.kits.size()) return {};
  const records::Kit& kit = loop.kits[static_cast<std::size_t>(slot.kit)];
  if (!kit.id) return {};
  return fmt::format("{} {}{}", word(slot.channel), *kit.id, kit.lot ? ", lot " + *kit.lot : "");
}

// The 2 of "kit_bias_2"; nullopt: another name, or not below `count`.
std::optional<std::size_t> numbered(std::string_view name, std::string_view front, std::size_t count) {
  if (!name.starts_with(front)) return std::nullopt;
  std::size_t number = 0;
  const char* end = name.data() + name.size();
  const auto [at, problem] = std::from_chars(name.data() + front.size(), end, number);
  if (problem != std::errc() || at != end || number >= count) return std::nullopt;
  return number;
}

}  // namespace

std::string shared_name(const records::Loop& loop, const std::vector<KitSlot>& slots, const std::string& unknown,
                        const std::vector<PersonSlot>& people) {
  const records::SourceWater& source = loop.source_water;
  if (std::find(kAsTheyAre.begin(), kAsTheyAre.end(), unknown) != kAsTheyAre.end()) return unknown;
  if (unknown == "seed_ammonia_step" || unknown == "seed_nitrite_step" || unknown == "seed_survival") {
    // With the area known the number means something else.
    return fmt::format("{} {}{}", unknown, word(loop.start), loop.start == records::Start::seeded_media && loop.seed_area ? " by area" : "");
  }
  if (unknown == "r_max") return loop.media.volume ? "r_max of media" : "r_max";
  if (unknown == "k_la") return fmt::format("k_la air {}", static_cast<int>(loop.air));
  if (unknown == "source_nitrate") return unknown + stated(source.nitrate);
  if (unknown == "source_alkalinity") return unknown + stated(source.alkalinity);
  if (unknown == "source_ph") return unknown + stated(source.ph);
  if (unknown == "disinfectant_kill") {
    return source.disinfectant ? fmt::format("{} {}", unknown, static_cast<int>(*source.disinfectant)) : unknown;
  }
  if (unknown == "nitrate_reduction") {
    // One number for all nitrate kits: it is a kit's own only if there is one.
    std::string only;
    for (const KitSlot& slot : slots) {
      if (slot.channel != Channel::nitrate) continue;
      const std::string name = kit_named(loop, slot);
      if (name.empty() || !only.empty()) return {};
      only = name;
    }
    return only.empty() ? only : unknown + " " + only;
  }
  if (const auto slot = numbered(unknown, "kit_bias_", slots.size())) {
    const std::string name = kit_named(loop, slots[*slot]);
    return name.empty() ? name : "kit_bias " + name;
  }
  if (const auto slot = numbered(unknown, "person_bias_", people.size())) {
    const PersonSlot& person = people[*slot];
    return person.person.empty() ? std::string() : fmt::format("person_bias {} by {}", word(person.channel), person.person);
  }
  return {};
}

LearnedPlaces::LearnedPlaces(const Learned& learned, const records::Loop& loop, const std::vector<KitSlot>& slots,
                             const std::vector<PersonSlot>& people, const std::vector<std::string>& names, const std::vector<std::string>& except) {
  std::vector<Eigen::Index> taken;
  for (std::size_t place = 0; place < names.size(); ++place) {
    if (std::find(except.begin(), except.end(), names[place]) != except.end()) continue;
    const std::string shared = shared_name(loop, slots, names[place], people);
    const auto found = std::find(learned.names.begin(), learned.names.end(), shared);
    if (shared.empty() || found == learned.names.end()) continue;
    const auto k = static_cast<Eigen::Index>(found - learned.names.begin());
    // Two tests of one kit cannot bear one name; were it so, the first would have it.
    if (std::find(taken.begin(), taken.end(), k) != taken.end()) continue;
    taken.push_back(k);
    places_.push_back(place);
    const bool by_number = shared.starts_with("kit_bias ") || shared.starts_with("person_bias ");
    unknowns_.push_back({by_number ? shared : names[place], learned.shift[k], std::sqrt(learned.covariance(k, k))});
  }
  const auto n = static_cast<Eigen::Index>(taken.size());
  shift_.resize(n);
  Eigen::MatrixXd covariance(n, n);
  for (Eigen::Index i = 0; i < n; ++i) {
    shift_[i] = learned.shift[taken[static_cast<std::size_t>(i)]];
    for (Eigen::Index j = 0; j < n; ++j) {
      covariance(i, j) = learned.covariance(taken[static_cast<std::size_t>(i)], taken[static_cast<std::size_t>(j)]);
    }
  }
  root_ = covariance.llt().matrixL();
}

void LearnedPlaces::apply(double* z) const {
  // From the last on: each needs the untouched numbers before it.
  for (std::size_t i = places_.size(); i-- > 0;) {
    double value = shift_[static_cast<Eigen::Index>(i)];
    for (std::size_t j = 0; j <= i; ++j) value += root_(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j)) * z[places_[j]];
    z[places_[i]] = value;
  }
}

}  // namespace helmwater::infer
