// SPDX-License-Identifier: Apache-2.0
// Any bytes as log.csv of a loop with kits: either refused with a place and a message, or read into sane values, and then
// written and read again as the same text.
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <string_view>

#include "records/loop_folder.hpp"

namespace {

using namespace helmwater::records;

[[noreturn]] void broken(const char* what, const std::string& text) {
  std::fprintf(stderr, "%s\n%s\n", what, text.c_str());
  std::abort();
}

const Loop& loop_with_kits() {
  static const Loop loop = [] {
    auto parsed = parse_loop_toml(
        "name = \"f\"\nvolume_l = 100\ntime_zone = \"Europe/Vienna\"\nstarted = 2026-03-01\n"
        "[[kit]]\ntest = \"ammonia\"\nbasis = \"ion\"\nsteps = [0, 0.25, 0.5, 1, 2, 4]\n"
        "[[kit]]\ntest = \"nitrite\"\nbasis = \"N\"\nid = \"A\"\nsteps = [0.1, 1, 4]\n"
        "[[kit]]\ntest = \"nitrite\"\nbasis = \"NO2\"\nid = \"B\"\n"
        "[[kit]]\ntest = \"ph\"\nsteps = [6, 6.6, 7.2]\n[[kit]]\ntest = \"alkalinity\"\nbasis = \"dKH\"\n",
        "loop.toml");
    if (!parsed) std::abort();
    return *parsed;
  }();
  return loop;
}

void check(const Reading& reading) {
  const Seen& seen = reading.seen;
  if (std::isnan(seen.low) || std::isnan(seen.high) || !(seen.low < seen.high)) broken("an interval without width", reading.value_text);
  if (!std::isfinite(seen.centre) || !std::isfinite(seen.sd) || seen.sd < 0) broken("a centre or sd that is none", reading.value_text);
  if (seen.shape != Seen::Shape::interval && !(seen.sd > 0)) broken("a distribution without width", reading.value_text);
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const auto log = parse_log_csv(loop_with_kits(), {reinterpret_cast<const char*>(data), size}, "log.csv");
  if (!log) {
    if (log.error().message.empty() || log.error().line < 1 || log.error().column < 1)
      broken("a refusal without place or message", log.error().to_text());
    return 0;
  }
  for (const Entry& entry : log->entries)
    if (const auto* reading = std::get_if<Reading>(&entry.body)) check(*reading);
  effective_plan(*log);
  const std::string text = to_log_csv(*log);
  const auto again = parse_log_csv(loop_with_kits(), text, "log.csv");
  if (!again) broken("what was written is refused", again.error().to_text() + "\n" + text);
  if (to_log_csv(*again) != text) broken("what was written reads back as another log", text + "\n---\n" + to_log_csv(*again));
  if (again->entries.size() != log->entries.size()) broken("entries got lost in writing", text);
  return 0;
}
