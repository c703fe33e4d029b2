// SPDX-License-Identifier: Apache-2.0
#include "server/api.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <cmath>
#include <list>
#include <mutex>
#include <nlohmann/json.hpp>
#include <stdexcept>
#include <type_traits>

#include "infer/checkpoints.hpp"
#include "infer/hindcast.hpp"
#include "infer/history.hpp"
#include "infer/outlook.hpp"
#include "infer/parallel.hpp"
#include "records/words.hpp"
#include "server/brought.hpp"
#include "server/fish_json.hpp"
#include "server/memo.hpp"
#include "server/outlook_json.hpp"
#include "server/questions.hpp"
#include "server/sheet_json.hpp"
#include "server/shelf.hpp"
#include "server/track_json.hpp"
#include "server/why_json.hpp"
#include "steer/fish_plan.hpp"
#include "steer/track_record.hpp"
#include "steer/what_if.hpp"
#include "steer/why_stuck.hpp"

namespace helmwater::server {
namespace {

using nlohmann::ordered_json;
using Answer = tl::expected<Response, Problem>;

constexpr double kMostDays = 365;

Response json_response(const ordered_json& json, int status = 200) {
  Response response;
  response.status = status;
  response.body = json.dump();
  return response;
}

class Stopwatch {
 public:
  long ms() const {
    return std::chrono::duration_cast<std::chrono::milliseconds>(std::chrono::steady_clock::now() - start_).count();
  }

 private:
  std::chrono::steady_clock::time_point start_ = std::chrono::steady_clock::now();
};

// `{…}` with one member more.
std::string with_elapsed(std::string_view object, const Stopwatch& watch) {
  return fmt::format("{},\"elapsed_ms\":{}}}", object.substr(0, object.size() - 1), watch.ms());
}

// What answers and posteriors may take up in memory, all of a kind together, bytes.
constexpr std::size_t kPosteriorBytes = 32 << 20, kOutlookBytes = 16 << 20, kHindcastBytes = 8 << 20, kExpectationBytes = 8 << 20,
                      kHistoryBytes = 4 << 20;
constexpr std::size_t kWhyBytes = 1 << 20;
constexpr std::size_t kLastKept = 16;  // posteriors to start the next ones from, some 2 MB each
constexpr std::size_t kCheckpoints = 128;  // of windows of long logs, some 80 kB each: ten years together

// Roughly: the draws are nearly all of it. The priors hold a copy of loop.toml's contents and the unknowns' names; windows
// shared with other posteriors are counted for each.
std::size_t bytes_of(const infer::Posterior& posterior) {
  constexpr std::size_t kPriors = 32 << 10;
  std::size_t windows = 0;
  for (const infer::Carried* c = posterior.carried.get(); c != nullptr; c = c->before.get()) {
    windows += sizeof *c + c->marginals.size() * sizeof(infer::Marginal) + static_cast<std::size_t>(c->root.size()) * sizeof(double) +
               c->tracks.size() * sizeof(infer::CarriedTrack) + c->series.size() * sizeof(infer::SeriesQuantiles);
  }
  return windows + sizeof posterior + kPriors + static_cast<std::size_t>(posterior.draws.z.size()) * sizeof(double) +
         (posterior.draws.weight.capacity() + posterior.draws.log_likelihood.capacity()) * sizeof(double) +
         posterior.evidence.observations.capacity() * sizeof(infer::Observation);
}

// The id in "/api/loops/{id}…", as find() has matched it.
std::string id_of(const std::string& path) {
  const std::string rest = path.substr(std::string_view("/api/loops/").size());
  return rest.substr(0, rest.find('/'));
}

std::vector<std::string> segments(const std::string& path) {
  std::vector<std::string> out;
  for (std::size_t at = 0; at < path.size();) {
    const std::size_t end = path.find('/', at + 1);
    out.push_back(path.substr(at + 1, end == std::string::npos ? end : end - at - 1));
    at = end == std::string::npos ? path.size() : end;
  }
  return out;
}

bool matches(const std::string& pattern, const std::string& path) {
  const auto wanted = segments(pattern), given = segments(path);
  if (wanted.size() != given.size()) return false;
  for (std::size_t i = 0; i < wanted.size(); ++i) {
    if (wanted[i] == "{id}" ? given[i].empty() : wanted[i] != given[i]) return false;
  }
  return true;
}

}  // namespace

class Api::Work {
 public:
  explicit Work(Settings settings) : settings_(std::move(settings)), shelf_(settings_.data) {}

