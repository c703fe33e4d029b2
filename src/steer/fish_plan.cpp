// SPDX-License-Identifier: Apache-2.0
#include "steer/fish_plan.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "handbook/handbook.hpp"
#include "loop/nitrification.hpp"

namespace helmwater::steer {
namespace {

using handbook::Handbook;
using Verdict = FishPlan::Verdict;

constexpr std::array<double, 5> kWaits{0, 3, 7, 14, 21};
constexpr double kDoseFreeDays = 2;      // the plan's ammonia stops this long before fish go in
constexpr double kFreshDays = 3;         // readings older than this prove nothing
constexpr double kEffectiveLeast = 200;  // draws worth less than this prove nothing
// Tests a week (common practice, no source).
constexpr std::array<int, 6> kTests{7, 7, 4, 3, 2, 2};
// Of monochloramine, g N per g Cl2.
constexpr double kNitrogenPerChlorine = 14.007 / 70.906;


std::string in_hundred(double p) {
  if (p > 0.99) return "more than 99 in 100";
  if (p < 0.01) return "less than 1 in 100";
  return fmt::format("{:.0f} in 100", std::floor(100 * p));
}
// Two significant digits, down: an amount of feed is a most.
std::string grams(double g) {
  if (g <= 0) return "0 g";
  const double step = g >= 100 ? 10 : g >= 10 ? 1 : g >= 1 ? 0.1 : 0.01;
  return fmt::format("{:.{}f} g", std::floor(g / step + 1e-6) * step, g >= 10 ? 0 : g >= 1 ? 1 : 2);
}
// As a keeper reads it.
const char* in_words(handbook::Confidence confidence) {
  switch (confidence) {
    case handbook::Confidence::seen: return "seen in its text";
    case handbook::Confidence::second_hand: return "read second hand";
    case handbook::Confidence::derived: return "worked out from data";
    case handbook::Confidence::memory: return "from memory";
    case handbook::Confidence::estimate: return "an estimate";
  }
  return "an estimate";
}
std::string fish_count(double n) { return fmt::format("{:.0f}", n); }

struct Stocked {
  double count = 0, grams = 0;  // of those with a weight
  bool all_weighed = true;
  std::string species;
  bool several = false;
};
Stocked stocked(const records::LoopLog& log, records::Instant as_of) {
  Stocked s;
  for (const records::Entry& e : log.entries) {
    const auto* move = std::get_if<records::FishMove>(&e.body);
    if (move == nullptr || e.when > as_of) continue;
    const double sign = move->in ? 1 : -1;
    s.count += sign * move->count;
    if (move->mean_weight) s.grams += sign * move->count * move->mean_weight->value();
    else if (move->in) s.all_weighed = false;
    if (move->in && !move->species.empty()) {
      s.several = s.several || (!s.species.empty() && s.species != move->species);
      s.species = move->species;
    }
  }
  return s;
}

std::optional<records::Instant> last_reading(const records::LoopLog& log, records::Instant as_of, records::Test test) {
  std::optional<records::Instant> last;
  for (const records::Entry& e : log.entries) {
    const auto* r = std::get_if<records::Reading>(&e.body);
    if (r != nullptr && r->test == test && e.when <= as_of) last = e.when;
  }
  return last;
}

class Planner {
 public:
  Planner(const records::LoopLog& log, const infer::Posterior& posterior, const FishWish& wish)
      : log_(log), posterior_(posterior), wish_(wish), all_(log, posterior), few_(all_.some(kSearchMembers)) {}

  tl::expected<FishPlan, FishWishError> plan() {
    out_.loop = log_.loop.name;
    out_.zone = log_.loop.zone();
    out_.as_of = posterior_.as_of;
    out_.members = static_cast<int>(all_.members());
    out_.effective_members = posterior_.draws.effective;
    out_.with_fish = records::has_fish(log_, posterior_.as_of);
    out_.temperature_c = all_.temperature_c();
    if (auto problem = complete_the_wish()) return tl::unexpected(*problem);
    full_.feed_g_per_day = out_.feed_g;
    full_.protein_percent = out_.protein_percent;
    const auto& source = log_.loop.source_water;
    if (source.disinfectant == records::Disinfectant::chloramine) {
      full_.source_ammonia = kNitrogenPerChlorine * (source.disinfectant_dose ? source.disinfectant_dose->value() : 1.0);
    }
    std::vector<double> loads(all_.members());
    for (std::size_t m = 0; m < loads.size(); ++m) {
      loads[m] = out_.feed_g * out_.protein_percent / 100 * all_.ammonia_per_protein(m);
    }
    out_.load = infer::quantiles(loads, all_.weight());
    held_ = full_;
    held_.hold_alkalinity = true;
    if (out_.with_fish) {
      keep_fish();
    } else {
      start_up();
    }
    hold_rules();
    cautions();
    return std::move(out_);
  }

