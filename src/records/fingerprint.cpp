// SPDX-License-Identifier: Apache-2.0
#include "records/fingerprint.hpp"

#include <fmt/format.h>

#include <bit>
#include <type_traits>

#include "records/loop_folder.hpp"

namespace helmwater::records {
namespace {

constexpr double kAbsent = -7.25e301;

template <class Quantity>
double number(const std::optional<Quantity>& value) {
  if (!value) return kAbsent;
  if constexpr (std::is_arithmetic_v<Quantity> || std::is_enum_v<Quantity>) {
    return static_cast<double>(*value);
  } else {
    return value->value();
  }
}

struct AddBody {
  Fingerprint& sum;
  void all(std::initializer_list<double> values) const {
    for (double v : values) sum.add(v);
  }
  void operator()(const Reading& r) const {
    all({1, static_cast<double>(r.test), static_cast<double>(r.basis), static_cast<double>(r.seen.shape), r.seen.low, r.seen.high,
         r.seen.centre, r.seen.sd, r.seen.kit_noise ? 1.0 : 0.0, r.seen.doubted ? 1.0 : 0.0, static_cast<double>(r.kit),
         r.meter ? 1.0 : 0.0});
  }
  void operator()(const Dose& d) const {
    all({2, static_cast<double>(d.how), d.amount, static_cast<double>(d.basis), number(d.percent)});
    sum.add(d.substance);
  }
  void operator()(const WaterChange& w) const {
    all({3, number(w.share), number(w.litres)});
    sum.add(w.source);
  }
  void operator()(const TopUp& w) const {
    all({4, number(w.share), number(w.litres)});
    sum.add(w.source);
  }
  void operator()(const Feed& f) const { all({5, f.amount.value(), f.protein_percent}); }
  void operator()(const FishMove& f) const {
    all({6, f.in ? 1.0 : 0.0, f.count, number(f.mean_weight)});
    sum.add(f.species);
    sum.add(f.why);
  }
  void operator()(const PlantMove& p) const {
    all({7, p.in ? 1.0 : 0.0, number(p.count), number(p.area), number(p.yield)});
    sum.add(p.crop);
    sum.add(p.stage);
  }
  void operator()(const Seed& s) const {
    all({8, s.amount, static_cast<double>(s.kind)});
    sum.add(s.unit);
  }
  void operator()(const VolumeChange& v) const { all({9, v.litres.value()}); }
  void operator()(const Medication&) const { all({10}); }
  void operator()(const Switch& s) const { all({11, static_cast<double>(s.device), s.on ? 1.0 : 0.0}); }
  void operator()(const Note&) const { all({12}); }
};

}  // namespace

void Fingerprint::add(std::string_view text) {
  for (std::uint64_t& sum : sum_) {
    for (const char c : text) sum = (sum ^ static_cast<unsigned char>(c)) * 1099511628211u;
    sum = (sum ^ 0x100u) * 1099511628211u;  // the end of a text
  }
}

void Fingerprint::add(double value) {
  const auto bits = std::bit_cast<std::uint64_t>(value);
  char bytes[sizeof bits];
  for (std::size_t i = 0; i < sizeof bits; ++i) bytes[i] = static_cast<char>(bits >> (8 * i));
  add(std::string_view(bytes, sizeof bytes));
}

void Fingerprint::add(const Loop& l) {
  add(to_loop_toml(l));  // what a file gave; below, what a program may have set
  for (double v : {l.volume.value(), l.volume_sd.value(), static_cast<double>(l.start), number(l.seed_area),
                   l.typical_temperature.value(), static_cast<double>(l.bed), l.bed_area.value(), l.turnover_per_h,
                   static_cast<double>(l.air), number(l.media.volume), number(l.media.specific_surface_m2_m3),
                   number(l.source_water.ph), number(l.source_water.alkalinity), number(l.source_water.nitrate),
                   number(l.source_water.disinfectant), number(l.source_water.disinfectant_dose),
                   l.started ? static_cast<double>(l.started->time_since_epoch().count()) : kAbsent}) {
    add(v);
  }
  for (const Kit& kit : l.kits) {
    add(static_cast<double>(kit.test));
    add(static_cast<double>(kit.basis));
    for (double step : kit.steps) add(step);
  }
}

void Fingerprint::add(const Entry& entry) {
  add(static_cast<double>(entry.when.time_since_epoch().count()));
  add(entry.unit_text);  // the per cent of an oxygen reading stands there alone
  std::visit(AddBody{*this}, entry.body);
  if (const auto author = entry.more.find("author"); author != entry.more.end()) add(author->second);  // whose bias a reading has
}

std::string Fingerprint::hex() const { return fmt::format("{:016x}{:016x}", sum_[0], sum_[1]); }

}  // namespace helmwater::records
