// SPDX-License-Identifier: Apache-2.0
#include "text_graph.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace helmwater::app {
namespace {

std::string trimmed(std::string line) {
  while (!line.empty() && line.back() == ' ') line.pop_back();
  return line;
}

std::string axis_number(double value) {
  if (value >= 100) return fmt::format("{:.0f}", value);
  if (value >= 10) return fmt::format("{:.0f}", value);
  return fmt::format("{:.1f}", value);
}

}  // namespace

int shown_width(const std::string& text) {
  int width = 0;
  bool escape = false;
  for (const char c : text) {
    if (c == '\x1b') escape = true;
    if (!escape && (static_cast<unsigned char>(c) & 0xC0) != 0x80) ++width;
    if (escape && c == 'm') escape = false;
  }
  return width;
}

int TextGraph::column_of(double day) const {
  if (day < first_day || day > last_day) return -1;
  const int c = static_cast<int>((day - first_day) / (last_day - first_day) * columns);
  return std::min(c, columns - 1);
}

std::vector<std::string> TextGraph::draw(int label) const {
  // What each column stands for: the mean of its points, so that a daily saw-tooth does not flicker.
  std::vector<BandPoint> shown(static_cast<std::size_t>(columns));
  std::vector<int> points(static_cast<std::size_t>(columns), 0);
  for (const BandPoint& p : band) {
    const int c = column_of(p.day);
    if (c < 0) continue;
    BandPoint& sum = shown[static_cast<std::size_t>(c)];
    sum.p05 += p.p05;
    sum.p25 += p.p25;
    sum.p50 += p.p50;
    sum.p75 += p.p75;
    sum.p95 += p.p95;
    ++points[static_cast<std::size_t>(c)];
  }
  // The scale: from zero (or the lowest value) to what the band and the readings need.
  double top = 0, bottom = root_scale ? 0 : 1e9;
  for (std::size_t c = 0; c < shown.size(); ++c) {
    if (points[c] == 0) {
      if (c == 0) continue;
      shown[c] = shown[c - 1];  // columns narrower than the series
      points[c] = points[c - 1];
      if (points[c] == 0) continue;
    } else {
      BandPoint& p = shown[c];
      for (double* q : {&p.p05, &p.p25, &p.p50, &p.p75, &p.p95}) *q /= points[c];
      points[c] = 1;
    }
    top = std::max(top, shown[c].p95);
    if (!root_scale) bottom = std::min(bottom, shown[c].p05);
  }
  for (const ReadingBar& r : readings) {
    if (std::isfinite(r.high)) top = std::max(top, r.high);
    if (std::isfinite(r.low)) {
      top = std::max(top, r.low);
      if (!root_scale) bottom = std::min(bottom, r.low);
    }
  }
  if (!(top > bottom)) top = bottom + 1;
  const auto place = [&](double value) {  // 0 at the bottom edge, rows at the top edge
    const double v = std::clamp(value, bottom, top);
    const double share = root_scale ? std::sqrt((v - bottom) / (top - bottom)) : (v - bottom) / (top - bottom);
    return share * rows;
  };
  const auto row_of = [&](double value) { return std::clamp(static_cast<int>(place(value)), 0, rows - 1); };

  const char* light = utf8 ? "░" : ".";
  const char* dark = utf8 ? "▒" : ":";
  const char* middle_past = utf8 ? "─" : "-";
  const char* middle_ahead = utf8 ? "╌" : "~";
  const char* bar = utf8 ? "┃" : "|";
  const char* now_line = utf8 ? "│" : "!";

  std::vector<std::vector<std::string>> cell(static_cast<std::size_t>(rows), std::vector<std::string>(static_cast<std::size_t>(columns), " "));
  const int now = column_of(now_day);
  for (int c = 0; c < columns; ++c) {
    const double day = first_day + (c + 0.5) / columns * (last_day - first_day);
    if (points[static_cast<std::size_t>(c)] == 0) continue;
    const BandPoint& p = shown[static_cast<std::size_t>(c)];
    for (int r = row_of(p.p05); r <= row_of(p.p95); ++r) cell[static_cast<std::size_t>(r)][static_cast<std::size_t>(c)] = light;
    for (int r = row_of(p.p25); r <= row_of(p.p75); ++r) cell[static_cast<std::size_t>(r)][static_cast<std::size_t>(c)] = dark;
    cell[static_cast<std::size_t>(row_of(p.p50))][static_cast<std::size_t>(c)] = day <= now_day ? middle_past : middle_ahead;
  }
  if (now >= 0) {
    for (auto& row : cell) row[static_cast<std::size_t>(now)] = now_line;
  }
  for (const ReadingBar& reading : readings) {
    const int c = column_of(reading.day);
    if (c < 0) continue;
    const int low = std::isfinite(reading.low) ? row_of(reading.low) : 0;
    const int high = std::isfinite(reading.high) ? row_of(reading.high) : rows - 1;
    for (int r = low; r <= high; ++r) cell[static_cast<std::size_t>(r)][static_cast<std::size_t>(c)] = bar;
  }

  std::vector<std::string> lines;
  for (int r = rows - 1; r >= 0; --r) {
    std::string text;
    if (r == rows - 1) text = axis_number(top);
    if (r == 0) text = axis_number(bottom);
    std::string line = fmt::format("{:>{}} ", text, label - 1);
    for (const std::string& c : cell[static_cast<std::size_t>(r)]) line += c;
    lines.push_back(trimmed(line));
  }
  return lines;
}

}  // namespace helmwater::app