 private:
  std::optional<FishWishError> complete_the_wish() {
    const Stocked in = stocked(log_, posterior_.as_of);
    const Handbook& book = Handbook::built_in();
    out_.species = wish_.species.empty() && out_.with_fish ? in.species : wish_.species;
    mixed_ = in.several && wish_.species.empty() && out_.with_fish;
    // Of several kinds none is known to be the hardiest.
    out_.fish = mixed_ ? nullptr : book.fish(out_.species);
    out_.limits = limits_for(out_.fish);
    out_.protein_percent = wish_.protein_percent;
    out_.count = wish_.count;
    out_.weight_g = wish_.weight_g;
    if (out_.with_fish && !out_.count && in.count > 0) out_.count = in.count;
    if (out_.with_fish && !out_.weight_g && in.count > 0 && in.all_weighed && in.grams > 0) out_.weight_g = in.grams / in.count;
    const bool weighed = out_.count && out_.weight_g;
    if (!out_.with_fish && (!out_.count || !out_.weight_g) && !wish_.feed_g) {
      return FishWishError{out_.count ? "weight_g" : "count", "Say how many fish are planned and how heavy one is, or how much feed they will get a day."};
    }
    const double biomass = weighed ? *out_.count * *out_.weight_g : 0;
    if (wish_.feed_g) {
      out_.feed_g = *wish_.feed_g;
      out_.feed_from = "the feed you gave";
    } else if (wish_.feed_percent) {
      if (!weighed) return FishWishError{"count", "A feed in percent of body weight needs the number of fish and the weight of one."};
      out_.feed_g = biomass * *wish_.feed_percent / 100;
      out_.feed_from = fmt::format("{} % of body weight a day, as you gave it", *wish_.feed_percent);
    } else if (out_.with_fish && records::effective_plan(log_).feed_g_per_day.value_or(0) > 0) {
      out_.feed_g = *records::effective_plan(log_).feed_g_per_day;
      out_.feed_from = "the loop's planned feed, or what the log shows of its last week";
    } else if (weighed) {
      // The highest ration listed: a filter that carries it carries less.
      const handbook::Fish::Ration* most = nullptr;
      const handbook::Fish* of = out_.fish;
      for (const handbook::Fish& fish : book.all_fish()) {
        if (out_.fish != nullptr ? &fish != out_.fish : !out_.species.empty()) continue;
        const auto* ration = fish.ration_at(*out_.weight_g);
        if (ration != nullptr && (most == nullptr || ration->high_percent > most->high_percent)) {
          most = ration;
          of = &fish;
        }
      }
      if (most == nullptr) {
        return FishWishError{"feed_percent", fmt::format("The handbook has no ration for {} of {:.0f} g; say how much feed they will get, in grams a day or in percent of their weight.",
                                                         out_.species.empty() ? "fish" : out_.species, *out_.weight_g)};
      }
      out_.feed_g = biomass * most->high_percent / 100;
      out_.feed_from = fmt::format("{} % of body weight a day, the most the handbook lists for {} of this size{} ({}, {})", most->high_percent, of->name,
                                   out_.fish == nullptr ? ", the hungriest it knows" : "", most->source, handbook::to_text(most->confidence));
      ration_of_growers_ = true;
    } else {
      return FishWishError{"feed_g", "How much feed do the fish get a day? The log does not say; give grams a day, or count, weight and percent."};
    }
    if (!(out_.feed_g > 0)) return FishWishError{"feed_g", "The planned feed is nothing: fish that are not fed prove nothing."};
    return std::nullopt;
  }

