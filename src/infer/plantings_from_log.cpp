// SPDX-License-Identifier: Apache-2.0
#include "infer/plantings_from_log.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <string_view>

#include "handbook/handbook.hpp"

namespace helmwater::infer {
namespace {

constexpr double kForever = std::numeric_limits<double>::infinity();
constexpr double kHeadsPerSquareMetre = 20;  // of lettuce (FAO 589: 20 to 25)

std::string lower(std::string text) {
  std::transform(text.begin(), text.end(), text.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return text;
}
bool holds(const std::string& text, std::string_view word) { return text.find(word) != std::string::npos; }

double ground_of(const records::PlantMove& move) {
  if (move.area) return move.area->value();
  return move.count.value_or(0) / kHeadsPerSquareMetre;
}

struct Standing {
  loop::Planting planting;  // area in m2
  std::string crop;
  double litres = 1;
};

// The part of `p` outside the dark times.
void add_in_the_light(loop::Planting p, const std::vector<Off>& dark, std::vector<loop::Planting>& to) {
  for (const Off& off : dark) {
    if (off.to <= p.from || off.from >= p.to) continue;
    if (off.from > p.from) {
      loop::Planting before = p;
      before.to = off.from;
      to.push_back(before);
    }
    p.from = off.to;
    if (p.from >= p.to) return;
  }
  if (p.to > p.from) to.push_back(p);
}

}  // namespace

bool is_fruiting_crop(const std::string& crop) {
  static constexpr std::array<std::string_view, 17> kWords{
      "tomato",   "pepper",    "chili",     "chilli", "paprika",   "cucumber",
      "eggplant", "aubergine", "strawberr", "okra",   "courgette", "zucchini",
      "squash",   "pumpkin",   "melon",     "bean",   "pea"};
  const std::string name = lower(crop);
  // Mint and others that only sound like it.
  if (holds(name, "peppermint") || holds(name, "peppergrass") || holds(name, "pea shoot") ||
      holds(name, "sprout"))
    return false;
  return std::any_of(kWords.begin(), kWords.end(), [&](std::string_view word) {
    const auto at = name.find(word);
    if (at == std::string::npos) return false;
    // "pea" and "bean" as words of their own: no "peach", no "bean sprout".
    const auto end = at + word.size();
    const bool short_word = word == "pea";
    return !short_word ||
           ((end == name.size() || name[end] == 's' || name[end] == ' ') && (at == 0 || name[at - 1] == ' '));
  });
}

std::vector<Off> times_off(const records::LoopLog& log, records::Switch::Device device,
                           records::Instant start) {
  std::vector<Off> times;
  bool off = false;
  for (const records::Entry& e : log.entries) {
    const auto* turned = std::get_if<records::Switch>(&e.body);
    if (turned == nullptr || turned->device != device || turned->on != off) continue;
    const double day = std::max(0.0, records::days_between(start, e.when));
    if (off) {
      times.back().to = day;
    } else {
      times.push_back({day, kForever});
    }
    off = !off;
  }
  std::erase_if(times, [](const Off& o) { return !(o.to > o.from); });
  return times;
}

std::vector<loop::Planting> plantings_from_log(const records::LoopLog& log, records::Instant start) {
  const auto& book = handbook::Handbook::built_in();
  const double fruiting_over_leafy = book.prior("u_fruiting").a / book.prior("u_leafy").a;
  const std::vector<Off> dark = times_off(log, records::Switch::Device::light, start);
  std::vector<Standing> standing;  // the oldest first
  std::vector<loop::Planting> all;
  const auto close = [&](const Standing& s, double day) {
    loop::Planting p = s.planting;
    p.to = day;
    p.area_m2_per_l = p.area_m2_per_l * (p.fruiting ? fruiting_over_leafy : 1) / s.litres;
    add_in_the_light(p, dark, all);
  };
  double litres = log.loop.volume.value();
  for (const records::Entry& e : log.entries) {
    const double day = records::days_between(start, e.when);
    if (day < 0) continue;
    if (const auto* volume = std::get_if<records::VolumeChange>(&e.body)) {
      for (Standing& s : standing) {
        close(s, day);
        s.planting.from = day;
        s.litres = volume->litres.value();
      }
      litres = volume->litres.value();
    }
    const auto* move = std::get_if<records::PlantMove>(&e.body);
    if (move == nullptr) continue;
    if (move->in) {
      const std::string stage = lower(move->stage);
      Standing s;
      s.planting.from = s.planting.planted = day;
      s.planting.area_m2_per_l = ground_of(*move);
      s.planting.fruiting = is_fruiting_crop(move->crop);
      s.planting.grows = !(holds(stage, "mature") || holds(stage, "full"));
      s.crop = lower(move->crop);
      s.litres = litres;
      standing.push_back(s);
      continue;
    }
    // Taken out: of the same crop first, the oldest first.
    double left = ground_of(*move);
    for (const bool same_crop : {true, false}) {
      for (Standing& s : standing) {
        if (left <= 0) break;
        if ((s.crop == lower(move->crop)) != same_crop || s.planting.area_m2_per_l <= 0) continue;
        const double taken = std::min(left, s.planting.area_m2_per_l);
        close(s, day);
        s.planting.from = day;
        s.planting.area_m2_per_l -= taken;
        left -= taken;
      }
    }
    std::erase_if(standing, [](const Standing& s) { return s.planting.area_m2_per_l <= 1e-9; });
  }
  for (const Standing& s : standing) close(s, kForever);
  return all;
}

}  // namespace helmwater::infer
