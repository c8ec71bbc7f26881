// Every mechanism of scenarios/mechanisms: a scenario that triggers it, one that does not, its id in the summary, and
// its numbers against closed forms. Sources stand beside them; E, R and temperatures of the cell are taken where a run
// gives them, the laws are written out here.
#include "sim/mechanisms/mechanisms.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <map>
#include <set>
#include <string>
#include <vector>

#include "models/look_up.hpp"
#include "sim/netlist/feeds.hpp"
#include "sim/netlist/review/circuit.hpp"
#include "sim/replay/replay.hpp"
#include "tests/support/model_of.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;
namespace fs = std::filesystem;

namespace {

using Json = nlohmann::ordered_json;

const fs::path folder = fs::path(OVERWINTER_SOURCE) / "scenarios" / "mechanisms";

std::string file_of(const std::string& name) { return (folder / (name + ".yaml")).string(); }

/// Each is run once, however many cases look at it.
const Json& run(const std::string& name) {
  static std::map<std::string, Json> known;
  const auto at = known.find(name);
  if (at != known.end()) return at->second;
  const test::Scratch scratch;
  ReplayOptions options;
  options.out = scratch.path("run");
  return known[name] = replay(read_scenario(file_of(name)), options).summary;
}

const std::string not_suffix = "-not";

/// Of a scenario's name: ID, ID-VARIANT, and the same with -not. Empty where no id stands at its front.
std::string id_of(const std::string& name) {
  std::string longest;
  for (const Mechanism& m : mechanisms()) {
    const bool front = name == m.id || name.compare(0, m.id.size() + 1, m.id + "-") == 0;
    if (front && m.id.size() > longest.size()) longest = m.id;
  }
  return longest;
}

bool is_removed(const std::string& name) {
  return name.size() > not_suffix.size() &&
         name.compare(name.size() - not_suffix.size(), not_suffix.size(), not_suffix) == 0;
}

/// Of all scenarios in the folder.
std::set<std::string> shipped_names() {
  std::set<std::string> names;
  for (const auto& entry : fs::directory_iterator(folder)) {
    if (entry.path().extension() == ".yaml") names.insert(entry.path().stem().string());
  }
  return names;
}

const Json* find(const Json& summary, const std::string& id) {
  for (const Json& m : summary.at("mechanisms")) {
    if (m.at("id") == id) return &m;
  }
  return nullptr;
}

/// What a pair must show.
struct Pair {
  std::string id, part;
  bool browns_out;  ///< the first brown-out's cause id is the mechanism
  std::string variant = "";
};

/// Runs both: the mechanism's record of the one that triggers it.
Json check_pair(const Pair& pair, Json* summary = nullptr) {
  CAPTURE(pair.id);
  const std::string name = pair.id + pair.variant;
  const Json with = run(name), without = run(name + not_suffix);
  const Json* seen = find(with, pair.id);
  REQUIRE(seen);
  CHECK(seen->at("part") == pair.part);
  CHECK(seen->at("count").get<int>() >= 1);
  CHECK(seen->at("first").get<std::string>() <= seen->at("last").get<std::string>());
  CHECK(seen->at("text").get<std::string>().find(pair.part) != std::string::npos);
  CHECK_FALSE(find(without, pair.id));
  if (pair.browns_out) {
    const Json& b = with.at("brownouts");
    REQUIRE(b.at("count").get<int>() >= 1);
    CHECK(b.at("events")[0].at("cause_id") == pair.id);
    CHECK(b.at("by_cause_id").at(pair.id).get<int>() >= 1);
    for (const Json& e : without.at("brownouts").at("events")) CHECK(e.at("cause_id") != pair.id);
  }
  for (const Json* s : {&with, &without}) {
    if (!s->contains("brownouts")) continue;
    for (const Json& e : s->at("brownouts").at("events")) CHECK_FALSE(e.at("cause_id").get<std::string>().empty());
  }
  if (summary) *summary = with;
  return *seen;
}

double number(const Json& record, const char* key) { return record.at(key).get<double>(); }

}  // namespace