  Waters waited(const FishCourse& course, double days) const {
    Waters w = course.now();
    Care dosing, waiting;
    dosing.hold_alkalinity = waiting.hold_alkalinity = true;
    dosing.plan_doses = true;
    const double dosed = std::max(0.0, days - kDoseFreeDays);
    if (dosed > 0) w = course.follow(w, dosed, dosing).after;
    if (days > dosed) w = course.follow(w, days - dosed, waiting).after;
    return w;
  }

  void start_up() {
    const Crowds crowds{few_, all_};
    for (const double days : kWaits) {
      FishPlan::After after;
      after.days = days;
      after.when = records::plus_days(out_.as_of, days);
      const Waters few = waited(few_, days), all = waited(all_, days);
      const auto carried = [&](const Care& care) { return kept(all_.follow(all, kJudgedDays, care).worst, all_.weight(), out_.limits); };
      after.full = carried(days == 0 ? full_ : held_);
      after.ramp = find_ramp(crowds, few, all, held_, out_.limits, wish_.weeks, true);
      if (days == 0 && !all_.plan_buffers()) {
        // Nobody has said yet that alkalinity will be held.
        out_.held = carried(held_).all;
        std::vector<double> shares;
        for (std::size_t w = 0; w < std::min<std::size_t>(2, after.ramp.weeks.size()); ++w) shares.push_back(after.ramp.weeks[w].share);
        after.ramp.first_days = follow_ramp(all_, all, full_, out_.limits, shares).first_days;
      }
      out_.after.push_back(std::move(after));
      const std::size_t at = out_.after.size() - 1;
      if (!out_.first_full && out_.after[at].full_go()) out_.first_full = at;
      if (!out_.first_ramp && out_.after[at].ramp.holds()) out_.first_ramp = at;
    }
    const double load_nh3 = out_.load.p50 / records::to_standard_factor(records::Test::ammonia, records::Basis::nh3);
    out_.challenge = plan_challenge(log_, all_, load_nh3);
    out_.last_challenge = judge_challenge(log_, posterior_, out_.challenge.ammonia);
    judge();
    if (out_.first_ramp) add_weeks(out_.after[*out_.first_ramp].ramp, out_.after[*out_.first_ramp].when);
  }

  // What is missing before anything can be said; empty: nothing.
  std::vector<std::string> missing() const {
    std::vector<std::string> list;
    const auto fresh = [&](records::Test test) {
      const auto last = last_reading(log_, out_.as_of, test);
      return last && records::days_between(*last, out_.as_of) <= kFreshDays;
    };
    if (!fresh(records::Test::ammonia)) list.emplace_back("ammonia was not tested in the last three days");
    if (!fresh(records::Test::nitrite)) list.emplace_back("nitrite was not tested in the last three days");
    if (posterior_.draws.effective < kEffectiveLeast) list.emplace_back("the readings leave too few of the possible loops to count on");
    if (posterior_.conflict.said()) list.emplace_back("the readings are unlike those of any loop the model knows of");
    if (!posterior_.certificate.certified) list.emplace_back("this loop's course cannot be computed finely enough");
    return list;
  }

