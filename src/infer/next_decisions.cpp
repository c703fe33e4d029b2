// SPDX-License-Identifier: Apache-2.0
#include "infer/next_decisions.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "handbook/handbook.hpp"

namespace helmwater::infer {
namespace {

using namespace losses;
using Eigen::Index;

constexpr int kFishDays = 7;        // fish in today, tomorrow … or not this week
constexpr double kDateEvery = 2;    // d, between the dates one may plan for

double limit(const char* name) { return handbook::Handbook::built_in().limit(name).fact.value; }

std::vector<Index> times_between(const QuietCourse& course, double from, double to) {
  std::vector<Index> some;
  for (std::size_t t = 0; t < course.days.size(); ++t) {
    if (course.days[t] > from - 1e-6 && course.days[t] <= to + 1e-6) some.push_back(static_cast<Index>(t));
  }
  return some;
}

// Give the planned dose now, or look again.
Decision ammonia_dose(const Question& q, const QuietCourse& course, double day) {
  Decision d{"ammonia_dose", "whether to give ammonia", {}, {"give ammonia", "give none"}, 0};
  const Eigen::VectorXd ammonia = course.at(course.ammonia, day), nitrite = course.at(course.nitrite, day);
  const auto later = times_between(course, day, day + kLookAgainDays);
  const double step = kLookAgainDays / static_cast<double>(std::max<std::size_t>(later.size(), 1));
  const double dose = q.plan.redose_to.value(), cleared_a_day = std::max(q.plan.ready_load.value(), 0.1);
  d.loss.resize(ammonia.size(), 2);
  for (Index m = 0; m < ammonia.size(); ++m) {
    // Too much has to be cleared once more; a ready loop clears the ready load in a day.
    const double too_much = nitrite[m] >= q.plan.redose_while_nitrite_below.value()
                                ? dose : std::max(ammonia[m] - q.plan.redose_below.value(), 0.0);
    d.loss(m, 0) = std::min(too_much, dose) / cleared_a_day;
    double starved = 0;
    for (const Index t : later) {
      if (course.ammonia(t, m) >= q.plan.redose_below.value()) continue;
      starved += step * (course.nitrite(t, m) < q.plan.redose_below.value() ? kStarvedDay : kHalfStarvedDay);
    }
    d.loss(m, 1) = starved;
  }
  return d;
}

// Fish in on one of the coming days, or not this week.
Decision fish_day(const Question& q, double day) {
  Decision d{"fish_day", "whether fish may go in this week", {}, {}, 0};
  const Index members = q.ready_days.size();
  d.loss.resize(members, kFishDays + 2);
  for (int k = 0; k <= kFishDays; ++k) {
    d.actions.push_back(k == 0 ? "put fish in at once"
                               : "put fish in on " + records::local_date_text(records::plus_days(q.as_of, k), q.zone));
    if (k < day - 1e-6) ++d.closed;
  }
  d.actions.emplace_back("put no fish in this week");
  for (Index m = 0; m < members; ++m) {
    const double ready = std::max(q.ready_days[m], 0.0);
    for (int k = 0; k <= kFishDays; ++k) {
      d.loss(m, k) = k >= ready ? kLateDay * (k - ready) : kEarlyDay * std::min(ready - k, kEarlyDaysMost);
    }
    d.loss(m, kFishDays + 1) = kLateDay * std::max(kFishDays + 1 - ready, 0.0);
  }
  return d;
}

// The date to plan for and to tell others.
Decision fish_date(const Question& q) {
  Decision d{"fish_date", "for which date to plan the fish", {}, {}, 0};
  const Index members = q.ready_days.size(), dates = static_cast<Index>(q.horizon_days / kDateEvery) + 1;
  d.loss.resize(members, dates);
  for (Index k = 0; k < dates; ++k) {
    const double planned = kDateEvery * static_cast<double>(k);
    d.actions.push_back("plan the fish for about " + records::local_date_text(records::plus_days(q.as_of, planned), q.zone));
    for (Index m = 0; m < members; ++m) {
      d.loss(m, k) = kDateOffDay * std::abs(planned - std::clamp(q.ready_days[m], 0.0, q.horizon_days));
    }
  }
  return d;
}

Decision buffer(const QuietCourse& course, double day) {
  Decision d{"buffer", "whether to raise alkalinity", {}, {"leave alkalinity as it is", "raise alkalinity"}, 0};
  const auto later = times_between(course, day, day + kBufferDays);
  const double step = kBufferDays / static_cast<double>(std::max<std::size_t>(later.size(), 1));
  const double low = limit("alkalinity_low"), slow = limit("alkalinity_nitrification");
  const auto slowed = [&](double alkalinity) { return alkalinity < low ? kStoppedDay : alkalinity < slow ? kSlowedDay : 0; };
  d.loss = Eigen::MatrixXd::Zero(course.alkalinity.cols(), 2);
  for (Index m = 0; m < d.loss.rows(); ++m) {
    d.loss(m, 1) = kBufferWork;
    for (const Index t : later) {
      d.loss(m, 0) += step * slowed(course.alkalinity(t, m));
      d.loss(m, 1) += step * slowed(course.alkalinity(t, m) + kBufferRaise);
    }
  }
  return d;
}

double harm(double worst, double limit) { return worst <= limit ? 0 : kPassed * std::min(worst / limit, kPassedMost); }

// Feed as usual, halve it, or stop and change water.
Decision fish_safety(const Question& q, const QuietCourse& course, double day) {
  Decision d{"fish_safety", "whether the fish may be fed as usual",
             {}, {"feed as usual", "halve the feed", "stop feeding and change water"}, 0};
  const auto later = times_between(course, day, day + kRiskDays);
  d.loss = Eigen::MatrixXd::Zero(course.nitrite.cols(), 3);
  for (int k = 0; k < 2; ++k) {
    const Eigen::MatrixXf& poison = k == 0 ? course.free_ammonia : course.nitrite;
    const double most = k == 0 ? q.free_ammonia_limit : q.nitrite_limit;
    const Eigen::VectorXd now = course.at(poison, day);
    for (Index m = 0; m < now.size(); ++m) {
      double worst = now[m];
      for (const Index t : later) worst = std::max(worst, static_cast<double>(poison(t, m)));
      // Half the feed, half the rise; no feed, no rise.
      d.loss(m, 0) += harm(worst, most);
      d.loss(m, 1) += harm((now[m] + worst) / 2, most);
      d.loss(m, 2) += harm((1 - kWaterChange) * now[m], most);
    }
  }
  d.loss.col(1).array() += kHalfFeed;
  d.loss.col(2).array() += kNoFeedAndChange;
  return d;
}

}  // namespace

Eigen::VectorXd QuietCourse::at(const Eigen::MatrixXf& quantity, double day) const {
  const auto after = std::upper_bound(days.begin(), days.end(), day);
  if (after == days.begin()) return quantity.row(0).cast<double>();
  if (after == days.end()) return quantity.row(quantity.rows() - 1).cast<double>();
  const auto t = static_cast<Index>(after - days.begin());
  const double share = (day - *(after - 1)) / (*after - *(after - 1));
  return (1 - share) * quantity.row(t - 1).cast<double>() + share * quantity.row(t).cast<double>();
}

std::vector<Decision> decisions_at(const Question& question, const QuietCourse& course, double day) {
  std::vector<Decision> all;
  if (question.fish) {
    all.push_back(fish_safety(question, course, day));
  } else {
    all.push_back(ammonia_dose(question, course, day));
    all.push_back(fish_day(question, day));
    all.push_back(fish_date(question));
  }
  all.push_back(buffer(course, day));
  return all;
}

}  // namespace helmwater::infer