TEST_CASE("mechanism constant-power-collapse: the power asked for exceeds E^2/(4R)") {
  Json summary;
  const Json m = check_pair({"constant-power-collapse", "boost", true}, &summary);
  const Scenario s = read_scenario(file_of("constant-power-collapse"));
  const Cell& cell = test::model_of<Cell>(s, "cell");
  // Maximum power transfer (textbook): E^2/(4R), E the cell's open-circuit voltage, R its series resistance and the
  // lead's 1.9 ohm. The cell's temperature at that moment lies between the day's extremes.
  const double emf = cell.parameters().open_circuit_voltage(0.4);
  CHECK(number(m, "emf_V") == doctest::Approx(emf).epsilon(1e-3));
  const auto most = [&](const char* at) {
    const Temperature t = celsius(number(summary.at("cell"), at));
    return emf * emf / 4 / (series_resistance(cell, 0.4, t).si() + 1.9);
  };
  CHECK(number(m, "largest_W") >= most("temperature_min_degC") * 0.998);
  CHECK(number(m, "largest_W") <= most("temperature_max_degC") * 1.002);
  // The radio's 1.6 W and 9 mA at 5 V, through the converter's efficiency at the lowest input of its curves.
  const double load = 1.6 + 5 * 9e-3;
  const double efficiency = look_up(test::model_of<Boost>(s, "boost").parameters().efficiency, 1.7, load / 5);
  CHECK(number(m, "demand_W") == doctest::Approx(load / efficiency).epsilon(5e-3));
  CHECK(number(m, "demand_W") > number(m, "largest_W"));
  CHECK(number(m, "lockout_V") < number(m, "emf_V") / 2);  // or the lockout would come first
}

TEST_CASE("mechanism converter-limit: the input current limit ends it, and the source could give more") {
  const Json m = check_pair({"converter-limit", "boost", true});
  const Scenario s = read_scenario(file_of("converter-limit"));
  // Power balance: eta V Ilim at the output.
  const double in = number(m, "input_V"), into = in * 0.4;
  const double efficiency = look_up(test::model_of<Boost>(s, "boost").parameters().efficiency, in, into / 5);
  CHECK(number(m, "most_out_W") == doctest::Approx(efficiency * into).epsilon(1e-6));
  CHECK(number(m, "most_out_W") < 1.6);
  CHECK(number(m, "demand_W") < number(m, "largest_W"));
}

TEST_CASE("mechanism lockout-hiccup: E - R I below the lockout, E above it by more than the hysteresis") {
  Json summary;
  const Json m = check_pair({"lockout-hiccup", "boost", true}, &summary);
  const double emf = number(m, "emf_V"), r = number(m, "resistance_ohm"), p = number(m, "demand_W");
  // Constant power behind R: V = (E + sqrt(E^2 - 4 R P))/2, the quadratic of power balance (textbook).
  const double loaded = (emf + std::sqrt(emf * emf - 4 * r * p)) / 2, off = number(m, "lockout_V");
  CHECK(off == doctest::Approx(3.2));
  CHECK(loaded < off);
  CHECK(emf > off + number(m, "hysteresis_V"));
  // The hysteresis that would hold is above R I, I the current that the burst draws at the lockout.
  CHECK(number(m, "rise_V") == doctest::Approx(emf - off).epsilon(1e-3));
  CHECK(r * p / off > number(m, "hysteresis_V"));
  CHECK(number(m, "rise_V") < r * p / off);  // or the burst would have been borne
  CHECK(summary.at("brownouts").at("events")[0].at("attempts").get<int>() > 1000);
  const Json held = run("lockout-hiccup-not");
  CHECK(held.at("brownouts").at("events")[0].at("attempts") == 0);
}

TEST_CASE("mechanism pass-through: the rail at the cell less the rectifier's drop, in the controller's illegal zone") {
  const Json m = check_pair({"pass-through", "boost", true});
  // The class's rectifier: 250 mV and 120 mohm, of a controller that draws 0.1 mA.
  CHECK(number(m, "input_V") - number(m, "supply_V") == doctest::Approx(0.25).epsilon(0.1));
  CHECK(number(m, "supply_V") > number(m, "reset_armed_below_V"));
  CHECK(number(m, "supply_V") < number(m, "starts_above_V"));
}

TEST_CASE("mechanism protector-trip: opens below its threshold, and only a charger closes it") {
  const Json m = check_pair({"protector-trip", "guard", true});
  CHECK(m.at("kind") == "over-discharge");
  CHECK(m.at("release") == "charger");
  CHECK(m.at("open_at_end") == true);
  CHECK(m.at("released") == 0);
  CHECK(number(m, "cell_V") <= 2.8);
}

