// SPDX-License-Identifier: Apache-2.0
// Logs of several windows: kept windows change nothing, an old entry corrected makes anew only what follows, and what is
// carried over a window's end is what was there. Loops are simulated; comparisons are between our own ways to one answer
// unless a closed form is named.
#include <gtest/gtest.h>
#include <unistd.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <set>

#include "infer/distributions.hpp"
#include "infer/outlook.hpp"
#include "infer/random.hpp"
#include "infer/windows.hpp"
#include "simulated_loop.hpp"

namespace helmwater::infer {
namespace {

namespace fs = std::filesystem;

struct Folder {
  fs::path path = fs::temp_directory_path() / ("helmwater-windows-" + std::to_string(::getpid()));
  Folder() { fs::remove_all(path); }
  ~Folder() { fs::remove_all(path); }
  std::set<std::string> files() const {
    std::set<std::string> names;
    if (!fs::exists(path)) return names;
    for (const auto& file : fs::directory_iterator(path)) names.insert(file.path().filename().string());
    return names;
  }
};

OutlookOptions options_at(const records::LoopLog& log, double day, Checkpoints* checkpoints) {
  OutlookOptions options;
  options.as_of = records::plus_days(*log.loop.started, day);
  options.days = 5;
  options.members = 1000;
  options.checkpoints = checkpoints;
  return options;
}

void expect_the_same(const Outlook& a, const Outlook& b) {
  ASSERT_EQ(a.series.size(), b.series.size());
  for (std::size_t t = 0; t < a.series.size(); ++t) {
    ASSERT_EQ(a.series[t].when, b.series[t].when);
    for (std::size_t k = 0; k < a.series[t].of.size(); ++k) {
      ASSERT_EQ(a.series[t].of[k].p05, b.series[t].of[k].p05) << t << ' ' << k;
      ASSERT_EQ(a.series[t].of[k].p50, b.series[t].of[k].p50) << t << ' ' << k;
      ASSERT_EQ(a.series[t].of[k].p95, b.series[t].of[k].p95) << t << ' ' << k;
    }
  }
  EXPECT_EQ(a.nitrite_first_clear.p50, b.nitrite_first_clear.p50);
  EXPECT_EQ(a.doubts.size(), b.doubts.size());
}

constexpr double kDay = 125.5;  // three closed windows, the open one from day 90

TEST(long_log, an_old_entry_corrected_gives_the_answer_from_scratch) {
  Folder folder;
  const records::LoopLog log = tests::simulate_loop(3, 2, 126).log;
  Outlook before;
  {
    Checkpoints kept(folder.path);
    before = outlook_of(log, options_at(log, kDay, &kept));
  }
  const std::set<std::string> first = folder.files();
  ASSERT_EQ(first.size(), 3u);

  records::LoopLog corrected = log;
  bool changed = false;
  for (records::Entry& e : corrected.entries) {
    auto* dose = std::get_if<records::Dose>(&e.body);
    const double day = records::days_between(*log.loop.started, e.when);
    if (dose == nullptr || day < 31 || day > 59 || changed) continue;
    dose->amount *= 2;
    changed = true;
  }
  if (!changed) {  // a loop that was not dosed in its second month: another reading then
    for (records::Entry& e : corrected.entries) {
      auto* reading = std::get_if<records::Reading>(&e.body);
      const double day = records::days_between(*log.loop.started, e.when);
      if (reading == nullptr || day < 31 || day > 59 || changed) continue;
      reading->seen.doubted = true;
      changed = true;
    }
  }
  ASSERT_TRUE(changed);
  Checkpoints kept(folder.path);
  const Outlook replayed = outlook_of(corrected, options_at(log, kDay, &kept));
  std::set<std::string> second = folder.files();
  EXPECT_EQ(second.size(), 5u) << "the first window stays, the second and third are made anew";
  for (const std::string& name : first) EXPECT_TRUE(second.contains(name));
  const Outlook scratch = outlook_of(corrected, options_at(log, kDay, nullptr));
  expect_the_same(replayed, scratch);
  EXPECT_NE(before.series.back().of[2].p50, scratch.series.back().of[2].p50) << "the correction must matter";
}

TEST(long_log, checkpoints_lost_or_spoiled_change_nothing) {
  Folder folder;
  const records::LoopLog log = tests::simulate_loop(3, 1, 96).log;
  const Outlook scratch = outlook_of(log, options_at(log, 95.5, nullptr));
  {
    Checkpoints kept(folder.path);
    expect_the_same(outlook_of(log, options_at(log, 95.5, &kept)), scratch);
  }
  {
    Checkpoints again(folder.path);  // from the files
    expect_the_same(outlook_of(log, options_at(log, 95.5, &again)), scratch);
  }
  int spoiled = 0;
  for (const std::string& name : folder.files()) {
    const fs::path file = folder.path / name;
    if (spoiled++ % 2 == 0) {
      fs::resize_file(file, fs::file_size(file) / 2);
    } else {
      std::fstream stream(file, std::ios::in | std::ios::out | std::ios::binary);
      stream.seekp(static_cast<std::streamoff>(fs::file_size(file) / 3));
      stream.put('?');
    }
  }
  ASSERT_EQ(spoiled, 2);
  Checkpoints broken(folder.path);
  expect_the_same(outlook_of(log, options_at(log, 95.5, &broken)), scratch);
  Checkpoints nowhere(fs::path("/proc/helmwater-cannot-be"));
  expect_the_same(outlook_of(log, options_at(log, 95.5, &nowhere)), scratch);
}

TEST(long_log, bytes_that_are_not_whole_are_no_carried_posterior) {
  CarryInput input;
  input.day = 30;
  input.names = {"mu_a"};
  input.z = Eigen::MatrixXd::Random(1, 100);
  input.weight.assign(100, 0.01);
  input.effective = 100;
  input.water.resize(100);
  input.tracks.resize(100);
  const std::string bytes = to_bytes(carry(input));
  const auto back = carried_from_bytes(bytes);
  ASSERT_NE(back, nullptr);
  EXPECT_EQ(to_bytes(*back), bytes);
  for (std::size_t cut = 0; cut < bytes.size(); cut += 7) EXPECT_EQ(carried_from_bytes(bytes.substr(0, cut)), nullptr) << cut;
  for (std::size_t at = 0; at < bytes.size(); at += 13) {
    std::string other = bytes;
    other[at] = static_cast<char>(other[at] ^ 0x20);
    EXPECT_EQ(carried_from_bytes(other), nullptr) << at;
  }
}

// Draws of a closed form: two correlated lognormal waters (correlation 0.8 of the logarithms) and an unknown.
TEST(long_log, what_is_carried_is_what_was_there) {
  constexpr int kDraws = 20000;
  CarryInput input;
  input.day = 30;
  input.names = {"mu_a", "volume", "seed_ammonia_step"};
  input.z.resize(3, kDraws);
  input.weight.assign(kDraws, 1.0 / kDraws);
  input.effective = kDraws;
  input.water.resize(kDraws);
  input.tracks.resize(kDraws);
  const Draws random(5, 0);
  for (std::uint32_t i = 0; i < kDraws; ++i) {
    const double a = random.normal(i, 0), b = 0.8 * a + 0.6 * random.normal(i, 1);
    input.z(0, i) = 0.5 * random.normal(i, 2);
    input.z(1, i) = 0.3 * a;
    input.z(2, i) = a;
    input.water[i].tan = std::exp(0.5 * a);
    input.water[i].no3 = 10 * std::exp(0.7 * b);
  }
  const Carried c = carry(input);
  const auto place = [&](const char* name) {
    const auto found = std::find(c.names.begin(), c.names.end(), name);
    EXPECT_NE(found, c.names.end()) << name;
    return found - c.names.begin();
  };
  EXPECT_EQ(std::count(c.names.begin(), c.names.end(), "seed_ammonia_step"), 0) << "of the first days only";
  const auto tan = place("water_tan"), no3 = place("water_no3"), mu = place("mu_a"), volume = place("volume");
  // Quantiles of the closed form, within four standard errors of a quantile of 20,000 draws and the table's straight lines.
  for (double z : {-2.0, -1.0, 0.0, 1.0, 2.0}) {
    EXPECT_NEAR(c.marginals[static_cast<std::size_t>(tan)].at(z), 0.5 * z, 0.03) << z;
    EXPECT_NEAR(c.marginals[static_cast<std::size_t>(no3)].at(z), std::log(10) + 0.7 * z, 0.04) << z;
    EXPECT_NEAR(c.marginals[static_cast<std::size_t>(volume)].at(z), 0.3 * z, 0.02) << z << ": a fact does not wander";
    // sd after wandering: sqrt((1 - 0.2^2) 0.5^2 + 0.2^2)
    EXPECT_NEAR(c.marginals[static_cast<std::size_t>(mu)].at(z), std::sqrt(0.96 * 0.25 + 0.04) * z, 0.04) << z;
  }
  const Eigen::MatrixXd correlation = c.root * c.root.transpose();
  EXPECT_NEAR(correlation(tan, no3), 0.8, 0.03);  // shrunk by a hundredth at most
  EXPECT_NEAR(correlation(tan, mu), 0, 0.03);
  EXPECT_NEAR(correlation(tan, volume), 1, 0.03);
}

// A hundred days in windows and in one piece: two approximations of one posterior. The windows forget a little by design
// (rates wander, correlations are shrunk), so ranges may differ; where the water is must not.
TEST(long_log, windows_agree_with_the_whole_log_on_the_water_now) {
  for (int index = 1; index < 3; ++index) {
    const records::LoopLog log = tests::simulate_loop(3, index, 96).log;
    const OutlookOptions options = options_at(log, 95.5, nullptr);
    PosteriorOptions whole;
    whole.as_of = *options.as_of;
    whole.members = options.members;
    whole.effective_wanted = 900;
    const Outlook pieces = outlook_of(log, options);
    const Outlook piece = outlook_from(log, posterior_in_window(log, whole, nullptr), options);
    EXPECT_GT(pieces.series.size(), 380u) << "the course goes back to the start";
    EXPECT_EQ(pieces.series.size(), piece.series.size());
    const auto agree = [&](const char* what, const Quantiles& a, const Quantiles& b, double floor) {
      std::printf("loop %d %s: windows %.3g (%.3g to %.3g), whole %.3g (%.3g to %.3g)\n", index, what, a.p50, a.p05, a.p95, b.p50,
                  b.p05, b.p95);
      EXPECT_NEAR(a.p50, b.p50, 0.5 * std::max(a.p95 - a.p05, b.p95 - b.p05) + floor) << what << " of loop " << index;
    };
    agree("ammonia", pieces.ammonia, piece.ammonia, 0.05);
    agree("nitrite", pieces.nitrite, piece.nitrite, 0.05);
    agree("nitrate", pieces.nitrate, piece.nitrate, 1);
    agree("pH", pieces.ph, piece.ph, 0.05);
    agree("alkalinity", pieces.alkalinity, piece.alkalinity, 2);
  }
}

}  // namespace
}  // namespace helmwater::infer