  Answer health(const Request&, const std::stop_token&) { return json_response({{"status", "ok"}, {"version", settings_.version}}); }

  Answer loops(const Request& request, const std::stop_token&) {
    Query query(request.query);
    if (const auto problem = query.problem()) return tl::unexpected(*problem);
    ordered_json list = ordered_json::array();
    for (const std::string& id : shelf_.ids()) {
      if (!is_loop_id(id)) {
        list.push_back(unreadable(id, "The folder's name must be of a-z, 0-9, - and _ alone to be opened here; rename it."));
        continue;
      }
      const auto loop = shelf_.take(id);
      list.push_back(loop ? line_json(id, (*loop)->log) : unreadable(id, loop.error().message));
    }
    return json_response({{"loops", list}});
  }

  Answer sheet(const Request& request, const std::stop_token&) {
    Query query(request.query);
    if (const auto problem = query.problem()) return tl::unexpected(*problem);
    const std::string id = id_of(request.path);
    const auto loop = shelf_.take(id);
    if (!loop) return tl::unexpected(loop.error());
    return json_response(sheet_json(id, (*loop)->log));
  }

  Answer outlook(const Request& request, const std::stop_token& stop) {
    const Stopwatch watch;
    Query query(request.query);
    infer::OutlookOptions options;
    const auto as_of = query.text("as_of");
    options.days = query.number("days", 1, kMostDays).value_or(60);
    const double seed = query.number("seed", 0, 4294967295.0).value_or(1);
    if (seed != std::floor(seed)) query.fail("out_of_range", "seed must be a whole number.", "seed");
    options.seed = static_cast<std::uint64_t>(seed);
    if (const auto plan = query.text("plan")) {
      if (*plan != "none") query.fail("unknown_word", "plan may be none, or absent.", "plan");
      options.with_plan = false;
    }
    if (const auto problem = query.problem()) return tl::unexpected(*problem);
    const auto loop = shelf_.take(id_of(request.path));
    if (!loop) return tl::unexpected(loop.error());
    if (const auto problem = set_as_of((*loop)->log, as_of, options)) return tl::unexpected(*problem);
    options.history = history_for(id_of(request.path), (*loop)->log, *options.as_of, stop);
    const std::string key = fmt::format("{} {} {}", posterior_key(**loop, options), options.days, options.with_plan);
    const auto text = outlooks_.get(key, [&](const std::stop_token& left) {
      const auto posterior = posterior_of(*loop, options, left);
      return compute(left, [&] { return to_json(infer::outlook_from((*loop)->log, *posterior, options)).dump(); });
    }, stop);
    Response response;
    response.body = with_elapsed(*text, watch);
    return response;
  }

  Answer hindcast(const Request& request, const std::stop_token& stop) {
    Query query(request.query);
    if (const auto problem = query.problem()) return tl::unexpected(*problem);
    const auto loop = shelf_.take(id_of(request.path));
    if (!loop) return tl::unexpected(loop.error());
    const auto& log = (*loop)->log;
    if (!log.entries.empty()) {
      if (const auto problem = too_much(log, log.entries.back().when, 0)) return tl::unexpected(*problem);
    }
    std::string rests_on;
    const auto others = others_than(id_of(request.path), rests_on);
    const auto text = hindcasts_.get((*loop)->content + rests_on, [&](const std::stop_token& left) {
      infer::HindcastOptions wanted;
      wanted.checkpoints = &checkpoints_;
      wanted.history = [&](records::Instant as_of) { return infer::history_of(log, others, as_of, {wanted.seed, wanted.members, &checkpoints_}); };
      return compute(left, [&] { return to_json(infer::hindcast_of(log, wanted)).dump(); });
    }, stop);
    Response response;
    response.body = *text;
    return response;
  }

