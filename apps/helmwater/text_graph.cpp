// SPDX-License-Identifier: Apache-2.0
#include "text_graph.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include "page_text.hpp"

namespace helmwater::app {
namespace {

using infer::Quantiles;

constexpr double kAheadWindow = 1;  // days

// The smallest of mantissas × 10^k that is not below `value`.
double round_up(double value, const std::vector<double>& mantissas) {
  const double power = std::pow(10, std::floor(std::log10(std::max(value, 1e-6))));
  for (const double m : mantissas) {
    if (value <= m * power * (1 + 1e-9)) return m * power;
  }
  return 10 * power;
}

void add(Quantiles& sum, const Quantiles& q, double weight) {
  sum.p05 += weight * q.p05;
  sum.p25 += weight * q.p25;
  sum.p50 += weight * q.p50;
  sum.p75 += weight * q.p75;
  sum.p95 += weight * q.p95;
}

// The middle's height inside its row, in thirds: a line behind now, dots ahead.
const char* middle_mark(double place, bool ahead) {
  const double part = place - std::floor(place);
  if (part < 1.0 / 3) return ahead ? "." : "▁";
  if (part < 2.0 / 3) return ahead ? "·" : "─";
  return ahead ? "˙" : "▔";
}

}  // namespace

std::optional<int> TimeAxis::column_of(double day) const {
  if (day < first_day || day > last_day) return std::nullopt;
  return std::min(static_cast<int>((day - first_day) / days_per_column()), columns - 1);
}

double TimeAxis::day_of(int column) const { return first_day + (column + 0.5) * days_per_column(); }

int TimeAxis::now_column() const {
  if (now_day > last_day) return columns;
  return column_of(now_day).value_or(-1);
}

double ValueScale::place(double value) const {
  const double share = (std::clamp(value, bottom, top) - bottom) / (top - bottom);
  return (root ? std::sqrt(share) : share) * (rows - 1) + 0.5;
}

double ValueScale::value_of(int row) const {
  const double share = static_cast<double>(row) / (rows - 1);
  return bottom + (root ? share * share : share) * (top - bottom);
}

ValueScale ValueScale::from_zero(double highest, bool root, int rows) {
  return {0, round_up(highest, {1, 1.2, 1.6, 2, 2.4, 3, 4, 6, 8}), root, rows};
}

ValueScale ValueScale::around(double lowest, double highest, int rows) {
  // Fifths of a unit, so that the middle is a whole tenth.
  double bottom = std::floor(5 * lowest) / 5, top = std::ceil(5 * highest) / 5;
  if (top - bottom < 0.5) {
    bottom -= 0.2;
    top += 0.2;
  }
  return {bottom, top, false, rows};
}

Canvas::Canvas(int rows, int columns)
    : rows_(rows), columns_(columns), cells_(static_cast<std::size_t>(rows * columns)) {}

void Canvas::put(int row, int column, std::string_view character, Ink ink) {
  if (row < 0 || row >= rows_ || column < 0 || column >= columns_) return;
  cell(row, column) = {std::string(character), ink, true};
}

void Canvas::write(int row, int column, std::string_view text, Ink ink) {
  for (std::size_t at = 0; at < text.size();) {
    std::size_t end = at + 1;
    while (end < text.size() && (static_cast<unsigned char>(text[end]) & 0xC0) == 0x80) ++end;
    put(row, column++, text.substr(at, end - at), ink);
    at = end;
  }
}

bool Canvas::is_free(int row, int column, int length) const {
  if (row < 0 || row >= rows_ || column < 0 || column + length > columns_) return false;
  for (int c = column; c < column + length; ++c) {
    if (cell(row, c).taken) return false;
  }
  return true;
}

const std::string& Canvas::at(int row, int column) const { return cell(row, column).character; }

std::string Canvas::row(int row, const std::optional<std::string>& test_code) const {
  int end = columns_;
  while (end > 0 && cell(row, end - 1).character == " ") --end;
  std::string text;
  Ink current = Ink::plain;
  const auto change_to = [&](Ink ink) {
    if (!test_code || ink == current) return;
    if (current != Ink::plain) text += "\x1b[0m";
    if (ink == Ink::test) text += "\x1b[" + *test_code + "m";
    if (ink == Ink::test_strong) text += "\x1b[1;" + *test_code + "m";
    if (ink == Ink::strong) text += "\x1b[1m";
    current = ink;
  };
  for (int c = 0; c < end; ++c) {
    change_to(cell(row, c).character == " " ? Ink::plain : cell(row, c).ink);
    text += cell(row, c).character;
  }
  change_to(Ink::plain);
  return text;
}

std::vector<std::optional<Quantiles>> band_columns(const TimeAxis& axis, const std::vector<BandPoint>& band) {
  std::vector<std::optional<Quantiles>> columns(static_cast<std::size_t>(axis.columns));
  if (band.empty()) return columns;
  const int now = axis.now_column();
  for (int c = 0; c < axis.columns; ++c) {
    const double day = axis.day_of(c);
    const bool ahead = c > now;
    const double half = std::max(axis.days_per_column(), ahead ? kAheadWindow : 0.0) / 2;
    const double from = ahead ? std::max(day - half, axis.now_day) : day - half;
    Quantiles sum;
    int points = 0;
    for (const BandPoint& p : band) {
      if (p.day < from || p.day > day + half) continue;
      add(sum, p.q, 1);
      ++points;
    }
    if (points > 0) {
      Quantiles mean;
      add(mean, sum, 1.0 / points);
      columns[static_cast<std::size_t>(c)] = mean;
      continue;
    }
    const auto after =
        std::find_if(band.begin(), band.end(), [&](const BandPoint& p) { return p.day >= day; });
    if (after == band.begin() || after == band.end()) continue;
    const BandPoint& a = *(after - 1);
    const double share = (day - a.day) / (after->day - a.day);
    Quantiles mixed;
    add(mixed, a.q, 1 - share);
    add(mixed, after->q, share);
    columns[static_cast<std::size_t>(c)] = mixed;
  }
  return columns;
}

void draw_band(Canvas& canvas, const TimeAxis& axis, const ValueScale& scale,
               const std::vector<std::optional<Quantiles>>& band) {
  const int now = axis.now_column();
  for (int c = 0; c < axis.columns; ++c) {
    const auto& q = band[static_cast<std::size_t>(c)];
    if (!q || c == now) continue;
    for (int r = scale.row_of(q->p05); r <= scale.row_of(q->p95); ++r) canvas.put(r, c, "░", Ink::test);
    for (int r = scale.row_of(q->p25); r <= scale.row_of(q->p75); ++r) canvas.put(r, c, "▒", Ink::test);
    canvas.put(scale.row_of(q->p50), c, middle_mark(scale.place(q->p50), c > now), Ink::test_strong);
  }
}

void draw_readings(Canvas& canvas, const TimeAxis& axis, const ValueScale& scale,
                   const std::vector<ReadingBar>& readings) {
  const int now = axis.now_column();
  std::set<int> taken;
  for (auto it = readings.rbegin(); it != readings.rend(); ++it) {
    const ReadingBar& reading = *it;
    const auto natural = axis.column_of(reading.day);
    if (!natural) continue;
    int c = now > 0 ? std::min(*natural, now - 1) : *natural;
    if (taken.contains(c) && c > 0 && !taken.contains(c - 1)) --c;
    taken.insert(c);
    const bool open_low = !std::isfinite(reading.low), open_high = !std::isfinite(reading.high);
    const double low = open_low ? 0 : scale.place(reading.low);
    const double high = open_high ? scale.rows : scale.place(reading.high);
    const int first = static_cast<int>(low), last = std::min(static_cast<int>(high), scale.rows - 1);
    for (int r = first; r <= last; ++r) {
      const bool lower_half = low<r + 0.5, upper_half = high> r + 0.5;
      const char* mark = lower_half && upper_half ? "┃" : upper_half ? "╹" : "╻";
      if (reading.doubted) mark = "┇";
      if (open_high && r == last) mark = "↑";
      if (open_low && r == first) mark = "↓";
      canvas.put(r, c, mark, Ink::strong);
    }
    if (reading.letter.empty()) continue;
    // Above the bar, else below it, else on its upper end.
    const int row = last + 1 < scale.rows ? last + 1 : first > 0 ? first - 1 : last;
    canvas.put(row, c, reading.letter, Ink::strong);
  }
}

void draw_now(Canvas& canvas, const TimeAxis& axis) {
  const int now = axis.now_column();
  for (int r = 0; r < canvas.rows(); ++r) {
    if (canvas.is_free(r, now, 1)) canvas.put(r, now, "│");
  }
}

void draw_dates(Canvas& canvas, const TimeAxis& axis, int row, const DateSpan& span, std::string_view name) {
  const int edge = axis.columns - 1;
  const auto column = [&](const std::optional<double>& day) {
    if (!day || *day > axis.last_day) return edge + 1;
    return *day < axis.first_day ? -1 : *axis.column_of(*day);
  };
  const int from = column(span.p05), to = column(span.p95);
  const int start = std::clamp(from, 0, edge), end = std::clamp(to, 0, edge);
  if (to >= 0) {
    for (int c = start; c <= end; ++c) canvas.put(row, c, "─");
    if (from >= 0 && from <= edge && end > start) canvas.put(row, from, "├");
    if (to <= edge && end > start) canvas.put(row, to, "┤");
    if (from <= edge) {
      for (int c = std::max(column(span.p25), 0); c <= std::min(column(span.p75), edge); ++c)
        canvas.put(row, c, span.told ? "═" : "╱", Ink::strong);
    }
    const int middle = column(span.p50);
    if (span.told && middle >= 0 && middle <= edge) canvas.put(row, middle, "╪", Ink::strong);
    if (to > edge) canvas.put(row, edge, "→");
  }
  // The name before the span, behind it if there is no room, and not across the line for now.
  const int length = shown_width(name), now = axis.now_column();
  int at = to < 0 ? 0 : start - 1 - length;
  if (at <= now && now < at + length) at = now - 1 - length;
  if (at < 0) at = end + 2 <= now && now < end + 2 + length ? now + 2 : end + 2;
  if (at + length > axis.columns) {  // no room beside it: into it
    at = start + 2;
    canvas.write(row, at - 1, " ");
    canvas.write(row, at + length, " ");
  }
  canvas.write(row, at, name);
}

}  // namespace helmwater::app
