// SPDX-License-Identifier: Apache-2.0
#include "rival_scipy.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <stdexcept>

#include "loop/deeds.hpp"

namespace helmwater::bench {
namespace {

using Json = nlohmann::json;

Json to_json(const loop::State<double>& y) {
  return {{"tan", y.tan}, {"no2", y.no2}, {"no3", y.no3}, {"alk", y.alk}, {"dic", y.dic},
          {"r_a", y.r_a}, {"r_n", y.r_n}, {"p", y.p},     {"o2", y.o2}};
}

Json to_json(const loop::Parameters<double>& q) {
  return {{"mu_a", q.mu_a},
          {"mu_n", q.mu_n},
          {"ln_theta_a", q.ln_theta_a},
          {"ln_theta_n", q.ln_theta_n},
          {"b_a", q.b_a},
          {"b_n", q.b_n},
          {"k_a", q.k_a},
          {"k_n", q.k_n},
          {"k_oa", q.k_oa},
          {"k_on", q.k_on},
          {"ki_a_fa", q.ki_a_fa},
          {"ki_n_fa", q.ki_n_fa},
          {"ki_a_fna", q.ki_a_fna},
          {"ki_n_fna", q.ki_n_fna},
          {"ln_theta_ph", q.ln_theta_ph},
          {"ph_high", q.ph_high},
          {"k_alk", q.k_alk},
          {"k_p", q.k_p},
          {"r_max", q.r_max},
          {"ln_theta_film", q.ln_theta_film},
          {"k_la", q.k_la},
          {"co2_ppm", q.co2_ppm},
          {"sink", q.sink},
          {"source_no3", q.source_no3},
          {"source_alk", q.source_alk},
          {"source_dic", q.source_dic},
          {"source_p", q.source_p}};
}

Json to_json(const loop::Environment& e) {
  return {{"growth_dt", e.growth_dt},
          {"hot", e.hot},
          {"oxygen_saturation", e.oxygen_saturation_mg_l},
          {"k0", e.k0},
          {"k1", e.k1},
          {"k2", e.k2},
          {"kw", e.kw},
          {"kn", e.kn},
          {"kp", e.kp2},
          {"knit", e.knit},
          {"inv_gamma1", e.inv_gamma1},
          {"kla_factor", e.kla_factor},
          {"decay_factor", e.decay_factor}};
}

// The script knows a start-up only: doses by amount, no feed, no plants, evaporated water refilled as it
// goes, nothing to mineralise.
Json task_of(const StartupProblem& problem, const std::vector<std::size_t>& which) {
  Json members = Json::array();
  for (std::size_t m : which) {
    const Member& member = problem.members[m];
    members.push_back({{"parameters", to_json(member.parameters)},
                       {"start", to_json(member.start)},
                       {"ln_h", member.ln_h}});
  }
  Json segments = Json::array();
  for (const Segment& s : problem.segments) {
    if (s.loads.feed_protein_mg_l_d != 0 || s.loads.feed_n_org_mg_l_d != 0 || s.loads.unknown_feed != 0 ||
        s.loads.fish_oxygen_mg_l_d != 0 || s.loads.plant_area_m2_per_l != 0 ||
        s.loads.evaporation_per_d != 0 || s.loads.transfer != 1 || s.loads.media != 1 ||
        s.loads.surface != 1) {
      throw std::logic_error(
          "scipy_lsoda.py knows no feed, plants, falling water level or devices that are off");
    }
    Json doses = Json::array();  // one list per member
    for (std::size_t m : which) {
      Json mine = Json::array();
      for (const loop::Event& e : s.before) {
        const auto* dose = std::get_if<loop::DoseEvent>(&e.what);
        if (dose == nullptr || dose->how != loop::DoseEvent::How::by_amount) {
          throw std::logic_error("scipy_lsoda.py knows doses by amount only");
        }
        const loop::State<double> added =
            loop::apply_dose(problem.members[m].parameters, *dose, loop::State<double>{});
        if (added.org_n != 0 || added.urea_n != 0)
          throw std::logic_error("scipy_lsoda.py knows nothing to mineralise");
        mine.push_back(to_json(added));
      }
      doses.push_back(mine);
    }
    segments.push_back({{"from", s.from},
                        {"to", s.to},
                        {"days", s.days},
                        {"doses", doses},
                        {"top_up", s.loads.top_up_per_d}});
  }
  return {{"environment", to_json(problem.environment)}, {"members", members}, {"segments", segments}};
}

}  // namespace

ScipyRun by_scipy(const StartupProblem& problem, const std::vector<std::size_t>& which,
                  const std::string& driver, double tolerance) {
  ScipyRun run;
  const std::filesystem::path task =
      std::filesystem::temp_directory_path() / fmt::format("helmwater-scipy-{}.json", getpid());
  std::ofstream(task) << task_of(problem, which);
  // The system's own Python first: its packages are the ones installed for this.
  const std::string command = fmt::format("PATH=/usr/bin:\"$PATH\" python3 '{}' '{}' {} {:g}",
                                          HELMWATER_SCIPY_SCRIPT, task.string(), driver, tolerance);
  std::string answer;
  FILE* child = popen(command.c_str(), "r");
  if (child == nullptr) throw std::runtime_error("could not start python3");
  char part[4096];
  for (std::size_t got; (got = fread(part, 1, sizeof part, child)) > 0;) answer.append(part, got);
  const int status = pclose(child);
  std::filesystem::remove(task);
  const Json out = Json::parse(answer, nullptr, false);
  if (status != 0 || out.is_discarded()) {
    run.missing = "the script failed";
    return run;
  }
  if (out.contains("missing")) {
    run.missing = out["missing"].get<std::string>();
    return run;
  }
  run.version = out["version"].get<std::string>();
  run.seconds = out["seconds"].get<double>();
  run.steps = out["steps"].get<double>();
  run.calls = out["calls"].get<double>();
  for (const Json& member : out["courses"]) {
    std::vector<Pools> course;
    for (const Json& day : member)
      course.push_back({day[0].get<double>(), day[1].get<double>(), day[2].get<double>()});
    run.courses.push_back(std::move(course));
  }
  return run;
}

}  // namespace helmwater::bench