  Answer why(const Request& request, const std::stop_token& stop) {
    const Stopwatch watch;
    Query query(request.query);
    infer::OutlookOptions options;
    const auto as_of = query.text("as_of");
    const double seed = query.number("seed", 0, 4294967295.0).value_or(1);
    if (seed != std::floor(seed)) query.fail("out_of_range", "seed must be a whole number.", "seed");
    options.seed = static_cast<std::uint64_t>(seed);
    if (const auto problem = query.problem()) return tl::unexpected(*problem);
    const auto loop = shelf_.take(id_of(request.path));
    if (!loop) return tl::unexpected(loop.error());
    if (const auto problem = set_as_of((*loop)->log, as_of, options)) return tl::unexpected(*problem);
    const auto text = whys_.get(posterior_key(**loop, options), [&](const std::stop_token& left) {
      const steer::WhyStuckOptions wanted{*options.as_of, options.seed, &checkpoints_};
      return compute(left, [&] { return to_json(steer::why_stuck((*loop)->log, wanted)).dump(); });
    }, stop);
    Response response;
    response.body = with_elapsed(*text, watch);
    return response;
  }

  Answer track(const Request& request, const std::stop_token& stop) {
    Query query(request.query);
    if (const auto problem = query.problem()) return tl::unexpected(*problem);
    const auto loop = shelf_.take(id_of(request.path));
    if (!loop) return tl::unexpected(loop.error());
    if (!(*loop)->log.entries.empty()) {
      if (const auto problem = too_much((*loop)->log, (*loop)->log.entries.back().when, 0)) return tl::unexpected(*problem);
    }
    return track_of({*loop}, stop);
  }

  // Loops that cannot be read or are too long are left out.
  Answer track_of_all(const Request& request, const std::stop_token& stop) {
    Query query(request.query);
    if (const auto problem = query.problem()) return tl::unexpected(*problem);
    std::vector<std::shared_ptr<const Shelf::OnShelf>> loops;
    for (const std::string& id : shelf_.ids()) {
      const auto loop = is_loop_id(id) ? shelf_.take(id) : tl::unexpected(Problem{});
      if (!loop || (*loop)->log.entries.empty() || too_much((*loop)->log, (*loop)->log.entries.back().when, 0)) continue;
      loops.push_back(*loop);
    }
    return track_of(loops, stop);
  }

  Answer what_if(const Request& request, const std::stop_token& stop) {
    const Stopwatch watch;
    Query query(request.query);
    if (const auto problem = query.problem()) return tl::unexpected(*problem);
    const auto wish = read_wish(request);
    if (!wish) return tl::unexpected(wish.error());
    const auto loop = shelf_.take(id_of(request.path));
    if (!loop) return tl::unexpected(loop.error());
    infer::OutlookOptions options;
    if (const auto problem = set_as_of((*loop)->log, std::nullopt, options)) return tl::unexpected(*problem);
    options.history = history_for(id_of(request.path), (*loop)->log, *options.as_of, stop);
    const auto posterior = posterior_of(*loop, options, stop);
    const auto answer = compute(stop, [&] { return steer::what_if((*loop)->log, *posterior, *wish, options); });
    const auto grams = [](const std::optional<units::Grams>& g) {
      return g ? ordered_json(std::round(g->value() * 100) / 100) : ordered_json(nullptr);
    };
    ordered_json j;
    j["outlook"] = to_json(answer.outlook);
    j["amounts"] = {{"ammonium_chloride_g", grams(answer.amounts.ammonium_chloride)},
                    {"potassium_bicarbonate_g", grams(answer.amounts.potassium_bicarbonate)}};
    j["cautions"] = answer.cautions;
    j["elapsed_ms"] = watch.ms();
    return json_response(j);
  }