  void judge() {
    const FishPlan::After& now = out_.after.front();
    const std::vector<std::string> lacking = missing();
    const bool failed = out_.last_challenge.verdict == ChallengeResult::Verdict::not_passed && records::days_between(out_.last_challenge.dosed, out_.as_of) <= 7;
    const bool full = now.full_go() && now.ramp.holds();
    const bool likely = now.full.all >= 0.5 || now.ramp.holds();
    const std::string whose = out_.count ? fmt::format("all {} fish", fish_count(*out_.count)) : "all of them";
    if (!lacking.empty() && likely) {
      out_.verdict = Verdict::cannot_tell;
      out_.headline = "Cannot tell yet whether fish can go in. Keep them out until it can be told.";
      for (const std::string& what : lacking) out_.because.push_back(what);
      out_.steps.emplace_back(posterior_.conflict.said() ? "Look for what the log does not tell, test ammonia and nitrite with a fresh kit, and ask again."
                                                         : "Test ammonia and nitrite today, and ask again.");
    } else if (full && !failed) {
      out_.verdict = Verdict::go;
      out_.headline = out_.last_challenge.verdict == ChallengeResult::Verdict::passed
                          ? "Go: the filter carries the planned fish. Bring them in by the ramp below all the same."
                          : "Go, once the challenge below is passed. Bring the fish in by the ramp all the same.";
    } else {
      out_.verdict = Verdict::not_yet;
      out_.part_now = now.ramp.holds() && !failed && lacking.empty();
      out_.headline = out_.part_now ? fmt::format("Not yet for {}. A part can go in, as the ramp below begins.", whose)
                                    : "Not yet: keep fish out.";
    }
    if (failed) out_.because.emplace_back("the last large dose of ammonia was probably not gone a day later");
    const Kept& k = now.full;
    out_.because.push_back(fmt::format("with {} in at once on {} of feed a day, the water stays within every limit for {:.0f} days: {}; it takes {:.0f} in 100 to go",
                                       whose, grams(out_.feed_g), kJudgedDays, in_hundred(k.all), 100 * kAim));
    for (const auto& [p, what] : {std::pair{k.ammonia, fmt::format("ammonia at or below {} mg/L (as NH3)", out_.limits.ammonia->fact.value)},
                                  std::pair{k.free_ammonia, fmt::format("free ammonia at or below {} mg/L (as N)", out_.limits.free_ammonia->fact.value)},
                                  std::pair{k.nitrite, fmt::format("nitrite at or below {} mg/L (as ion)", out_.limits.nitrite->fact.value)},
                                  std::pair{k.oxygen, fmt::format("oxygen at or above {} mg/L", out_.limits.oxygen->fact.value)}}) {
      if (p < kAim) out_.because.push_back(fmt::format("{}: {}", what, in_hundred(p)));
    }
    if (out_.held && *out_.held > k.all + 0.02) {
      out_.steps.push_back(fmt::format("Alkalinity would run short: were it held at {:.0f} mg/L (as CaCO3) or more, it would be {}. Raise it, and plan to.", kHeldAlkalinity, in_hundred(*out_.held)));
    }
    ask_for_ph(k);
    if (k.oxygen < kAim) out_.steps.emplace_back("Give more air, and measure oxygen once with a meter: no reading of it, or a low one, holds the answer down.");
    if (k.ph < kAim) {
      out_.steps.push_back(fmt::format("pH stays at or above {} in {} only: test alkalinity and raise it first.", out_.limits.ph_low->fact.value, in_hundred(k.ph)));
    }
    low_alkalinity();
    const auto date = [&](const std::optional<std::size_t>& at, const char* what) {
      if (at && *at > 0) {
        out_.steps.push_back(fmt::format("{} from about {:.0f} days on, if the days until then go as the plan says; ask again then, with new readings.", what, out_.after[*at].days));
      } else if (!at) {
        out_.steps.push_back(fmt::format("{} not within {:.0f} days, as far as it can be seen today.", what, kWaits.back()));
      }
    };
    if (out_.verdict != Verdict::go) {
      date(out_.first_full, "All of them at once:");
      date(out_.first_ramp, "A light start by the ramp:");
    }
    if (out_.verdict != Verdict::go && out_.fish == nullptr) out_.steps.emplace_back("Name the species: the strictest limits were used, those of cold-water fish.");
    if (out_.last_challenge.verdict != ChallengeResult::Verdict::passed) {
      out_.steps.emplace_back(out_.verdict == Verdict::go || out_.part_now ? "Prove it with the challenge below before the first fish goes in."
                                                                           : "Before fish go in, prove it with the challenge below.");
    }
    if (out_.first_ramp) {
      const double reached = out_.after[*out_.first_ramp].ramp.weeks.back().share;
      if (reached < 1 && wish_.weeks > 3) {
        out_.steps.push_back(fmt::format("Seen from today the ramp ends at {:.0f} % of the planned feed; the readings of the coming weeks may allow the rest. Ask again then.", 100 * reached));
      }
    }
    if (out_.challenge.capped) {
      out_.steps.push_back(fmt::format("A day of the planned load is more ammonia than one dose may hold ({:.1f} mg/L as NH3): the challenge proves a part of it alone.", out_.challenge.ammonia));
    }
  }