TEST_CASE("mechanism charger-deadlock: pre-charge against the standing load") {
  const Json m = check_pair({"charger-deadlock", "charger", false});
  CHECK(number(m, "precharge_A") == doctest::Approx(10e-3));
  // The charger's own leakage of 2 uA at 4.2 V beside the lamp's 12 mA.
  CHECK(number(m, "standing_load_A") == doctest::Approx(12e-3).epsilon(1e-3));
  CHECK(m.at("count") == 3);
  const Json filled = run("charger-deadlock-not");
  CHECK(number(filled.at("cell"), "soc_end") > 0.5);
}

TEST_CASE("mechanism reset-loop: mean current is the charge of a start over the time of a turn") {
  const Json m = check_pair({"reset-loop", "logger", true});
  // Of the class: 80 ms of boot at 6 mA, then the burst pulls the supply down at once, 10 ms of reset and 2 ms of
  // power-on delay at 60 uA.
  const double charge = 6e-3 * 0.08 + 60e-6 * 0.012, turn = 0.092;
  CHECK(number(m, "period_s") == doctest::Approx(turn).epsilon(1e-3));
  CHECK(number(m, "charge_per_start_C") == doctest::Approx(charge).epsilon(5e-3));
  CHECK(number(m, "mean_current_A") == doctest::Approx(charge / turn).epsilon(5e-3));
  CHECK(m.at("drains_faster_than_light") == true);  // there is none
}

TEST_CASE("mechanism half-awake: a dip hangs a controller without a brown-out detector, with a good supply after it") {
  const Json m = check_pair({"half-awake", "logger", true});
  CHECK(m.at("state") == "hung");
  // A cell of 3.3 V behind 5 ohm and the idle current of the class, 1.5 mA.
  CHECK(number(m, "supply_V") == doctest::Approx(3.3).epsilon(0.01));
  CHECK(number(m, "current_A") == doctest::Approx(1.5e-3));
  CHECK(run("half-awake-not").at("brownouts").at("recovered") == 1);
}

TEST_CASE("mechanism flag-not-cleared: stuck on, and how long the cell bears it") {
  const Json m = check_pair({"flag-not-cleared", "clock", true});
  CHECK(number(m, "idle_A") == doctest::Approx(4e-3));
  CHECK(number(m, "empty_in_s") == doctest::Approx(number(m, "cell_Ah") * 3600 / number(m, "drain_A")));
  CHECK(number(m, "cell_Ah") == doctest::Approx(0.6 * 1.2).epsilon(1e-3));
}

TEST_CASE("mechanism clock-backup-lost: when the coin cell's charge over its current has passed") {
  const Json m = check_pair({"clock-backup-lost", "clock", true});
  // 0.01 mAh at 1 uA: 10 h, and what the wakes' 100 s and the start's supply spare it.
  CHECK(m.at("first").get<std::string>().substr(0, 15) == "2025-01-10T10:0");
}

TEST_CASE("mechanism gate-undriven: the drive that a pull-up to the lower net leaves") {
  const Json m = check_pair({"gate-undriven", "switch", true});
  // Divider of the switch's own 1 Mohm (and 100 nA at 8 V) to 5 V and 100 kohm to the cell, 3.82 V at 60 %.
  const double own = 1e-6 + 100e-9 / 8, line = 1e-5, cell = 3.8174;
  CHECK(number(m, "drive_V") == doctest::Approx((5 - cell) * line / (own + line)).epsilon(0.03));
  CHECK(number(m, "drive_V") > number(m, "threshold_V"));
}

TEST_CASE("mechanism leakage-budget: the store's V^2/R is the largest of it") {
  const Json m = check_pair({"leakage-budget", "store", false});
  CHECK(number(m.at("by_flow_W"), "store leakage") == doctest::Approx(3.8 * 3.8 / 5e3).epsilon(0.02));
  CHECK(number(m, "share") > 0.5);
}

TEST_CASE("mechanism cold-charge-block: light refused to a cell at frost") {
  Json summary;
  const Json m = check_pair({"cold-charge-block", "charger", false}, &summary);
  CHECK(m.at("count") == 3);
  CHECK(number(m, "refused_J") == doctest::Approx(number(summary.at("energy").at("refused_J"), "too cold")));
}