  Answer fish(const Request& request, const std::stop_token& stop) {
    const Stopwatch watch;
    Query query(request.query);
    if (const auto problem = query.problem()) return tl::unexpected(*problem);
    const auto question = read_fish_question(request);
    if (!question) return tl::unexpected(question.error());
    const auto loop = shelf_.take(id_of(request.path));
    if (!loop) return tl::unexpected(loop.error());
    infer::OutlookOptions options;
    if (const auto problem = set_as_of((*loop)->log, question->as_of, options)) return tl::unexpected(*problem);
    options.history = history_for(id_of(request.path), (*loop)->log, *options.as_of, stop);
    const auto posterior = posterior_of(*loop, options, stop);
    const auto plan = compute(stop, [&] { return steer::fish_plan((*loop)->log, *posterior, question->wish); });
    if (!plan) {
      const std::string& field = plan.error().field;
      return refuse(422, "more_needed", plan.error().message, field == "feed_g" ? "feed_g_per_day" : field);
    }
    Response response;
    response.body = with_elapsed(to_json(*plan).dump(), watch);
    return response;
  }

  Answer expect(const Request& request, const std::stop_token& stop) {
    const Stopwatch watch;
    Query query(request.query);
    steer::Beginning beginning;
    if (const auto v = query.number("volume_l", 0, 1e7, true)) {
      beginning.volume = units::Litres{*v};
    } else {
      query.fail("missing", "volume_l is needed: all water in circulation, in litres.", "volume_l");
    }
    if (const auto word = query.text("start")) {
      if (const auto start = start_from(*word)) {
        beginning.start = *start;
      } else {
        query.fail("unknown_word", "start must be unseeded, bottled culture, fish or seeded media.", "start");
      }
    }
    beginning.temperature = units::Celsius{query.number("temperature_c", 0, 45).value_or(22)};
    if (const auto v = query.number("seed_area_m2", 0, 1e6)) beginning.seed_area = units::SquareMetres{*v};
    if (const auto v = query.number("alkalinity_mg_l_caco3", 0, 1000)) beginning.alkalinity = units::AlkalinityCaCO3{*v};
    infer::OutlookOptions options;
    options.days = query.number("days", 1, kMostDays).value_or(60);
    // Day 0 is today, unless the question names it; the clock is read to the day, so that an answer can be kept.
    const auto today = std::chrono::floor<std::chrono::days>(settings_.clock());
    beginning.day_0 = today + std::chrono::hours(12);
    if (const auto on = query.text("day_0")) {
      const auto parsed = records::parse_instant(*on, "UTC");
      if (parsed) beginning.day_0 = parsed->when;
      else query.fail("bad_date", "day_0 must be a date, for example 2026-03-01.", "day_0");
    }
    if (const auto problem = query.problem()) return tl::unexpected(*problem);
    std::string key = records::to_utc_text(beginning.day_0);
    for (const auto& [name, value] : request.query) key += fmt::format("\n{}={}", name, value);
    options.history = history_for({}, steer::log_of(beginning), beginning.day_0, stop);
    if (options.history->learned != nullptr) key += "\n" + options.history->learned->key;
    const auto text = expectations_.get(key, [&](const std::stop_token& left) {
      return compute(left, [&] { return to_json(steer::expect(beginning, options)).dump(); });
    }, stop);
    Response response;
    response.body = with_elapsed(*text, watch);
    return response;
  }

