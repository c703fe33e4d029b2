// SPDX-License-Identifier: Apache-2.0
#include "vial_reader.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/format.h>

namespace helmwater::tests {
namespace {

std::string number(double x) { return fmt::format("{:.6g}", x); }

// Charts made up for this simulator: steps roughly double.
const std::array<std::vector<double>, 3> kAmmonia{
    {{0, 0.25, 0.6, 1.2, 2.5, 5, 9}, {0, 0.15, 0.4, 0.9, 1.8, 3.5, 7}, {0, 0.4, 1, 2, 4, 7.5}}};
const std::array<std::vector<double>, 3> kNitrite{
    {{0, 0.2, 0.6, 1.2, 2.4, 5.5}, {0, 0.1, 0.25, 0.7, 1.5, 3.5, 9}, {0, 0.5, 1, 2, 5, 11}}};
const std::array<std::vector<double>, 3> kNitrate{
    {{0, 4, 11, 22, 45, 90, 170}, {0, 8, 18, 35, 75, 150}, {0, 2, 6, 13, 28, 55, 120}}};
const std::array<std::vector<double>, 3> kPh{
    {{6.1, 6.5, 6.9, 7.3, 7.7}, {6.0, 6.5, 7.0, 7.5, 8.0, 8.5, 9.0}, {6.2, 6.6, 7.0, 7.4, 7.8, 8.2, 8.6, 9.0}}};

}  // namespace

// Sizes: kit biases and noises near those a likelihood would use (estimates), persons on top.
Kits draw_kits(Dice& dice) {
  const auto one_of = [&](const auto& sets) { return sets[static_cast<std::size_t>(dice.whole(0, 2))]; };
  Kits kits;
  const int ammonia_basis = dice.whole(0, 2);
  kits.charts.push_back({"ammonia", ammonia_basis == 0 ? "N" : ammonia_basis == 1 ? "NH3" : "NH4",
                         ammonia_basis == 0 ? 1 : ammonia_basis == 1 ? 1.2159 : 1.2879, one_of(kAmmonia), false});
  kits.charts.push_back({"nitrite", "NO2", 3.2844, one_of(kNitrite), false});
  kits.charts.push_back({"nitrate", "NO3", 4.4266, one_of(kNitrate), false});
  kits.charts.push_back({"ph", "", 1, kPh[static_cast<std::size_t>(dice.whole(1, 2))], false});
  std::vector<double> drops;
  for (int k = 0; k <= 20; ++k) drops.push_back(k);
  kits.charts.push_back({"alkalinity", "dKH", 2.80, drops, true});
  kits.bias = {dice.normal(0, 0.18), dice.normal(0, 0.18), dice.normal(0, 0.30), dice.normal(0, 0.12), dice.normal(0, 0.08)};
  kits.nitrate_efficiency = dice.between(0.1, 0.8);
  return kits;
}

Person draw_person(Dice& dice, const Kits& kits, const std::string& name) {
  Person p;
  p.name = name;
  for (const Chart& chart : kits.charts) p.bias.push_back(dice.normal(0, chart.test == "ph" ? 0.08 : chart.drops ? 0.04 : 0.12));
  p.unsteadiness = dice.lognormal(0.2, 0.35);
  p.between_habit = dice.uniform();
  p.zero_below = dice.between(0.5, 0.85);  // half the first patch would be fair
  p.slips = dice.between(0.005, 0.05);
  return p;
}

Written read_vial(Dice& dice, const Kits& kits, const Person& person, std::size_t chart_number, double met) {
  const Chart& chart = kits.charts[chart_number];
  const std::vector<double>& c = chart.steps;
  const double bias = kits.bias[chart_number] + person.bias[chart_number];
  const bool ph = chart.test == "ph";
  Written out;
  out.unit = ph ? "" : chart.drops ? "dKH" : "mg/L";
  double x;
  if (ph) {
    x = met + bias + dice.normal(0, 0.6 * person.unsteadiness);
  } else if (chart.drops) {
    x = met * chart.per_standard * std::exp(bias) + dice.normal(0, 0.5);
  } else {
    // The eye errs by a share, and near zero by part of the first patch.
    x = std::max(0.0, met) * chart.per_standard * std::exp(bias + dice.normal(0, person.unsteadiness)) +
        dice.normal(0, 0.08 * c[1]);
    if (chart.test == "nitrate" && dice.chance(0.06)) x *= dice.between(0.05, 0.4);  // second bottle not shaken
  }
  if (dice.chance(person.slips)) x = c[static_cast<std::size_t>(dice.whole(0, static_cast<int>(c.size()) - 1))];
  if (chart.drops) {  // the drop at which the colour turns
    x = std::clamp(std::ceil(x), 1.0, c.back());
    out.value = number(x);
    out.seen = x;
    return out;
  }
  const std::size_t last = c.size() - 1;
  if (x >= c[last]) {
    out.seen = c[last];
    if (!ph && x > 1.3 * c[last] && dice.chance(0.4)) {  // diluted with clean water and read again
      const double again = x / 4 * std::exp(dice.normal(0, 0.1));
      const auto near = std::min_element(c.begin() + 1, c.end(), [&](double a, double b) {
        return std::abs(std::log(a / again)) < std::abs(std::log(b / again));
      });
      out.seen = 4 * *near;
      out.value = fmt::format("{:.6g}*4", *near);
    } else {
      out.value = fmt::format("{}{:.6g}", x > 1.25 * c[last] && dice.chance(0.5) ? ">" : "", c[last]);
    }
    return out;
  }
  if (x <= c[0]) {
    out.seen = c[0];
    out.zero = !ph;
    out.value = number(c[0]);
    return out;
  }
  std::size_t k = 0;
  while (x >= c[k + 1]) ++k;
  if (!ph && k == 0) {
    out.zero = x < person.zero_below * c[1];
    out.seen = out.zero ? 0 : c[1];
    out.value = number(out.seen);
    if (out.zero && x > 0.35 * c[1] && dice.chance(0.25)) out.value = "hint";
    return out;
  }
  const double place = ph ? (x - c[k]) / (c[k + 1] - c[k]) : std::log(x / c[k]) / std::log(c[k + 1] / c[k]);
  if (place > 0.3 && place < 0.7 && dice.chance(person.between_habit)) {
    out.seen = (c[k] + c[k + 1]) / 2;
    out.value = fmt::format("{:.6g}..{:.6g}", c[k], c[k + 1]);
  } else {
    out.seen = place < 0.5 ? c[k] : c[k + 1];
    out.value = number(out.seen);
  }
  return out;
}

}  // namespace helmwater::tests