TEST_CASE("mechanism weak-light: light that the charger does not start on") {
  Json summary;
  const Json m = check_pair({"weak-light", "charger", false}, &summary);
  CHECK(number(m, "taken_J") < 0.05 * number(m, "offered_J"));
  CHECK(number(m, "taken_J") == doctest::Approx(number(summary.at("energy"), "harvested_J")).epsilon(1e-6));
}

TEST_CASE("mechanism panel-below-rating: nameplate times light on the plane against the field") {
  const Json m = check_pair({"panel-below-rating", "panel", false});
  CHECK(number(m, "rated_W") == doctest::Approx(0.6));
  // Peak-sun hours (common practice): rated power for every hour of 1 kW/m2.
  CHECK(number(m, "promised_J") == doctest::Approx(0.6 * number(m, "light_kWh_m2") * 3600).epsilon(1e-9));
  CHECK(number(m, "share") < 0.25);  // no better than what the moss lets through
}

TEST_CASE("mechanism converter-always-on: break-even interval E_start / P_idle") {
  const Json m = check_pair({"converter-always-on", "boost", false});
  const Scenario s = read_scenario(file_of("converter-always-on"));
  const BoostParameters& b = test::model_of<Boost>(s, "boost").parameters();
  // Energy of a capacitor (textbook), 44 uF at 5 V; its charging current over the soft start of 2 ms tells the
  // efficiency. Idle: 25 uA from the cell, and 5 V over the divider's 3 Mohm, through the efficiency at that load.
  const double start = 44e-6 * 25 / 2 / look_up(b.efficiency, 3.8, 44e-6 * 5 / 2e-3);
  CHECK(number(m, "start_J") == doctest::Approx(start).epsilon(5e-3));
  const double idle = 25e-6 * 3.8 + 25 / 3e6 / look_up(b.efficiency, 3.8, 5 / 3e6);
  CHECK(number(m, "idle_W") == doctest::Approx(idle).epsilon(0.02));
  CHECK(number(m, "break_even_s") == doctest::Approx(start / idle).epsilon(0.02));
}

TEST_CASE("mechanism inrush: charge sharing between the rail's capacitor and the store behind the switch") {
  const Json m = check_pair({"inrush", "radio-switch", true});
  // V = C1 V1/(C1 + C2) with the store empty (textbook): 22 uF at 5 V onto 470 uF leave 0.22 V, and what the store kept
  // from the start's leakage through the open switch comes on top.
  const double before = 22e-6, behind = 470e-6;
  CHECK(number(m, "before_F") == doctest::Approx(before));
  CHECK(number(m, "behind_F") == doctest::Approx(behind));
  CHECK(number(m, "before_V") == doctest::Approx(5).epsilon(1e-2));  // it is told where some has flowed already
  CHECK(number(m, "shared_V") ==
        doctest::Approx((before * 5 + behind * number(m, "behind_V")) / (before + behind)).epsilon(2e-3));
  CHECK(number(m, "shared_V") < 4.3);           // the controller's threshold
  CHECK((before * 5) / (before + 1e-6) > 4.3);  // of the pair's store of 1 uF
}

TEST_CASE("a smaller tolerance closes the energy balance of a day of hundreds of inrushes") {
  const test::Scratch scratch;
  ReplayOptions options;
  options.out = scratch.path("run");
  options.tolerance = 5e-9;
  const Scenario loop = read_scenario(file_of("inrush"), {{"logger.phases[measure].duration", "3 s"}});
  const Json summary = replay(loop, options).summary;
  REQUIRE(find(summary, "inrush"));
  CHECK(find(summary, "inrush")->at("count").get<int>() > 150);
  CHECK(std::abs(number(summary.at("energy"), "residual_independent")) < 1e-8);  // the limit of the summary's finding
}

TEST_CASE("mechanism alarm-missed: an alarm past its mask comes a whole period late") {
  const Json m = check_pair({"alarm-missed", "clock", true});
  // Hours, minutes and seconds match again after a day; 2 ms of power-on delay, 0.5 s of boot and 65 s of measuring
  // against 1 min.
  CHECK(number(m, "shift_s") == doctest::Approx(86400));
  CHECK(number(m, "passed_s") == doctest::Approx(65.502));
  CHECK(number(m, "interval_s") == 60);
}