  Answer preview(const Request& request, const std::stop_token& stop) {
    Query query(request.query);
    if (const auto problem = query.problem()) return tl::unexpected(*problem);
    const auto brought = read_brought(request, "");
    if (!brought) return tl::unexpected(brought.error());
    ordered_json j;
    j["kind"] = brought->kind;
    j["loop"] = brought->log ? sheet_json("", *brought->log) : ordered_json(nullptr);
    j["unread"] = ordered_json::array();
    for (const records::UnreadCell& cell : brought->unread) {
      const ordered_json column = cell.name.empty() ? ordered_json(cell.column) : ordered_json(cell.name);
      j["unread"].push_back({{"line", cell.line}, {"column", column}, {"text", cell.text}, {"reason", cell.reason}});
    }
    j["outlook"] = nullptr;
    if (brought->log) {
      infer::OutlookOptions options;
      const auto problem = set_as_of(*brought->log, std::nullopt, options);
      if (problem && problem->code != "no_moment") return tl::unexpected(*problem);
      if (!problem) options.history = history_for({}, *brought->log, *options.as_of, stop);
      if (!problem) j["outlook"] = compute(stop, [&] { return to_json(infer::outlook_of(*brought->log, options)); });
    }
    j["needs"] = brought->needs;
    return json_response(j);
  }

  Answer keep(const Request& request, const std::stop_token&) {
    Query query(request.query);
    const std::string name = query.text("name").value_or("");
    if (name.size() > 200) query.fail("out_of_range", "name may have at most 200 characters.", "name");
    if (const auto problem = query.problem()) return tl::unexpected(*problem);
    const auto brought = read_brought(request, name);
    if (!brought) return tl::unexpected(brought.error());
    if (!brought->log) {
      return refuse(422, "answers_missing", fmt::format("The sheet needs these answers first: {}.", records::listed(brought->needs)),
                    brought->needs.front());
    }
    const std::string id = loop_id_from(name.empty() ? brought->log->loop.name : name);
    if (id.empty()) return refuse(400, "bad_name", "The name needs at least one letter a-z or digit.", "name");
    if (const auto kept = shelf_.put(id, *brought->log); !kept) return tl::unexpected(kept.error());
    return json_response({{"id", id}}, 201);
  }

  Counts counts() const { return {begun_, done_, cancelled_}; }
  std::size_t kept_bytes() const { return posteriors_.bytes() + histories_.bytes() + outlooks_.bytes() + hindcasts_.bytes() + whys_.bytes() + expectations_.bytes(); }

 private:
  Answer track_of(const std::vector<std::shared_ptr<const Shelf::OnShelf>>& loops, const std::stop_token& stop) {
    std::string key = "track";
    for (const auto& loop : loops) key += "\n" + loop->content;
    const auto text = hindcasts_.get(key, [&](const std::stop_token& left) {
      steer::TrackOptions wanted;
      wanted.cache = infer::cache_folder();
      wanted.checkpoints = &checkpoints_;
      std::vector<steer::TrackCase> cases;
      for (const auto& loop : loops) {
        for (steer::TrackCase& c : compute(left, [&] { return steer::track_cases_of(loop->log, wanted); })) cases.push_back(std::move(c));
      }
      return to_json(steer::track_record_of(std::move(cases))).dump();
    }, stop);
    Response response;
    response.body = *text;
    return response;
  }

  // What takes long, and ends early when `stop` is requested.
  template <class Make>
  std::invoke_result_t<const Make&> compute(const std::stop_token& stop, const Make& make) {
    const infer::CancelScope scope(stop);
    ++begun_;
    try {
      auto made = make();
      ++done_;
      return made;
    } catch (const infer::Cancelled&) {
      ++cancelled_;
      throw;
    }
  }

  static ordered_json unreadable(const std::string& id, const std::string& why) {
    return {{"id", id},      {"name", id},    {"started", nullptr}, {"last_entry", nullptr},
            {"entries", 0}, {"fish", false}, {"error", why}};
  }

  static std::string posterior_key(const Shelf::OnShelf& loop, const infer::OutlookOptions& options) {
    return fmt::format("{} {} {} {}", loop.content, options.as_of->time_since_epoch().count(), options.seed,
                       options.history != nullptr && options.history->learned != nullptr ? options.history->learned->key : "");
  }