  void keep_fish() {
    std::vector<Extremes> as_it_is(all_.members());
    // A quarter of an hour of nothing: the water now.
    const Stretch now = all_.follow(all_.now(), 0.25, Care{});
    as_it_is = now.worst;
    out_.now = kept(as_it_is, all_.weight(), out_.limits);
    const Crowds crowds{few_, all_};
    out_.feed_and_water = find_feed_and_water(crowds, full_, out_.limits);
    const FeedAndWater& found = *out_.feed_and_water;
    Care care = held_;
    care.change_share = found.care.change_share;
    care.change_every_days = found.care.change_every_days;
    care.change_from_day = found.care.change_from_day;
    if (found.care.change_share > 0 && found.meets_aim) {
      out_.without_change = find_feed_without_change(crowds, full_, out_.limits);
      if (out_.without_change) {
        out_.steps.push_back(out_.without_change->share > 0
                                 ? fmt::format("Or, without changing water: feed at most {} a day ({}).", grams(out_.without_change->care.feed_g_per_day), in_hundred(out_.without_change->kept.all))
                                 : fmt::format("Or, without changing water: do not feed ({}).", in_hundred(out_.without_change->kept.all)));
      }
    }
    if (found.meets_aim) {
      out_.weeks_with_fish = find_ramp(crowds, few_.now(), all_.now(), care, out_.limits, wish_.weeks, false);
      if (out_.weeks_with_fish.weeks.front().share > found.share) out_.weeks_with_fish.weeks.front().share = found.share;
      add_weeks(out_.weeks_with_fish, out_.as_of);
    }
    const std::string water =
        found.care.change_share <= 0
            ? std::string("no water change is needed for that")
            : fmt::format("change {:.0f} % of the water {}, the first now", 100 * found.care.change_share,
                          found.care.change_every_days <= 1 ? std::string("every day") : fmt::format("every {:.0f} days", found.care.change_every_days));
    const std::string feed = found.share <= 0 ? std::string("Do not feed") : fmt::format("Feed at most {} a day", grams(found.care.feed_g_per_day));
    const auto lacking = missing();
    if (found.meets_aim) {
      out_.verdict = lacking.empty() ? Verdict::go : Verdict::cannot_tell;
      out_.headline = fmt::format("{}; {}.", feed, water);
      out_.because.push_back(fmt::format("the water then stays within every limit for {:.0f} days: {}; the aim is {:.0f} in 100", kJudgedDays, in_hundred(found.kept.all), 100 * kAim));
    } else {
      out_.verdict = Verdict::not_yet;
      out_.headline = fmt::format("No feed and water change looked at keeps the fish safe from today on. The best: {}{}; {}.",
                                  static_cast<char>(std::tolower(feed.front())), feed.substr(1), water);
      out_.because.push_back(fmt::format("the water then stays within every limit for {:.0f} days: {}; the aim is {:.0f} in 100", kJudgedDays, in_hundred(found.kept.all), 100 * kAim));
      out_.because.push_back(fmt::format("and from the fourth day on: {}", in_hundred(found.kept_later.all)));
      emergency();
    }
    for (const std::string& what : lacking) out_.because.push_back(what);
    if (!lacking.empty()) out_.steps.emplace_back("Test ammonia and nitrite today: this advice rests on old or too few readings.");
    const Kept& k = found.kept;
    ask_for_ph(k);
    low_alkalinity();
    if (k.oxygen < kAim) out_.steps.emplace_back("Give more air, and measure oxygen once with a meter.");
    if (k.ph < kAim) out_.steps.push_back(fmt::format("pH stays at or above {} in {} only: test alkalinity.", out_.limits.ph_low->fact.value, in_hundred(k.ph)));
    offer_salt();
  }

  void ask_for_ph(const Kept& k) {
    const auto last = last_reading(log_, out_.as_of, records::Test::ph);
    if (k.free_ammonia < 0.98 && (!last || records::days_between(*last, out_.as_of) > 7)) {
      out_.steps.emplace_back("Test pH: it decides how much of the ammonia is free, and was not tested for a week.");
    }
  }
  void low_alkalinity() {
    std::vector<double> alkalinity(all_.members());
    for (std::size_t m = 0; m < alkalinity.size(); ++m) alkalinity[m] = all_.part(all_.now(), m, &loop::State<double>::alk) * loop::kMgCaCO3PerMeq;
    const double middle = infer::quantiles(alkalinity, all_.weight()).p50;
    const handbook::Limit& needed = Handbook::built_in().limit("alkalinity_nitrification");
    if (middle >= needed.fact.value) return;
    out_.steps.push_back(fmt::format("Alkalinity is probably {:.0f} mg/L (as CaCO3): below {:.0f} the bacteria are held back. Raise it before anything else; the outlook says by how much.",
                                     std::max(middle, 0.0), needed.fact.value));
  }

