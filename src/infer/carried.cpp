// SPDX-License-Identifier: Apache-2.0
#include "infer/carried.hpp"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <numeric>
#include <string_view>

#include "infer/distributions.hpp"
#include "infer/priors.hpp"
#include "infer/random.hpp"
#include "records/fingerprint.hpp"

namespace helmwater::infer {
namespace {

constexpr int kTracks = 512;

// What does not wander: it is a fact of the loop, its water, its kits or their readers.
bool stays(const std::string& name) {
  for (const char* fact : {"volume", "source_", "kit_bias", "person_bias", "nitrate_reduction", "phosphate_start", "effect_doses", kKnotName}) {
    if (name.starts_with(fact)) return true;
  }
  return false;
}

// Of the first days only, or of one reading of a window that is closed.
bool is_left_behind(const std::string& name) {
  for (const char* early : {"seed_ammonia_step", "seed_nitrite_step", "seed_survival", "unlogged_"}) {
    if (name.starts_with(early)) return true;
  }
  return false;
}

// Of the week in which the window ends: the next window begins in it.
bool is_knot_of(const std::string& name, double day) { return name.substr(name.rfind('_') + 1) == std::to_string(knot_of(day)); }

// Normal score of each value: of the middle of its own weight in rising order.
std::vector<double> scores_of(const std::vector<double>& values, const std::vector<double>& weight) {
  std::vector<std::size_t> order(values.size());
  std::iota(order.begin(), order.end(), 0u);
  std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return values[a] < values[b]; });
  std::vector<double> scores(values.size());
  double below = 0;
  for (std::size_t first = 0; first < order.size();) {
    std::size_t last = first;
    double here = 0;
    while (last < order.size() && values[order[last]] <= values[order[first]]) here += weight[order[last++]];  // ties share
    const double score = normal_quantile(std::clamp(below + here / 2, 1e-6, 1 - 1e-6));
    for (std::size_t i = first; i < last; ++i) scores[order[i]] = score;
    below += here;
    first = last;
  }
  return scores;
}

Marginal marginal_of(const std::vector<double>& values, const std::vector<double>& weight) {
  std::vector<double> shares;
  for (int k = 0; k < Marginal::kKnots; ++k) shares.push_back(normal_cdf(-Marginal::kEnd + 0.25 * k));
  const std::vector<double> found = quantiles_at(values, weight, shares);
  Marginal m;
  std::copy(found.begin(), found.end(), m.value.begin());
  return m;
}

// A few draws say little about small correlations: they are drawn toward none by the noise of a sample correlation.
Eigen::MatrixXd root_of_correlation(const Eigen::MatrixXd& scores, const std::vector<double>& weight, double effective) {
  const Eigen::Index n = scores.rows();
  const Eigen::Map<const Eigen::VectorXd> w(weight.data(), static_cast<Eigen::Index>(weight.size()));
  const Eigen::VectorXd mean = scores * w;
  const Eigen::MatrixXd centred = scores.colwise() - mean;
  Eigen::MatrixXd c = centred * w.asDiagonal() * centred.transpose();
  const Eigen::VectorXd sd = c.diagonal().cwiseSqrt().cwiseMax(1e-9);
  c = sd.cwiseInverse().asDiagonal() * c * sd.cwiseInverse().asDiagonal();
  const double noise = std::clamp(static_cast<double>(n) / std::max(effective, 1.0), 0.01, 0.5);
  c = (1 - noise) * c;
  c.diagonal().setOnes();
  return c.llt().matrixL();
}

}  // namespace

double Marginal::at(double score) const {
  const double x = (score + kEnd) / 0.25;
  const int cell = std::clamp(static_cast<int>(std::floor(x)), 0, kKnots - 2);
  const auto i = static_cast<std::size_t>(cell);
  return value[i] + (x - cell) * (value[i + 1] - value[i]);
}

