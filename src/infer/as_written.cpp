// SPDX-License-Identifier: Apache-2.0
#include "infer/as_written.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <tuple>

#include "records/reading_form.hpp"

namespace helmwater::infer {
namespace {

constexpr double kInfinity = std::numeric_limits<double>::infinity();

double scale_of(const Observation& o, double value) {
  return o.channel == Channel::ph || o.shape == records::Seen::Shape::normal ? value : std::log(std::max(value, 0.0) + o.floor);
}
double from_scale_of(const Observation& o, double x) {
  return o.channel == Channel::ph || o.shape == records::Seen::Shape::normal ? x : std::exp(x) - o.floor;
}

const records::Kit* kit_of(const records::LoopLog& log, const Observation& o) {
  for (const records::Entry& e : log.entries) {
    if (e.line != o.line) continue;
    const auto* reading = std::get_if<records::Reading>(&e.body);
    if (reading == nullptr || reading->kit < 0 || reading->kit >= static_cast<int>(log.loop.kits.size())) return nullptr;
    return &log.loop.kits[static_cast<std::size_t>(reading->kit)];
  }
  return nullptr;
}

bool alike(double a, double b) { return a == b || std::abs(a - b) <= 1e-6 * std::max(1e-3, std::abs(b)); }

}  // namespace

ReadingForm::ReadingForm(const Observation& real, const records::LoopLog& log) : real_(real) {
  const bool interval = real.shape == records::Seen::Shape::interval;
  const records::Kit* kit = interval ? kit_of(log, real) : nullptr;
  if (kit != nullptr && kit->steps.size() >= 2) {
    records::ReadingScale scale;
    scale.steps = kit->steps;
    scale.arithmetic = scale.open_below = real.channel == Channel::ph;
    scale.lowest = -kInfinity;
    scale.highest = kInfinity;
    const auto written = [&](records::WrittenReading::Form form, double x) {
      records::WrittenReading w;
      w.form = form;
      w.x = x;
      const auto seen = records::understand(w, scale);
      return seen ? std::pair(seen->seen.low / real.to_kit, seen->seen.high / real.to_kit) : std::pair(0.0, 0.0);
    };
    std::vector<std::pair<double, double>> plain, about, between;
    const double floor = scale.open_below ? -kInfinity : 0.0;
    for (std::size_t k = 0; k < kit->steps.size(); ++k) {
      plain.push_back(written(records::WrittenReading::Form::plain, kit->steps[k]));
      about.push_back(written(records::WrittenReading::Form::about, kit->steps[k]));
      between.emplace_back(k == 0 ? floor : kit->steps[k - 1] / real.to_kit, kit->steps[k] / real.to_kit);
    }
    between.emplace_back(kit->steps.back() / real.to_kit, kInfinity);
    if (between.front().second <= 0) between.erase(between.begin());
    for (const auto& form : {plain, about, between}) {
      const auto same = std::find_if(form.begin(), form.end(), [&](const auto& one) {
        return alike(one.first, real.low) && alike(one.second, real.high);
      });
      if (same == form.end()) continue;
      real_cell_ = static_cast<int>(same - form.begin());
      written_ = form;
      const auto& cells = form == about ? plain : form;
      for (std::size_t k = 0; k + 1 < cells.size(); ++k) edges_.push_back(cells[k].second);
      return;
    }
  }
  // No chart, or a range of the reader's own: intervals as wide, side by side on the scale where noise is normal.
  if (!interval) {
    width_ = std::max(noise_on_scale(real) / 2, 1e-6);
    start_ = scale_of(real, real.centre) - width_ / 2;
    return;
  }
  const bool open_below = std::isinf(real.low) || (real.channel != Channel::ph && real.low <= 0), open_above = std::isinf(real.high);
  width_ = std::max(open_below || open_above ? 2 * noise_on_scale(real) : scale_of(real, real.high) - scale_of(real, real.low), 1e-6);
  start_ = open_below && open_above ? -1e9 : open_below ? scale_of(real, real.high) - width_ : scale_of(real, real.low);
}

int ReadingForm::place_of(double shown) const {
  if (!written_.empty()) {
    return static_cast<int>(std::upper_bound(edges_.begin(), edges_.end(), shown) - edges_.begin()) - real_cell_;
  }
  const bool interval = real_.shape == records::Seen::Shape::interval;
  const bool open_below = interval && (std::isinf(real_.low) || (real_.channel != Channel::ph && real_.low <= 0));
  const bool open_above = interval && std::isinf(real_.high);
  double place = std::floor((scale_of(real_, shown) - start_) / width_);
  if (!std::isfinite(place)) return 0;
  if (open_below) place = std::max(place, 0.0);
  if (open_above) place = std::min(place, 0.0);
  return static_cast<int>(std::clamp(place, -1e6, 1e6));
}

Observation ReadingForm::at(int place) const {
  if (place == 0) return real_;
  Observation o = real_;
  if (!written_.empty()) {
    std::tie(o.low, o.high) = written_[static_cast<std::size_t>(place + real_cell_)];
  } else if (o.shape == records::Seen::Shape::interval) {
    o.low = from_scale_of(o, start_ + place * width_);
    o.high = from_scale_of(o, start_ + (place + 1) * width_);
    if (o.channel != Channel::ph) o.low = std::max(o.low, 0.0);
  } else {
    o.centre = from_scale_of(o, start_ + (place + 0.5) * width_);
    if (o.channel != Channel::ph) o.centre = std::max(o.centre, 0.0);
  }
  prepare(o);
  return o;
}

}  // namespace helmwater::infer
