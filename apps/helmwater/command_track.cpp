// SPDX-License-Identifier: Apache-2.0
// helmwater track: how earlier outlooks of one loop, or of all loops in a folder, have done.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <filesystem>
#include <iostream>
#include <memory>
#include <nlohmann/json.hpp>

#include "commands.hpp"
#include "loop_argument.hpp"
#include "page_style.hpp"
#include "page_text.hpp"
#include "records/loop_folder.hpp"
#include "server/track_json.hpp"
#include "steer/track_record.hpp"

namespace helmwater::app {
namespace {

namespace fs = std::filesystem;

struct Options {
  std::string loop, data;
  bool json = false;
};

std::string shares(const std::string& name, const steer::TrackTally& t) {
  return fmt::format("  {:<12} {:>5}   {:>4} ({:>3.0f} to {:>3.0f} %)   {:>4} ({:>3.0f} to {:>3.0f} %)", name, t.n, t.in_90, 100 * t.share_90.low,
                     100 * t.share_90.high, t.in_50, 100 * t.share_50.low, 100 * t.share_50.high);
}

void add_table(PageText& page, const char* title, const steer::TrackTally& all, const std::map<std::string, steer::TrackTally>& by_test) {
  if (all.n == 0) return;
  page.section(title);
  page.line("  test         cases   within 9 in 10       within 1 in 2");
  page.line(shares("all", all));
  for (const auto& [test, t] : by_test) page.line(shares(without_controls(test), t));
}

// Where readings fell in their ranges, near leads: six bins and what each should hold.
void add_graph(PageText& page, const steer::TrackRecord& record) {
  constexpr std::array<double, 7> edges{0, 0.05, 0.25, 0.5, 0.75, 0.95, 1};
  constexpr std::array<const char*, 6> names{"below 9 in 10", "low", "low middle", "high middle", "high", "above 9 in 10"};
  std::array<int, 6> count{};
  for (const steer::TrackCase& c : record.cases) {
    if (c.hindcast.lead_days > steer::kNearDays) continue;
    std::size_t bin = 0;
    while (bin < 5 && c.hindcast.rank >= edges[bin + 1]) ++bin;
    ++count[bin];
  }
  page.section("Where readings fell in their ranges");
  const int most = std::max(1, *std::max_element(count.begin(), count.end()));
  for (std::size_t i = 0; i < count.size(); ++i) {
    const auto bar = static_cast<std::size_t>(30 * count[i] / most);
    page.line(fmt::format("  {:<14} {:<30} {:>4}, should be {:.0f}", names[i], std::string(bar, '#'), count[i],
                          (edges[i + 1] - edges[i]) * record.near.n));
  }
}

std::string page_of(const steer::TrackRecord& record) {
  PageText page(page_style_from_environment());
  page.paragraph(record.text);
  if (record.near.n + record.far.n == 0) return page.text();
  page.line();
  page.paragraph(fmt::format("{} loop{}, outlooks since {}; 95 in 100 ranges of the true share in brackets.", record.loops.size(),
                             record.loops.size() == 1 ? "" : "s", records::to_utc_text(*record.since).substr(0, 10)));
  add_table(page, "Up to three days ahead (each reading once)", record.near, record.near_by_test);
  add_table(page, "Three to seven days ahead", record.far, record.far_by_test);
  if (record.near.n > 0) add_graph(page, record);
  return page.text();
}

int run(const Options& options) {
  if (options.loop.empty() == options.data.empty()) {
    std::cerr << "helmwater track: name either a loop folder or, with --data, a folder of loop folders.\n";
    return 2;
  }
  std::vector<fs::path> folders;
  if (options.data.empty()) {
    folders.emplace_back(options.loop);
  } else {
    std::error_code problem;
    for (fs::directory_iterator i(options.data, problem), end; !problem && i != end; i.increment(problem)) {
      std::error_code ignored;
      if (i->path().filename().string().front() != '.' && fs::exists(i->path() / "loop.toml", ignored)) folders.push_back(i->path());
    }
    if (problem) {
      std::cerr << "--data " << options.data << ": " << problem.message() << "; name a folder that holds loop folders\n";
      return 2;
    }
    if (folders.empty()) {
      std::cerr << "--data " << options.data << ": holds no loop folder (a folder with loop.toml and log.csv); name the one above them\n";
      return 2;
    }
    std::sort(folders.begin(), folders.end());
  }
  steer::TrackOptions wanted;
  wanted.cache = infer::cache_folder();
  infer::Checkpoints checkpoints(wanted.cache);
  wanted.checkpoints = &checkpoints;
  std::vector<steer::TrackCase> cases;
  for (const fs::path& folder : folders) {
    std::optional<records::LoopLog> log;
    if (options.data.empty()) {
      LoopOrExit loop = read_loop(folder.string());
      if (!loop.log) return loop.exit_code;
      log = std::move(loop.log);
    } else {
      auto read = records::read_loop_folder(folder);
      if (!read) {
        std::cerr << folder.string() << " is left out: " << read.error().to_text() << '\n';
        continue;
      }
      log = std::move(*read);
    }
    for (steer::TrackCase& c : steer::track_cases_of(*log, wanted, [&](int done, int of) {
           std::cerr << "\rlooking back: " << done << " of " << of << (done == of ? "\n" : "") << std::flush;
         })) {
      cases.push_back(std::move(c));
    }
  }
  const steer::TrackRecord record = steer::track_record_of(std::move(cases));
  if (options.json) {
    std::cout << server::to_json(record).dump() << '\n';
  } else {
    std::cout << page_of(record);
  }
  return 0;
}

}  // namespace

Command add_track(CLI::App& program) {
  CLI::App* sub = program.add_subcommand("track", "how earlier outlooks have done: how often later readings fell into their ranges");
  const auto options = std::make_shared<Options>();
  CLI::Option* loop = sub->add_option("LOOP", options->loop, "loop folder with loop.toml and log.csv");
  sub->add_option("--data", options->data, "all loop folders in this folder, together")->excludes(loop);
  sub->add_flag("--json", options->json, "machine-readable");
  return {sub, [options] { return run(*options); }};
}

}  // namespace helmwater::app