  void emergency() {
    out_.emergency = {"Stop feeding today; healthy fish stand days without food.",
                      "Give all the air there is.",
                      "Change half of the water now, and again tomorrow if ammonia or nitrite still shows.",
                      "Test ammonia, nitrite and pH again within hours, and write it down.",
                      "If fish can be moved to running water that is safe for them, move them."};
  }

  // Chloride keeps nitrite out of the blood; the ratio is a handbook limit, and so is its reach.
  void offer_salt() {
    std::vector<double> nitrite(all_.members());
    const double n_per_no2 = records::to_standard_factor(records::Test::nitrite, records::Basis::no2);
    for (std::size_t m = 0; m < nitrite.size(); ++m) nitrite[m] = all_.part(all_.now(), m, &loop::State<double>::no2) / n_per_no2;
    const infer::Quantiles q = infer::quantiles(nitrite, all_.weight());
    if (q.p95 <= out_.limits.nitrite->fact.value) return;
    const handbook::Limit& ratio = Handbook::built_in().limit("chloride_to_nitrite");
    const handbook::Reagent& salt = *Handbook::built_in().reagent("sodium chloride");
    FishPlan::Salt s;
    s.chloride_mg_l = ratio.fact.value * q.p95;
    // IUPAC: chlorine 35.45 g/mol.
    s.grams = s.chloride_mg_l * all_.litres() / 1000 * salt.molar_mass.value / (35.45 * salt.ions.chloride);
    s.cautions = salt.cautions;
    s.cautions.insert(s.cautions.begin(),
                      {ratio.says, "A stopgap beside the water changes, never instead of them.",
                       "Count the chloride that is in the water already, dissolve the salt first and give it over a day.",
                       "Not every fish and hardly any crop stands salt: ask somebody who knows yours."});
    out_.salt = std::move(s);
  }

  void add_weeks(const Ramp& ramp, records::Instant from) {
    for (std::size_t w = 0; w < ramp.weeks.size(); ++w) {
      FishPlan::Week week;
      week.from = records::plus_days(from, 7.0 * static_cast<double>(w));
      week.share = ramp.weeks[w].share;
      // With fish in, only their feed follows the plan.
      // Of few fish at least one, on a part of its ration.
      week.fish = out_.count ? out_.with_fish ? *out_.count : std::max(week.share > 0 ? 1.0 : 0.0, std::floor(*out_.count * week.share + 1e-9)) : 0;
      week.feed_g = out_.feed_g * week.share;
      week.probability = ramp.weeks[w].kept.all;
      week.tests = kTests[std::min(w, kTests.size() - 1)];
      out_.weeks.push_back(week);
    }
  }

  void hold_rules() {
    const double nitrite = out_.limits.nitrite->fact.value, ammonia = out_.limits.ammonia->fact.value;
    out_.hold_rules = {
        "Before each step up, ammonia and nitrite must have read nothing twice in a row.",
        fmt::format("If ammonia shows more than {} mg/L (as NH3) or nitrite more than {} mg/L (as ion), keep the feed where it is.", ammonia / 2, nitrite / 2),
        fmt::format("Above {} mg/L of ammonia or {} mg/L of nitrite, do not feed for a day, change a part of the water and test again.", ammonia, nitrite),
        "If fish leave feed, take it out and give less the next day.",
        "Reckoned with is one meal a day; the same feed in two or three is gentler."};
    if (!all_.plan_buffers() && !out_.weeks.empty()) {
      out_.hold_rules.push_back(fmt::format("Test alkalinity every week and hold it at {:.0f} mg/L (as CaCO3) or more: the weeks above rest on it.", kHeldAlkalinity));
    }
  }

