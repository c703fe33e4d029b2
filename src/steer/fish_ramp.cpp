// SPDX-License-Identifier: Apache-2.0
#include "steer/fish_ramp.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

namespace helmwater::steer {
namespace {

constexpr std::array<double, 7> kLevels{0, 0.1, 0.25, 0.4, 0.5, 0.75, 1};
// Most of the first weeks. A start at about a fifth of the fish is Kentucky State University's advice (manual, 6.6); the
// steps after it are ours (ESTIMATE).
constexpr std::array<double, 3> kMostAtFirst{0.25, 0.5, 0.75};
constexpr double kWeek = 7;
constexpr double kFirstDays = 3;
constexpr std::array<double, 5> kFeedShares{1, 0.75, 0.5, 0.25, 0};
constexpr std::array<double, 4> kChangeShares{0.1, 0.2, 0.3, 0.5}, kChangeEvery{1, 2, 3, 7};

Care at_level(const Care& full, double share) {
  Care care = full;
  care.feed_g_per_day = full.feed_g_per_day * share;
  return care;
}

std::vector<Extremes> together(const std::vector<Extremes>& a, const std::vector<Extremes>& b) {
  std::vector<Extremes> both = a;
  for (std::size_t m = 0; m < both.size(); ++m) both[m].add(b[m]);
  return both;
}

// How far beyond the limits, in the mean of the members: ln of the largest ratio, nothing within.
double excess(const std::vector<Extremes>& worst, const std::vector<double>& weight, const FishLimits& limits) {
  double sum = 0;
  for (std::size_t m = 0; m < worst.size(); ++m) {
    const double ratio = std::max({worst[m].ammonia / limits.ammonia->fact.value, worst[m].free_ammonia / limits.free_ammonia->fact.value,
                                   worst[m].nitrite / limits.nitrite->fact.value, limits.oxygen->fact.value / std::max<double>(worst[m].oxygen, 0.01)});
    sum += weight[m] * std::max(0.0, std::log(ratio));
  }
  return sum;
}

struct Change {
  double share = 0, every = 1;
};
// By the water they take a day; of equals the rarer first.
std::vector<Change> changes_by_water() {
  std::vector<Change> all{{}};
  for (const double share : kChangeShares) {
    for (const double every : kChangeEvery) all.push_back({share, every});
  }
  std::stable_sort(all.begin(), all.end(), [](const Change& a, const Change& b) {
    const double x = a.share / a.every, y = b.share / b.every;
    return x < y - 1e-9 || (x < y + 1e-9 && a.every > b.every);
  });
  return all;
}

}  // namespace

bool Ramp::holds() const {
  return !weeks.empty() && weeks.front().share > 0 && first_days.all >= kAim &&
         std::all_of(weeks.begin(), weeks.end(), [](const Week& w) { return w.kept.all >= kAim; });
}

Ramp follow_ramp(const FishCourse& course, const Waters& from, const Care& full, const FishLimits& limits, const std::vector<double>& shares) {
  Ramp ramp;
  Waters waters = from;
  std::vector<Extremes> first;
  for (std::size_t week = 0; week < shares.size(); ++week) {
    Stretch s = course.follow(waters, kWeek, at_level(full, shares[week]));
    ramp.weeks.push_back({shares[week], kept(s.worst, course.weight(), limits)});
    if (week == 0) first = s.worst;
    if (week == 1) first = together(first, s.worst);
    waters = std::move(s.after);
  }
  ramp.first_days = kept(first, course.weight(), limits);
  return ramp;
}

Ramp find_ramp(const Crowds& crowds, const Waters& few_from, const Waters& all_from, const Care& full, const FishLimits& limits,
               int weeks, bool careful) {
  const auto count = static_cast<std::size_t>(weeks);
  std::vector<double> shares;
  Waters waters = few_from;
  std::vector<Extremes> first;  // of the first week
  // Does the level hold from this week to the last? `after`: the water a week on.
  const auto holds = [&](std::size_t week, double level, Waters& after, std::vector<Extremes>& this_week) {
    Waters at = waters;
    for (std::size_t w = week; w < count; ++w) {
      Stretch s = crowds.few.follow(at, kWeek, at_level(full, level));
      if (kept(s.worst, crowds.few.weight(), limits).all < kAim) return false;
      const bool second = w == 1;
      if (second && kept(together(week == 0 ? this_week : first, s.worst), crowds.few.weight(), limits).all < kAim) return false;
      if (w == week) {
        after = s.after;
        this_week = s.worst;
      }
      at = std::move(s.after);
    }
    return true;
  };
  while (shares.size() < count) {
    const std::size_t week = shares.size();
    const double most = careful && week < kMostAtFirst.size() ? kMostAtFirst[week] : 1, least = shares.empty() ? 0 : shares.back();
    double chosen = least;
    Waters after;
    std::vector<Extremes> this_week;
    for (auto level = kLevels.rbegin(); level != kLevels.rend() && *level > least; ++level) {
      if (*level > most || !holds(week, *level, after, this_week)) continue;
      chosen = *level;
      break;
    }
    if (chosen == 0 && careful) break;  // fish that cannot go in have no second week
    if (chosen == least) {
      Stretch s = crowds.few.follow(waters, kWeek, at_level(full, chosen));
      after = std::move(s.after);
      this_week = std::move(s.worst);
    }
    if (week == 0) first = std::move(this_week);
    shares.push_back(chosen);
    waters = std::move(after);
  }
  shares.resize(count, 0.0);
  // All members have the last word: where they do not hold, this week and all others stay a level below.
  for (int tries = 0;; ++tries) {
    Ramp ramp = follow_ramp(crowds.all, all_from, full, limits, shares);
    const auto broken = std::find_if(ramp.weeks.begin(), ramp.weeks.end(), [](const Ramp::Week& w) { return w.kept.all < kAim; });
    auto at = static_cast<std::size_t>(broken - ramp.weeks.begin());
    if (broken == ramp.weeks.end() && ramp.first_days.all < kAim) at = std::min<std::size_t>(1, count - 1);
    if (at >= count || shares[at] == 0 || tries == 12) return ramp;
    const double lower = *(std::lower_bound(kLevels.begin(), kLevels.end(), shares[at] - 1e-9) - 1);
    for (double& share : shares) share = std::min(share, lower);
  }
}

std::optional<FeedAndWater> find_feed_without_change(const Crowds& crowds, const Care& full, const FishLimits& limits) {
  for (const double share : kFeedShares) {
    FeedAndWater one;
    one.share = share;
    one.care = at_level(full, share);
    one.care.change_share = 0;
    for (const FishCourse* course : {&crowds.few, &crowds.all}) {
      one.kept = kept(course->follow(course->now(), kJudgedDays, one.care).worst, course->weight(), limits);
      if (one.kept.all < kAim) break;
    }
    one.kept_later = one.kept;
    one.meets_aim = one.meets_aim_later = one.kept.all >= kAim;
    if (one.meets_aim) return one;
  }
  return std::nullopt;
}

FeedAndWater find_feed_and_water(const Crowds& crowds, const Care& full, const FishLimits& limits) {
  int looked_at = 0;
  double beyond = 0;  // excess of the one judged last
  const auto judged = [&](const FishCourse& course, double share, const Change& change) {
    FeedAndWater one;
    one.share = share;
    one.care = at_level(full, share);
    one.care.change_share = change.share;
    one.care.change_every_days = change.every;
    one.care.change_from_day = course.now().day;
    const Stretch first = course.follow(course.now(), kFirstDays, one.care);
    const Stretch later = course.follow(first.after, kJudgedDays - kFirstDays, one.care);
    const std::vector<Extremes> both = together(first.worst, later.worst);
    one.kept = kept(both, course.weight(), limits);
    one.kept_later = kept(later.worst, course.weight(), limits);
    one.meets_aim = one.kept.all >= kAim;
    one.meets_aim_later = one.kept_later.all >= kAim;
    beyond = excess(later.worst, course.weight(), limits);
    ++looked_at;
    return one;
  };
  const std::vector<Change> changes = changes_by_water();
  std::optional<FeedAndWater> later;
  std::optional<Change> least_harm;
  double least = 0;
  for (const double share : kFeedShares) {
    // If even the most water does not do, less will not: one look instead of seventeen.
    const FeedAndWater most = judged(crowds.few, share, changes.back());
    if (!most.meets_aim && share > 0) continue;
    for (const Change& change : changes) {
      const FeedAndWater one = judged(crowds.few, share, change);
      if (share == 0 && (!least_harm || beyond < least - 0.01)) {
        least_harm = change;
        least = beyond;
      }
      const bool new_later = share == 0 && one.meets_aim_later && !later;
      if (!one.meets_aim && !new_later) continue;
      const FeedAndWater sure = judged(crowds.all, share, change);
      if (sure.meets_aim) {
        FeedAndWater found = sure;
        found.looked_at = looked_at;
        return found;
      }
      if (new_later && sure.meets_aim_later) later = sure;
    }
  }
  // Ammonia or nitrite is too high already: whoever feeds then does harm, even if the water bears it three days later.
  FeedAndWater found = later ? *later : judged(crowds.all, 0, *least_harm);
  found.looked_at = looked_at;
  return found;
}

}  // namespace helmwater::steer
