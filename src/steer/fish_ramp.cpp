// SPDX-License-Identifier: Apache-2.0
#include "steer/fish_ramp.hpp"

#include <algorithm>
#include <array>
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

// Followed with one crowd.
Ramp followed(const FishCourse& course, const Waters& from, const Care& full, const FishLimits& limits, const std::vector<double>& shares) {
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

}  // namespace

bool Ramp::holds() const {
  return !weeks.empty() && weeks.front().share > 0 && first_days.all >= kAim &&
         std::all_of(weeks.begin(), weeks.end(), [](const Week& w) { return w.kept.all >= kAim; });
}

Ramp find_ramp(const Crowds& crowds, const Waters& few_from, const Waters& all_from, const Care& full, const FishLimits& limits,
               int weeks, bool careful) {
  std::vector<double> shares;
  Waters waters = few_from;
  for (int week = 0; week < weeks; ++week) {
    const auto w = static_cast<std::size_t>(week);
    const double most = careful && w < kMostAtFirst.size() ? kMostAtFirst[w] : 1;
    for (auto level = kLevels.rbegin(); level != kLevels.rend(); ++level) {
      if (*level > most) continue;
      const Care care = at_level(full, *level);
      Stretch this_week = crowds.few.follow(waters, kWeek, care);
      bool holds = kept(this_week.worst, crowds.few.weight(), limits).all >= kAim;
      if (holds) {
        const Stretch next = crowds.few.follow(this_week.after, kWeek, care);
        holds = kept(week == 0 ? together(this_week.worst, next.worst) : next.worst, crowds.few.weight(), limits).all >= kAim;
      }
      if (!holds && *level > 0) continue;
      shares.push_back(*level);
      waters = std::move(this_week.after);
      break;
    }
    // Fish that cannot go in have no second week.
    if (week == 0 && careful && shares.front() == 0) {
      shares.resize(static_cast<std::size_t>(weeks), 0.0);
      break;
    }
  }
  // All members have the last word: a week in which they do not hold is brought down a level, and those after it.
  for (int tries = 0;; ++tries) {
    Ramp ramp = followed(crowds.all, all_from, full, limits, shares);
    const auto broken = std::find_if(ramp.weeks.begin(), ramp.weeks.end(), [](const Ramp::Week& w) { return w.kept.all < kAim; });
    std::size_t at = static_cast<std::size_t>(broken - ramp.weeks.begin());
    if (broken == ramp.weeks.end() && weeks > 1 && ramp.first_days.all < kAim) at = shares[1] > 0 ? 1 : 0;
    if (at >= shares.size() || tries == 12) return ramp;
    // The week's own load or what the one before left behind.
    while (at > 0 && shares[at] == 0) --at;
    if (shares[at] == 0) return ramp;
    const auto level = std::lower_bound(kLevels.begin(), kLevels.end(), shares[at] - 1e-9);
    shares[at] = *(level - 1);
    if (at == 0 && careful && shares[0] == 0) std::fill(shares.begin(), shares.end(), 0.0);
  }
}

FeedAndWater find_feed_and_water(const Crowds& crowds, const Care& full, const FishLimits& limits) {
  int looked_at = 0;
  const auto judged = [&](const FishCourse& course, double share, const Change& change) {
    FeedAndWater one;
    one.share = share;
    one.care = at_level(full, share);
    one.care.change_share = change.share;
    one.care.change_every_days = change.every;
    one.care.change_from_day = course.now().day;
    const Stretch first = course.follow(course.now(), kFirstDays, one.care);
    const Stretch later = course.follow(first.after, kJudgedDays - kFirstDays, one.care);
    one.kept = kept(together(first.worst, later.worst), course.weight(), limits);
    one.kept_later = kept(later.worst, course.weight(), limits);
    one.meets_aim = one.kept.all >= kAim;
    one.meets_aim_later = one.kept_later.all >= kAim;
    ++looked_at;
    return one;
  };
  const std::vector<Change> changes = changes_by_water();
  std::optional<FeedAndWater> later, best;
  for (const double share : kFeedShares) {
    // If even the most water does not do, less will not: one look instead of seventeen.
    const FeedAndWater most = judged(crowds.few, share, changes.back());
    if (!best || most.kept.all > best->kept.all) best = most;
    if (!most.meets_aim && !most.meets_aim_later && share > 0) continue;
    for (const Change& change : changes) {
      const FeedAndWater one = judged(crowds.few, share, change);
      if (one.kept.all > best->kept.all) best = one;
      const bool new_later = one.meets_aim_later && !later;
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
  FeedAndWater found = later ? *later
                             : judged(crowds.all, best->share, {best->care.change_share, best->care.change_every_days});
  found.looked_at = looked_at;
  return found;
}

}  // namespace helmwater::steer
