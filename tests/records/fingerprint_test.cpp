// SPDX-License-Identifier: Apache-2.0
// Two logs that a computation could tell apart have different fingerprints, two that it could not have the same one. What
// must matter is read off the fields of loop.hpp and entry.hpp (our own contract); there is no outside source.
#include "records/fingerprint.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <set>
#include <stdexcept>

#include "records/loop_folder.hpp"

namespace helmwater::records {
namespace {

const Instant kWhen = std::chrono::sys_days{std::chrono::year{2026} / 3 / 1} + std::chrono::hours{8};

std::string of(const Loop& loop) {
  Fingerprint sum;
  sum.add(loop);
  return sum.hex();
}
std::string of(const Entry& entry) {
  Fingerprint sum;
  sum.add(entry);
  return sum.hex();
}

Entry entry(Body body) {
  Entry e;
  e.line = 7;
  e.when = kWhen;
  e.body = std::move(body);
  return e;
}

Loop a_loop() {
  Loop l;
  l.name = "Loop";
  l.volume = units::Litres{500};
  l.volume_sd = units::Litres{50};
  l.started = kWhen;
  Kit kit;
  kit.basis = Basis::nh3;
  kit.steps = {0, 0.5, 1};
  l.kits = {kit};
  return l;
}

// Each change alone gives a fingerprint that neither the unchanged thing nor another change has.
template <class Thing>
void expect_each_matters(const Thing& plain, const std::vector<std::pair<const char*, std::function<void(Thing&)>>>& changes) {
  std::set<std::string> seen{of(plain)};
  for (const auto& [what, change] : changes) {
    Thing changed = plain;
    change(changed);
    EXPECT_TRUE(seen.insert(of(changed)).second) << what;
  }
}

template <class B>
void expect_each_field_matters(const B& plain, const std::vector<std::pair<const char*, std::function<void(B&)>>>& changes) {
  std::vector<std::pair<const char*, std::function<void(Entry&)>>> of_entry;
  for (const auto& [what, change] : changes) {
    of_entry.emplace_back(what, [change = change](Entry& e) { change(std::get<B>(e.body)); });
  }
  expect_each_matters(entry(plain), of_entry);
}

TEST(fingerprint, every_field_of_a_loop_matters) {
  expect_each_matters<Loop>(a_loop(), {
      {"volume", [](Loop& l) { l.volume = units::Litres{501}; }},
      {"its sd", [](Loop& l) { l.volume_sd = units::Litres{51}; }},
      {"time zone", [](Loop& l) { l.time_zone = "Europe/Zurich"; }},
      {"started", [](Loop& l) { l.started = kWhen + std::chrono::milliseconds{1}; }},
      {"not started", [](Loop& l) { l.started.reset(); }},
      {"start", [](Loop& l) { l.start = Start::seeded_media; }},
      {"seed area", [](Loop& l) { l.seed_area = units::SquareMetres{1}; }},
      {"temperature", [](Loop& l) { l.typical_temperature = units::Celsius{22.5}; }},
      {"bed", [](Loop& l) { l.bed = Bed::raft; }},
      {"bed area", [](Loop& l) { l.bed_area = units::SquareMetres{2}; }},
      {"turnover", [](Loop& l) { l.turnover_per_h = 1.5; }},
      {"air", [](Loop& l) { l.air = Air::strong; }},
      {"media volume", [](Loop& l) { l.media.volume = units::Litres{100}; }},
      {"media surface", [](Loop& l) { l.media.specific_surface_m2_m3 = 300; }},
      {"source pH", [](Loop& l) { l.source_water.ph = 7.5; }},
      {"source alkalinity", [](Loop& l) { l.source_water.alkalinity = units::AlkalinityCaCO3{100}; }},
      {"source nitrate", [](Loop& l) { l.source_water.nitrate = units::NitrateIon{100}; }},
      {"no disinfectant", [](Loop& l) { l.source_water.disinfectant = Disinfectant::none; }},
      {"disinfectant", [](Loop& l) { l.source_water.disinfectant = Disinfectant::chlorine; }},
      {"disinfectant dose", [](Loop& l) { l.source_water.disinfectant_dose = units::ChlorineCl2{1}; }},
      {"no kit", [](Loop& l) { l.kits.clear(); }},
      {"second kit", [](Loop& l) { l.kits.push_back(l.kits[0]); }},
      {"kit's test", [](Loop& l) { l.kits[0].test = records::Test::nitrite; }},
      {"kit's basis", [](Loop& l) { l.kits[0].basis = Basis::nh4; }},
      {"kit's step", [](Loop& l) { l.kits[0].steps[1] = 0.25; }},
      {"kit's last step", [](Loop& l) { l.kits[0].steps.pop_back(); }},
      {"kit's id", [](Loop& l) { l.kits[0].id = "a"; }},
      {"kit's from", [](Loop& l) { l.kits[0].from = kWhen; }},
      {"kit's until", [](Loop& l) { l.kits[0].until = kWhen; }},
      {"plan", [](Loop& l) { l.plan = Plan{}; }},
      {"plan's feed", [](Loop& l) { l.plan = Plan{}; l.plan->feed_g_per_day = 5; }},
  });
}

TEST(fingerprint, small_differences_of_a_loop_matter) {
  Loop near = a_loop();
  near.volume = units::Litres{std::nextafter(500.0, 501.0)};
  EXPECT_NE(of(near), of(a_loop()));
  near = a_loop();
  near.kits[0].steps[1] = std::nextafter(0.5, 1.0);
  EXPECT_NE(of(near), of(a_loop()));
}

TEST(fingerprint, every_field_of_a_reading_and_a_dose_matters) {
  expect_each_field_matters<Reading>({}, {
      {"test", [](Reading& r) { r.test = records::Test::nitrite; }},
      {"basis", [](Reading& r) { r.basis = Basis::nh3; }},
      {"shape", [](Reading& r) { r.seen.shape = Seen::Shape::lognormal; }},
      {"low", [](Reading& r) { r.seen.low = 0.1; }},
      {"high", [](Reading& r) { r.seen.high = 0.1; }},
      {"centre", [](Reading& r) { r.seen.centre = 0.1; }},
      {"sd", [](Reading& r) { r.seen.sd = 0.1; }},
      {"kit noise", [](Reading& r) { r.seen.kit_noise = false; }},
      {"doubted", [](Reading& r) { r.seen.doubted = true; }},
      {"kit", [](Reading& r) { r.kit = 0; }},
      {"meter", [](Reading& r) { r.meter = true; }},
  });
  expect_each_field_matters<Dose>({}, {
      {"how", [](Dose& d) { d.how = Dose::Amount::raise_by; }},
      {"amount", [](Dose& d) { d.amount = 1; }},
      {"basis", [](Dose& d) { d.basis = Basis::nh3; }},
      {"substance", [](Dose& d) { d.substance = "ammonium chloride"; }},
      {"percent", [](Dose& d) { d.percent = 0; }},
      {"another percent", [](Dose& d) { d.percent = 10; }},
  });
}

TEST(fingerprint, every_field_of_other_deeds_matters) {
  expect_each_field_matters<WaterChange>({}, {
      {"share", [](WaterChange& w) { w.share = 0.2; }},
      {"litres", [](WaterChange& w) { w.litres = units::Litres{0.2}; }},
      {"source", [](WaterChange& w) { w.source = "rain"; }},
  });
  expect_each_field_matters<TopUp>({}, {
      {"share", [](TopUp& w) { w.share = 0.2; }},
      {"litres", [](TopUp& w) { w.litres = units::Litres{0.2}; }},
      {"source", [](TopUp& w) { w.source = "rain"; }},
  });
  expect_each_field_matters<Feed>({}, {
      {"amount", [](Feed& f) { f.amount = units::Grams{5}; }},
      {"protein", [](Feed& f) { f.protein_percent = 40; }},
  });
  expect_each_field_matters<FishMove>({}, {
      {"in", [](FishMove& f) { f.in = false; }},
      {"count", [](FishMove& f) { f.count = 3; }},
      {"weight", [](FishMove& f) { f.mean_weight = units::Grams{3}; }},
      {"species", [](FishMove& f) { f.species = "x"; }},
      {"why", [](FishMove& f) { f.why = "x"; }},
  });
  expect_each_field_matters<PlantMove>({}, {
      {"in", [](PlantMove& p) { p.in = false; }},
      {"count", [](PlantMove& p) { p.count = 3; }},
      {"area", [](PlantMove& p) { p.area = units::SquareMetres{3}; }},
      {"yield", [](PlantMove& p) { p.yield = units::Grams{3}; }},
      {"crop", [](PlantMove& p) { p.crop = "x"; }},
      {"stage", [](PlantMove& p) { p.stage = "x"; }},
  });
  expect_each_field_matters<Seed>({}, {
      {"amount", [](Seed& s) { s.amount = 1; }},
      {"kind", [](Seed& s) { s.kind = Seed::Kind::mature_media; }},
      {"unit", [](Seed& s) { s.unit = "L"; }},
  });
  expect_each_field_matters<VolumeChange>({}, {{"litres", [](VolumeChange& v) { v.litres = units::Litres{1}; }}});
  expect_each_field_matters<Switch>({}, {
      {"device", [](Switch& s) { s.device = Switch::Device::air; }},
      {"on", [](Switch& s) { s.on = false; }},
  });
}

TEST(fingerprint, kinds_and_moments_differ) {
  std::set<std::string> seen;
  for (const Body& body : std::vector<Body>{Reading{}, Dose{}, WaterChange{}, TopUp{}, Feed{}, FishMove{}, PlantMove{}, Seed{},
                                            VolumeChange{}, Medication{}, Switch{}, Note{}}) {
    EXPECT_TRUE(seen.insert(of(entry(body))).second) << body.index();
  }
  Entry later = entry(Dose{});
  later.when += std::chrono::milliseconds{1};
  EXPECT_NE(of(later), of(entry(Dose{})));
}

// A text's end is part of it: words may not flow into each other.
TEST(fingerprint, texts_do_not_run_together) {
  Fingerprint a, b, c;
  a.add("ab");
  a.add("c");
  b.add("a");
  b.add("bc");
  c.add("abc");
  EXPECT_EQ(std::set<std::string>({a.hex(), b.hex(), c.hex()}).size(), 3u);
}

TEST(fingerprint, how_it_is_written_does_not_matter) {
  const auto read = [](const std::string& rows) {
    const auto loop = parse_loop_toml("name = \"Loop\"\nvolume_l = 500\nstarted = 2026-03-01T08:00:00Z\n", "loop.toml");
    if (!loop) throw std::runtime_error(loop.error().to_text());
    auto log = parse_log_csv(*loop, "when,what,value,unit,detail,kit\n" + rows, "log.csv");
    if (!log) throw std::runtime_error(log.error().to_text());
    Fingerprint sum;
    for (const Entry& e : log->entries) sum.add(e);
    return sum.hex();
  };
  const std::string ammonia = "2026-03-02T08:00:00Z,ammonia,1.5,mg/L as N,,\n", ph = "2026-03-03T08:00:00Z,pH,7.4,,,\n",
                    first = "2026-03-04T08:00:00Z,feed,5,g,,\n", second = "2026-03-04T08:00:00Z,volume,510,L,,\n";
  const std::string plain = read(ammonia + ph + first + second);
  EXPECT_EQ(read(ph + first + second + ammonia), plain) << "rows in another order, so on other lines";
  EXPECT_EQ(read("2026-03-02T09:00:00+01:00,ammonia,1.50,mg/L as N,,\n" + ph + first + second), plain) << "same moment and number";
  EXPECT_EQ(read(ammonia + ammonia + ph + first + second), plain) << "a row twice counts once";
  EXPECT_NE(read(ammonia + ph + first), plain);
  EXPECT_NE(read(ammonia + ph + first + first + second + second), read(ammonia + ph + first)) << "deeds missing";
  EXPECT_NE(read("2026-03-02T08:00:00Z,ammonia,1.6,mg/L as N,,\n" + ph + first + second), plain);
  EXPECT_NE(read("2026-03-02T08:00:00Z,ammonia,1.5?,mg/L as N,,\n" + ph + first + second), plain);
}

}  // namespace
}  // namespace helmwater::records