  void cautions() {
    auto& c = out_.cautions;
    const auto& limits = out_.limits;
    if (out_.fish == nullptr) {
      c.push_back(mixed_ ? std::string("Several kinds of fish are in: the strictest limits are used.")
                         : out_.species.empty() ? std::string("No species was named: the strictest limits are used.")
                                                : fmt::format("\"{}\" is not in the handbook: the strictest limits are used. Ask what it needs.", out_.species));
    } else {
      const handbook::Fish& f = *out_.fish;
      if (out_.temperature_c < f.lives_low.value || out_.temperature_c > f.lives_high.value) {
        c.push_back(fmt::format("The water has {:.0f} degC; {} lives between {:.0f} and {:.0f} ({}, {}). Do not put it in.", out_.temperature_c, f.name,
                                f.lives_low.value, f.lives_high.value, f.lives_low.source, in_words(f.lives_low.confidence)));
        if (!out_.with_fish) {
          out_.verdict = Verdict::not_yet;
          out_.part_now = false;
          out_.headline = "Not yet: keep fish out. The water's temperature is not for them.";
        }
      } else if (f.eats_from && out_.temperature_c < f.eats_from->value) {
        c.push_back(fmt::format("The water has {:.0f} degC; below {:.0f} {} takes no food ({}).", out_.temperature_c, f.eats_from->value, f.name,
                                in_words(f.eats_from->confidence)));
      } else if (out_.temperature_c < f.thrives_low.value || out_.temperature_c > f.thrives_high.value) {
        c.push_back(fmt::format("The water has {:.0f} degC; {} thrives between {:.0f} and {:.0f} and eats less outside ({}).", out_.temperature_c, f.name,
                                f.thrives_low.value, f.thrives_high.value, in_words(f.thrives_low.confidence)));
      }
    }
    if (out_.count && out_.weight_g) {
      const double density = *out_.count * *out_.weight_g / all_.litres();  // g/L = kg/m3
      const handbook::Limit& most = Handbook::built_in().limit(all_.litres() < 500 ? "stocking_highest_below_500_l" : "stocking_highest");
      if (density > most.fact.value) {
        c.push_back(fmt::format("{:.0f} kg of fish per cubic metre of all water: more than {:.0f} is too many for a small unit ({}, {}). {}", density, most.fact.value,
                                most.fact.source, in_words(most.fact.confidence), most.says));
      }
    }
    if (limits.ammonia->fact.confidence != handbook::Confidence::seen) {
      c.push_back(fmt::format("The limit of {} mg/L of total ammonia is common practice without a source; what harms is the free part.", limits.ammonia->fact.value));
    }
    c.emplace_back("New water must be free of chlorine and chloramine and within a degree or two of the loop's.");
    if (full_.source_ammonia > 0) {
      c.push_back(fmt::format("Your water's chloramine leaves about {:.2f} mg/L of ammonia (as N) behind when it is neutralised; it is counted here.", full_.source_ammonia));
    }
    c.emplace_back("Let fish get used to the water's temperature and pH slowly, over an hour or more (common practice).");
    if (!out_.with_fish) {
      c.emplace_back("New fish belong in quarantine first, two to four weeks in a tank of their own (common practice); that tank's filter must be ripe too.");
    } else {
      c.emplace_back("Put no further fish in before ammonia and nitrite have read nothing for two weeks, and none without quarantine.");
    }
    c.emplace_back("Sick or dying fish: call a veterinarian, and give nothing to the water of plants that are eaten.");
    c.emplace_back("Which species may be kept and what permit that takes, ask your authority before buying.");
    if (ration_of_growers_) c.emplace_back("The ration is what growers give, a weak figure: say what yours really get.");
    c.emplace_back("Fish that are not fed still give off some ammonia; it is not counted here.");
  }

  const records::LoopLog& log_;
  const infer::Posterior& posterior_;
  const FishWish& wish_;
  FishCourse all_, few_;
  Care full_, held_;
  bool mixed_ = false, ration_of_growers_ = false;
  FishPlan out_;
};

}  // namespace

const char* to_text(FishPlan::Verdict verdict) {
  switch (verdict) {
    case Verdict::go: return "go";
    case Verdict::not_yet: return "not_yet";
    case Verdict::cannot_tell: return "cannot_tell";
  }
  return "cannot_tell";
}

tl::expected<FishPlan, FishWishError> fish_plan(const records::LoopLog& log, const infer::Posterior& posterior, const FishWish& wish) {
  return Planner(log, posterior, wish).plan();
}

}  // namespace helmwater::steer