TEST_CASE("mechanism back-feed: pull-ups and clamp diodes against what hangs on the switched-off supply") {
  const Json m = check_pair({"back-feed", "bus-lines", true});
  // Two lines of 2.2 kohm from the cell's 3.82 V, clamp diodes of 0.6 V: Kirchhoff's voltage law; the diode's rounded
  // knee is worth some 30 mV at a tenth of a milliampere.
  CHECK(number(m, "supply_V") == doctest::Approx(3.82 - 0.6 - number(m, "current_A") * 1100).epsilon(0.03));
  CHECK(number(m, "supply_V") > number(m, "reset_armed_below_V"));
}

TEST_CASE("mechanism divider-leak: the divider's upper resistor and a clamp diode") {
  const Json m = check_pair({"divider-leak", "divider", false});
  // (3.82 V - 0.6 V)/(100 kohm + 5 kohm of the sensor behind it): Ohm's law.
  CHECK(number(m, "current_A") == doctest::Approx((3.82 - 0.6) / 105e3).epsilon(0.05));
}

TEST_CASE("mechanism protector-trip, released by voltage: it closes by itself, and the same burst trips it again") {
  const Json m = check_pair({"protector-trip", "guard", true, "-voltage"});
  CHECK(m.at("kind") == "over-discharge");
  CHECK(m.at("release") == "voltage");
  // Each trip but the last is released: the cell's voltage without a load, 2.96 V at 3 %, is above 2.9 V.
  CHECK(m.at("released").get<int>() > 100);
  CHECK(m.at("released").get<int>() == m.at("count").get<int>() - 1);
  CHECK(find(run("protector-trip-voltage"), "reset-loop"));
  CHECK(find(run("protector-trip"), "reset-loop") == nullptr);
}

TEST_CASE("mechanism path-drop: Ohm's law over the plug, and a cell that would have borne the burst") {
  const Json m = check_pair({"path-drop", "logger", true});
  // The plug's 3.74 ohm and the switch's 42 mohm at 2.5 V of drive; the brown-out detector's 2.7 V.
  const double amperes = number(m, "current_A");
  CHECK(number(m, "threshold_V") == doctest::Approx(2.7));
  CHECK(number(m, "drop_V") == doctest::Approx(3.78 * amperes).epsilon(5e-3));
  CHECK(number(m, "cell_V") - number(m, "drop_V") == doctest::Approx(2.7).epsilon(1e-3));
  CHECK(amperes == doctest::Approx(0.128).epsilon(1e-2));
  CHECK(m.at("way") == Json{"switch", "plug"});
  // It is too cold to charge beside, which was called the cause once: a clean plug is as cold, and bears it.
  CHECK(find(run("path-drop"), "cold-charge-block"));
  CHECK(find(run("path-drop-not"), "cold-charge-block"));
  CHECK(run("path-drop-not").at("brownouts").at("count") == 0);
}

TEST_CASE("every mechanism has its pair in the folder, and every scenario there belongs to one") {
  const std::set<std::string> names = shipped_names();
  for (const Mechanism& m : mechanisms()) {
    CHECK_MESSAGE(names.count(m.id), m.id);
    CHECK_MESSAGE(names.count(m.id + not_suffix), m.id);
  }
  for (const std::string& name : names) {
    CAPTURE(name);
    CHECK_FALSE(id_of(name).empty());
    if (is_removed(name)) {
      CHECK(names.count(name.substr(0, name.size() - not_suffix.size())));
      continue;
    }
    REQUIRE(names.count(name + not_suffix));
    const auto lines = [&](const std::string& of) {
      std::ifstream file(file_of(of));
      std::vector<std::string> all;
      for (std::string line; std::getline(file, line);) {
        if (line.rfind("#", 0) != 0) all.push_back(line);
      }
      return all;
    };
    CHECK(lines(name) != lines(name + not_suffix));
  }
}

TEST_CASE("every scenario of the folder that triggers a mechanism has its id in the summary, its pair has not") {
  for (const std::string& name : shipped_names()) {
    CAPTURE(name);
    CHECK((find(run(name), id_of(name)) != nullptr) == !is_removed(name));
    for (const Json& finding : run(name).at("findings")) CHECK(finding.at("rule") != "energy-balance-open");
  }
}