const std::array<const char*, kWaterParts>& water_names() {
  static const std::array<const char*, kWaterParts> names{"water_tan",   "water_no2", "water_no3", "water_alk",
                                                          "water_dic",   "water_r_a", "water_r_n", "water_org_n",
                                                          "water_urea_n", "water_p",  "water_o2"};
  return names;
}

std::array<double, kWaterParts> water_scale(const loop::State<double>& y) {
  std::array<double, kWaterParts> x{y.tan, y.no2, y.no3, y.alk, y.dic, y.r_a, y.r_n, y.org_n, y.urea_n, y.p, y.o2};
  for (std::size_t i = 0; i < x.size(); ++i) {
    // Capacities span many decades.
    const bool capacity = i == 5 || i == 6;
    x[i] = std::log(std::max(x[i], 0.0) + (capacity ? 1e-9 : kWaterFloor));
  }
  return x;
}

loop::State<double> water_from_scale(const std::array<double, kWaterParts>& x) {
  std::array<double, kWaterParts> y{};
  for (std::size_t i = 0; i < x.size(); ++i) {
    const bool capacity = i == 5 || i == 6;
    y[i] = std::max(std::exp(x[i]) - (capacity ? 1e-9 : kWaterFloor), 0.0);
  }
  return {y[0], y[1], y[2], y[3], y[4], y[5], y[6], y[7], y[8], y[9], y[10]};
}

Carried carry(const CarryInput& input) {
  Carried out;
  out.day = input.day;
  out.effective = input.effective;
  const std::size_t draws = input.weight.size();
  std::vector<std::vector<double>> values;
  for (std::size_t k = 0; k < input.names.size(); ++k) {
    const std::string& name = input.names[k];
    if (is_left_behind(name) || name.starts_with("water_") || (name.starts_with(kKnotName) && !is_knot_of(name, input.day))) {
      continue;
    }
    const Draws random(input.seed, 0xca00u + static_cast<std::uint32_t>(k));
    std::vector<double> column(draws);
    for (std::size_t i = 0; i < draws; ++i) {
      double z = input.z(static_cast<Eigen::Index>(k), static_cast<Eigen::Index>(i));
      if (!stays(name)) {
        z = std::sqrt(1 - kWander * kWander) * z +
            kWander * random.normal(static_cast<std::uint32_t>(i), static_cast<std::uint32_t>(input.day));
      }
      column[i] = z;
    }
    out.names.push_back(name);
    values.push_back(std::move(column));
  }
  std::vector<std::array<double, kWaterParts>> water(draws);
  for (std::size_t i = 0; i < draws; ++i) water[i] = water_scale(input.water[i]);
  for (std::size_t part = 0; part < kWaterParts; ++part) {
    std::vector<double> column(draws);
    for (std::size_t i = 0; i < draws; ++i) column[i] = water[i][part];
    out.names.emplace_back(water_names()[part]);
    values.push_back(std::move(column));
  }
  Eigen::MatrixXd scores(static_cast<Eigen::Index>(values.size()), static_cast<Eigen::Index>(draws));
  for (std::size_t k = 0; k < values.size(); ++k) {
    out.marginals.push_back(marginal_of(values[k], input.weight));
    const std::vector<double> s = scores_of(values[k], input.weight);
    scores.row(static_cast<Eigen::Index>(k)) = Eigen::Map<const Eigen::RowVectorXd>(s.data(), static_cast<Eigen::Index>(draws));
  }
  out.root = root_of_correlation(scores, input.weight, input.effective);

  // Tracks of equal weight, in the order of the water they go with.
  std::vector<std::pair<double, std::size_t>> order(draws);
  for (std::size_t i = 0; i < draws; ++i) order[i] = {input.water[i].tan + input.water[i].no2, i};
  std::sort(order.begin(), order.end());
  double passed = 0;
  for (const auto& [amount, i] : order) {
    passed += input.weight[i];
    while (out.tracks.size() < kTracks && (static_cast<double>(out.tracks.size()) + 0.5) / kTracks < passed) {
      out.tracks.push_back({amount, input.tracks[i]});
    }
  }
  if (out.tracks.empty() && draws > 0) out.tracks.push_back({order.back().first, input.tracks[order.back().second]});
  return out;
}