  // The other loops on the shelf; those that cannot be read are told of in the list of loops.
  std::vector<infer::EarlierLoop> others_than(const std::string& id, std::string& contents) {
    std::vector<infer::EarlierLoop> others;
    for (const std::string& other : shelf_.ids()) {
      if (other == id) continue;
      const auto loop = shelf_.take(other);
      if (!loop) continue;
      contents += " " + (*loop)->content;
      others.push_back({other, {*loop, &(*loop)->log}});
    }
    return others;
  }

  std::shared_ptr<const infer::History> history_for(const std::string& id, const records::LoopLog& own, records::Instant as_of,
                                                    const std::stop_token& stop) {
    std::string contents;
    const auto others = others_than(id, contents);
    const infer::HistoryOptions options{1, 4000, &checkpoints_};
    if (others.size() < infer::kFewestLoops) return infer::history_of(own, others, as_of, options);
    // A copy of a loop on the shelf is no history of it, so the name and start count too.
    const std::string key = fmt::format("{}\n{}\n{}\n{}", own.loop.name, infer::start_of(own, as_of).time_since_epoch().count(),
                                        as_of.time_since_epoch().count(), contents);
    return histories_.get(key, [&](const std::stop_token& left) {
      return compute(left, [&] { return *infer::history_of(own, others, as_of, options); });
    }, stop);
  }

  std::shared_ptr<const infer::Posterior> posterior_of(const std::shared_ptr<const Shelf::OnShelf>& loop,
                                                       const infer::OutlookOptions& options, const std::stop_token& stop) {
    auto found = posteriors_.get(posterior_key(*loop, options), [&](const std::stop_token& left) {
      infer::OutlookOptions wanted = options;
      wanted.checkpoints = &checkpoints_;
      wanted.earlier = last_of(loop->log.loop.name);
      return compute(left, [&] { return infer::posterior_for(loop->log, wanted); });
    }, stop);
    remember(loop->log.loop.name, found);
    return found;
  }

  // The posterior of a loop last computed: where the next one of the same loop starts. It is as good a start if the log was
  // changed in between, or if another loop bears the name: only the time it saves is less.
  std::shared_ptr<const infer::Posterior> last_of(const std::string& name) {
    const std::lock_guard lock(last_mutex_);
    const auto found = std::find_if(last_.begin(), last_.end(), [&](const auto& one) { return one.first == name; });
    return found == last_.end() ? nullptr : found->second;
  }
  void remember(const std::string& name, std::shared_ptr<const infer::Posterior> posterior) {
    const std::lock_guard lock(last_mutex_);
    std::erase_if(last_, [&](const auto& one) { return one.first == name; });
    last_.emplace_front(name, std::move(posterior));
    if (last_.size() > kLastKept) last_.pop_back();
  }