namespace {

constexpr char kMagic[] = "helmwater carried 3\n";

class Writer {
 public:
  template <class T>
  void raw(const T* values, std::size_t count) {
    bytes_.append(reinterpret_cast<const char*>(values), count * sizeof(T));
  }
  template <class T>
  void list(const std::vector<T>& values) {
    const std::uint64_t n = values.size();
    raw(&n, 1);
    raw(values.data(), values.size());
  }
  std::string bytes_;
};

class Reader {
 public:
  explicit Reader(const std::string& bytes, std::size_t at) : bytes_(bytes), at_(at) {}
  template <class T>
  void raw(T* values, std::size_t count) {
    if (count > (bytes_.size() - at_) / sizeof(T)) {
      broken_ = true;
      return;
    }
    std::memcpy(static_cast<void*>(values), bytes_.data() + at_, count * sizeof(T));
    at_ += count * sizeof(T);
  }
  template <class T>
  void list(std::vector<T>& values) {
    std::uint64_t n = 0;
    raw(&n, 1);
    if (broken_ || n > (bytes_.size() - at_) / sizeof(T)) {
      broken_ = true;
      return;
    }
    values.resize(n);
    raw(values.data(), n);
  }
  bool whole() const { return !broken_ && at_ == bytes_.size(); }
  bool broken() const { return broken_; }

 private:
  const std::string& bytes_;
  std::size_t at_;
  bool broken_ = false;
};

std::string check_sum(std::string_view bytes) {
  records::Fingerprint sum;
  sum.add(bytes);
  return sum.hex();
}

}  // namespace

std::string to_bytes(const Carried& c) {
  Writer w;
  w.bytes_ = kMagic;
  w.raw(&c.day, 1);
  w.raw(&c.effective, 1);
  std::vector<char> names;
  for (const std::string& name : c.names) {
    names.insert(names.end(), name.begin(), name.end());
    names.push_back('\n');
  }
  w.list(names);
  w.list(c.marginals);
  w.raw(c.root.data(), static_cast<std::size_t>(c.root.size()));
  w.list(c.tracks);
  w.list(c.series_days);
  w.list(c.series);
  w.list(c.misread_entries);
  w.bytes_ += check_sum(w.bytes_);
  return std::move(w.bytes_);
}

std::shared_ptr<const Carried> carried_from_bytes(const std::string& bytes) {
  constexpr std::size_t front = sizeof(kMagic) - 1, back = 32;  // digits of the sum
  if (bytes.size() < front + back || bytes.compare(0, front, kMagic) != 0) return nullptr;
  const std::string body = bytes.substr(0, bytes.size() - back);
  if (bytes.compare(body.size(), back, check_sum(body)) != 0) return nullptr;
  auto c = std::make_shared<Carried>();
  Reader r(body, front);
  r.raw(&c->day, 1);
  r.raw(&c->effective, 1);
  std::vector<char> names;
  r.list(names);
  std::string name;
  for (char letter : names) {
    if (letter != '\n') {
      name += letter;
      continue;
    }
    c->names.push_back(std::move(name));
    name.clear();
  }
  r.list(c->marginals);
  if (r.broken() || c->marginals.size() != c->names.size()) return nullptr;
  const auto n = static_cast<Eigen::Index>(c->names.size());
  c->root.resize(n, n);
  r.raw(c->root.data(), static_cast<std::size_t>(n * n));
  r.list(c->tracks);
  r.list(c->series_days);
  r.list(c->series);
  r.list(c->misread_entries);
  if (!r.whole() || c->series.size() != c->series_days.size() || c->tracks.empty()) return nullptr;
  return c;
}

}  // namespace helmwater::infer