  Settings settings_;
  Shelf shelf_;
  std::mutex last_mutex_;
  std::list<std::pair<std::string, std::shared_ptr<const infer::Posterior>>> last_;
  static std::size_t size_of(const infer::History& history) {
    const std::size_t unknowns = history.learned == nullptr ? 0 : history.learned->names.size();
    return sizeof history + history.of.size() * 64 + unknowns * (64 + (unknowns + 1) * sizeof(double));
  }
  static std::size_t size_of_text(const std::string& text) { return text.capacity(); }
  Memo<infer::Posterior> posteriors_{16, kPosteriorBytes, [](const infer::Posterior& p) { return bytes_of(p); }};
  Memo<std::string> outlooks_{64, kOutlookBytes, size_of_text};
  Memo<infer::History> histories_{64, kHistoryBytes, [](const infer::History& h) { return size_of(h); }};
  Memo<std::string> hindcasts_{16, kHindcastBytes, size_of_text};
  Memo<std::string> whys_{32, kWhyBytes, size_of_text};
  Memo<std::string> expectations_{32, kExpectationBytes, size_of_text};
  infer::Checkpoints checkpoints_{std::nullopt, kCheckpoints};
  std::atomic<int> begun_{0}, done_{0}, cancelled_{0};
};

Api::Api(Settings settings) : work_(std::make_unique<Work>(std::move(settings))) {}
Api::~Api() = default;

const std::vector<Route>& Api::routes() {
  static const std::vector<Route> routes{
      {"GET", "/api/health", Lane::at_once, 0},
      {"GET", "/api/loops", Lane::worker, 0},
      {"POST", "/api/loops", Lane::worker, kFileBodyLimit},
      {"GET", "/api/loops/{id}", Lane::worker, 0},
      {"GET", "/api/loops/{id}/outlook", Lane::worker, 0},
      {"GET", "/api/loops/{id}/hindcast", Lane::slow, 0},
      {"GET", "/api/loops/{id}/track", Lane::slow, 0},
      {"GET", "/api/track", Lane::slow, 0},
      {"GET", "/api/loops/{id}/why", Lane::slow, 0},
      {"POST", "/api/loops/{id}/what-if", Lane::worker, kJsonBodyLimit},
      {"POST", "/api/loops/{id}/fish", Lane::worker, kJsonBodyLimit},
      {"GET", "/api/expect", Lane::worker, 0},
      {"POST", "/api/preview", Lane::worker, kFileBodyLimit},
  };
  return routes;
}

const Route* Api::find(const std::string& method, const std::string& path, std::string& allowed) {
  for (const Route& route : routes()) {
    if (!matches(route.pattern, path)) continue;
    if (route.method == method) return &route;
    if (!allowed.empty()) allowed += ", ";
    allowed += route.method == "GET" ? "GET, HEAD" : route.method;
  }
  return nullptr;
}

Response Api::answer(const Request& request, const std::stop_token& stop) {
  std::string allowed;
  const Route* route = find(request.method, request.path, allowed);
  if (route == nullptr && !allowed.empty()) {
    Response response = to_response({405, "wrong_method", "This address takes " + allowed + ".", ""});
    response.headers.emplace_back("Allow", allowed);
    return response;
  }
  if (route == nullptr) return to_response({404, "no_such_address", "There is nothing at this address; see docs/openapi.json.", ""});
  if (route->method == "POST" && request.header("x-helmwater") != "1") {
    return to_response({400, "missing_header", "Send the header X-Helmwater: 1 with this request; pages of other origins cannot.", "X-Helmwater"});
  }
  using Handler = Answer (Work::*)(const Request&, const std::stop_token&);
  static const std::vector<std::pair<std::string, Handler>> handlers{
      {"GET /api/health", &Work::health},
      {"GET /api/loops", &Work::loops},
      {"POST /api/loops", &Work::keep},
      {"GET /api/loops/{id}", &Work::sheet},
      {"GET /api/loops/{id}/outlook", &Work::outlook},
      {"GET /api/loops/{id}/hindcast", &Work::hindcast},
      {"GET /api/loops/{id}/track", &Work::track},
      {"GET /api/track", &Work::track_of_all},
      {"GET /api/loops/{id}/why", &Work::why},
      {"POST /api/loops/{id}/what-if", &Work::what_if},
      {"POST /api/loops/{id}/fish", &Work::fish},
      {"GET /api/expect", &Work::expect},
      {"POST /api/preview", &Work::preview},
  };
  const std::string wanted = route->method + " " + route->pattern;
  try {
    for (const auto& [name, handler] : handlers) {
      if (name != wanted) continue;
      Answer answer = (*work_.*handler)(request, stop);
      return answer ? std::move(*answer) : to_response(answer.error());
    }
    throw std::logic_error("no handler for " + wanted);
  } catch (const infer::Cancelled&) {
    return to_response({503, "stopping", "The server is being stopped; ask again when it runs.", ""});
  } catch (const std::exception& error) {
    if (report) report(wanted + ": " + error.what());
    return to_response({500, "failed", "The answer could not be worked out; the server's log says why.", ""});
  }
}

Api::Counts Api::counts() const { return work_->counts(); }
std::size_t Api::kept_bytes() const { return work_->kept_bytes(); }

}  // namespace helmwater::server
