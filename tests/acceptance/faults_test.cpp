// Every kind of fault in the smallest instrument that shows it: what it does, when it begins and ends, what stays as it
// was, that the energy balance stays closed, and that both steppers tell the same.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "models/control/controller.hpp"
#include "sim/netlist/fault_section.hpp"
#include "sim/replay/simulate.hpp"
#include "tests/support/replayed.hpp"

using namespace overwinter;

namespace {

constexpr Tick second = ticks_per_second, minute = 60 * second, hour = 3600 * second;

/// What came of a run: everything that happened, and numbers every minute.
struct Course final : RunWatcher {
  struct Told {
    Tick time;
    std::string what;
    int round;
  };
  struct Row {
    Tick time;
    std::map<std::string, double> output, integral;  ///< "part.name"
  };

  explicit Course(const Diagram& d) : diagram(d) {}
  void on_happening(const Happening& h, const double*, Evaluator&) override {
    told.push_back({h.time, (h.part ? h.part_name() + " " : std::string()) + h.event_name(), h.round});
  }
  void on_sample(Tick t, const double* state, Evaluator& system) override {
    Row& row = rows.emplace_back();
    row.time = t;
    for (std::size_t p = 0; p < diagram.parts().size(); ++p) {
      const DiagramPart& part = diagram.parts()[p];
      for (const Output& o : part.table->outputs) {
        row.output[part.name + "." + o.name] = o.value(system.model(p), system.view(p));
      }
      for (std::size_t f = 0; f < part.table->flows.size(); ++f) {
        row.integral[part.name + "." + part.table->flows[f].name] = state[diagram.states() + part.flow + f];
      }
    }
  }

  const Diagram& diagram;
  std::vector<Told> told;
  std::vector<Row> rows;
};

/// The snow stake of scenarios/outcomes from 1 to 3 March 2025, whose clock's first alarm is at 00:10 and the next ones
/// an hour after each wake of 34.5 s.
struct Stake {
  explicit Stake(const std::vector<std::string>& faults = {}, Stepping how = Stepping::phases, int days = 2)
      : bench(with(faults, days)), course(bench.diagram) {
    RunOptions options;
    options.every = minute;
    options.stepping = how;
    summary = simulate(bench.scenario, bench.weather, bench.diagram, options, {&course}).summary;
    CHECK(std::abs(summary.at("energy").at("residual_independent").get<double>()) <= 1e-8);
    CHECK(std::abs(summary.at("energy").at("residual_ledger").get<double>()) <= 1e-9);
  }
  static Scenario with(const std::vector<std::string>& faults, int days) {
    Scenario s = read_scenario(std::string(OVERWINTER_SOURCE) + "/scenarios/outcomes/survives.yaml");
    s.to = {2025, 3, days};
    add_faults(s, faults);
    return s;
  }

  /// Hours and minutes since the span's begin.
  Tick at(Tick hours, Tick minutes = 0) const { return bench.weather.begin() + hours * hour + minutes * minute; }
  double output(const std::string& name, Tick time) const { return row(time).output.at(name); }
  /// Of a flow between two times, J.
  double joules(const std::string& name, Tick from, Tick to) const {
    return row(to).integral.at(name) - row(from).integral.at(name);
  }
  std::vector<Tick> times(const std::string& what) const {
    std::vector<Tick> all;
    for (const Course::Told& t : course.told) {
      if (t.what == what) all.push_back(t.time);
    }
    return all;
  }
  /// Since that time, to that.
  std::size_t count(const std::string& what, Tick from, Tick to) const {
    const std::vector<Tick> all = times(what);
    return static_cast<std::size_t>(std::count_if(all.begin(), all.end(), [=](Tick t) { return t >= from && t < to; }));
  }
  std::string cause() const { return summary.at("brownouts").at("events").at(0).at("cause"); }

  test::Replayed bench;
  Course course;
  nlohmann::ordered_json summary;

 private:
  const Course::Row& row(Tick time) const {
    const auto found =
        std::find_if(course.rows.begin(), course.rows.end(), [=](const Course::Row& r) { return r.time == time; });
    REQUIRE(found != course.rows.end());
    return *found;
  }
};

const Stake& healthy() {
  static const Stake stake;
  return stake;
}

/// Of outputs between two times, in steps of ten minutes.
double largest(const Stake& s, const std::string& name, Tick from, Tick to) {
  double most = -1e9;
  for (Tick t = from; t < to; t += 10 * minute) most = std::max(most, s.output(name, t));
  return most;
}

}  // namespace

TEST_CASE("begin and end are told at their very ticks, and until the begin all is as without the fault") {
  // At a weather boundary, between two, while a phase runs (20:00:44: see below), with the span's begin.
  const Stake s({"panel soiled by 60 % at 2025-03-01 13:00 for 90 min", "cold-snap by 5 K at 2025-03-01 20:12:34.5",
                 "radio stuck-off for 1 h", "panel soiled by 10 % at 2025-03-01 13:00"});
  CHECK(s.times("radio stuck-off") == std::vector<Tick>{s.at(0)});
  CHECK(s.times("radio stuck-off over") == std::vector<Tick>{s.at(1)});
  CHECK(s.times("panel soiled") == std::vector<Tick>{s.at(13), s.at(13)});
  CHECK(s.times("panel soiled over") == std::vector<Tick>{s.at(14, 30)});
  CHECK(s.times("cold-snap") == std::vector<Tick>{s.at(20, 12) + 34 * second + second / 2});
  CHECK(s.times("cold-snap over").empty());

  const Stake late({"panel soiled by 60 % at 2025-03-02 12:07"});
  std::size_t i = 0;
  for (; late.course.told[i].time < late.at(36, 7); ++i) {
    const Course::Told &a = late.course.told[i], &b = healthy().course.told[i];
    CHECK((a.time == b.time && a.what == b.what && a.round == b.round));
  }
  CHECK(i > 100);
  CHECK(late.course.told[i].what == "panel soiled");

  const auto& faults = s.summary.at("faults");
  REQUIRE(faults.size() == 4);
  CHECK(
      faults[0].dump() ==
      R"({"part":"panel","fault":"soiled","details":"by 60 %","from":"2025-03-01T13:00:00Z","to":"2025-03-01T14:30:00Z"})");
  CHECK(faults[1].at("part").is_null());
  CHECK(faults[1].at("to").is_null());
  CHECK(healthy().summary.at("faults").empty());
}

TEST_CASE("open: nothing is harvested through a broken diode, until it is whole again") {
  const Stake s({"diode open at 2025-03-01 12:07 for 1 h"});
  const std::string harvest = "panel.harvest";
  CHECK(s.joules(harvest, s.at(10), s.at(12, 7)) > 100);
  CHECK(s.joules(harvest, s.at(12, 8), s.at(13, 7)) < 1e-6);
  CHECK(s.joules(harvest, s.at(13, 7), s.at(14)) > 50);
  // The open panel goes to its open-circuit voltage.
  CHECK(s.output("panel.voltage", s.at(12, 30)) > s.output("panel.voltage", s.at(12)) + 0.3);
  // Before the fault the joint, 0.1 mohm, is hardly to be seen.
  CHECK(s.joules(harvest, s.at(0), s.at(12)) ==
        doctest::Approx(healthy().joules(harvest, healthy().at(0), healthy().at(12))).epsilon(1e-4));
}

TEST_CASE("open: a cell without contact leaves the instrument without supply, and its chain says so") {
  const Stake s({"cell open at 2025-03-01 00:00:30 for 5 h"});
  CHECK(s.count("logger wake completed", s.at(0), s.at(5)) == 0);
  CHECK(s.count("logger wake completed", s.at(5), s.at(12)) > 4);
  CHECK(std::abs(s.output("cell.current", s.at(3))) < 1e-9);
  CHECK(s.cause() == "fault: cell open");
  CHECK(s.summary.at("brownouts").at("count") == 1);
}

TEST_CASE("short: a shorted panel feeds its bridge and nothing else") {
  const Stake s({"panel short at 2025-03-01 12:07"});
  CHECK(s.joules("charger.pass", s.at(12, 8), s.at(16)) < 1e-3);
  CHECK(s.joules("panel bridge.heat", s.at(0), s.at(12, 7)) == 0);
  CHECK(s.joules("panel bridge.heat", s.at(12, 8), s.at(16)) > 0);
  CHECK(s.output("panel.current", s.at(12, 30)) > 1.02 * healthy().output("panel.current", healthy().at(12, 30)));
  CHECK(std::abs(s.output("panel.voltage", s.at(12, 30))) < 2e-3);
}

TEST_CASE("soiled: the panel has so much less light") {
  const Stake s({"panel soiled by 60 % at 2025-03-01 11:30 for 2 h"});
  for (const Tick t : {s.at(11, 40), s.at(12, 30), s.at(13, 20)}) {
    CHECK(s.output("panel.light", t) == doctest::Approx(0.4 * healthy().output("panel.light", t)).epsilon(1e-12));
  }
  for (const Tick t : {s.at(11, 20), s.at(13, 40)}) {
    CHECK(s.output("panel.light", t) == healthy().output("panel.light", t));
  }
}

TEST_CASE("aged: the cell keeps its state of charge, and has less of everything else") {
  const Stake s({"cell aged by 30 % times 3 at 2025-03-01 03:05 for 20 h"});
  const std::string charge = "cell.state_of_charge", lost = "cell.parameter_drift";
  CHECK(s.output(charge, s.at(3, 5)) == doctest::Approx(healthy().output(charge, s.at(3, 5))).epsilon(1e-9));
  // 30 % of what was stored: about 0.75 x 1.2 Ah x 3.6 V.
  CHECK(s.joules(lost, s.at(3, 4), s.at(3, 5)) == doctest::Approx(0.3 * 0.75 * 1.2 * 3600 * 3.6).epsilon(0.05));
  CHECK(s.joules(lost, s.at(23, 4), s.at(23, 5)) < -0.25 * 0.75 * 1.2 * 3600 * 3.6);
  const double drop = s.output(charge, s.at(3, 5)) - s.output(charge, s.at(8));
  const double same = healthy().output(charge, s.at(3, 5)) - healthy().output(charge, s.at(8));
  CHECK(drop > 1.3 * same);  // the same charge, and more loss, out of 70 %
  CHECK(s.joules("cell.series", s.at(4), s.at(8)) > 2.8 * healthy().joules("cell.series", s.at(4), s.at(8)));
}

TEST_CASE("cold snap: the air of every part is colder, between weather boundaries too") {
  const Stake s({"cold-snap by 15 K at 2025-03-01 03:20 for 6 h", "cold-snap by 2 K at 2025-03-01 06:00 for 1 h"});
  const auto air = [](const Stake& of, Tick t) {
    const auto& all = of.bench.weather.intervals();
    return std::find_if(all.begin(), all.end(), [=](const WeatherInterval& i) { return t < i.end; })->ambient.air.si();
  };
  for (const auto& [when, colder] : {std::pair(s.at(3, 19), 0.0),
                                     {s.at(3, 20), 15.0},
                                     {s.at(6, 30), 17.0},
                                     {s.at(9, 19), 15.0},
                                     {s.at(9, 20), 0.0}}) {
    CHECK(air(s, when) == doctest::Approx(air(healthy(), when) - colder).epsilon(1e-12));
  }
  CHECK(s.output("cell.temperature", s.at(9)) < healthy().output("cell.temperature", s.at(9)) - 10);
  CHECK(s.output("cell.temperature", s.at(3, 19)) ==
        doctest::Approx(healthy().output("cell.temperature", s.at(3, 19))).epsilon(1e-8));
}

TEST_CASE("retries: the phase lasts longer, and the next alarm comes that much later") {
  const Stake s({"logger retries phase send times 10 at 2025-03-01 02:00 for 1 h"});
  const auto ends = s.times("logger wake completed"), due = s.times("clock alarm"),
             healthy_ends = healthy().times("logger wake completed");
  CHECK(ends[1] == healthy_ends[1]);
  CHECK(ends[2] == healthy_ends[2] + 270 * second);  // 30 s ten times
  CHECK(std::abs((ends[3] - due[3]) - (healthy_ends[3] - healthy().times("clock alarm")[3])) < second / 10);
}

TEST_CASE("hung: in the middle of a phase it draws on, no alarm comes any more, and the end is a reset") {
  // The third wake measures from 02:11:09 to 02:11:13.
  const Stake s({"logger hung at 2025-03-01 02:11:11 for 3 h"});
  const Tick from = s.times("logger hung").front(), to = s.times("logger hung over").front();
  CHECK(to == from + 3 * hour);
  for (const Tick t : {s.at(2, 12), s.at(5, 11)}) CHECK(s.output("logger.phase", t) == 1);
  const double power = s.joules("depth-gauge.used", s.at(3), s.at(4)) / 3600;
  CHECK(power > 0.2);  // 50 mA at 5 V
  CHECK(s.joules("depth-gauge.used", s.at(4), s.at(5)) == doctest::Approx(3600 * power).epsilon(1e-3));
  CHECK(s.count("clock alarm", from, to) == 0);
  CHECK(s.count("logger wake completed", from, to) == 0);
  CHECK(s.count("logger boot", from, to) == 0);
  CHECK(s.count("logger boot", to, to + second) == 1);
  CHECK(s.count("logger wake completed", to, to + hour) == 1);
  CHECK(s.count("clock alarm", to, to + 3 * hour) >= 2);

  const Stake asleep({"logger hung at 2025-03-01 02:30 for 5 h"});  // between two wakes
  CHECK(asleep.count("logger wake completed", asleep.at(2, 30), asleep.at(7, 30)) == 0);
  CHECK(asleep.count("clock alarm", asleep.at(2, 30), asleep.at(7, 30)) == 1);
  CHECK(asleep.output("logger.phase", asleep.at(6)) == 1);
}

TEST_CASE("stopped: every alarm waits for the oscillator, and without it none comes") {
  const Stake s({"clock stopped at 2025-03-01 02:30 for 5 h"});
  const auto due = s.times("clock alarm"), expected = healthy().times("clock alarm");
  CHECK(due[2] == expected[2]);
  CHECK(due[3] == expected[3] + 5 * hour);
  CHECK(s.summary.at("brownouts").at("count") == 0);

  const Stake dead({"clock stopped at 2025-03-01 02:30"});
  CHECK(dead.count("clock alarm", s.at(2, 30), s.at(48)) == 0);
  CHECK(dead.cause() == "fault: clock stopped");
  const auto& chain = dead.summary.at("brownouts").at("events")[0].at("chain");
  CHECK(chain.back().at("event") == "no alarm");
}

TEST_CASE("backup lost: with the supply the clock goes on, without it it forgets") {
  const Stake s({"clock backup-lost at 2025-03-01 01:30"});
  CHECK(s.times("logger wake completed") == healthy().times("logger wake completed"));
  const Stake cut({"clock backup-lost at 2025-03-01 01:30", "clock open at 2025-03-01 02:30 for 1 min"});
  CHECK(cut.count("clock clock stops", cut.at(2, 30), cut.at(2, 30) + 1) == 1);
  CHECK(cut.count("clock alarm", cut.at(2, 31), cut.at(48)) == 0);
  const Stake kept({"clock open at 2025-03-01 02:30 for 1 min"});
  CHECK(kept.times("clock clock stops").empty());
  CHECK(kept.count("clock alarm", kept.at(2, 31), kept.at(12)) > 5);
}

TEST_CASE("stuck: switch, interrupt and loads do what they want") {
  const Stake on({"switch stuck-on at 2025-03-01 02:30 for 2 h"}),
      off({"switch stuck-off at 2025-03-01 02:30 for 2 h"}), low({"clock stuck-low at 2025-03-01 02:30 for 2 h"}),
      high({"clock stuck-high at 2025-03-01 02:30 for 2 h"});
  for (const Stake* s : {&on, &low}) {  // a wake at once, that no alarm asked for, and the supply stays
    CHECK(s->count("logger boot", s->at(2, 30), s->at(2, 31)) == 1);
    CHECK(s->output("logger.supply", s->at(4)) > 4.5);
  }
  for (const Stake* s : {&off, &high}) {
    CHECK(s->count("clock alarm", s->at(2, 30), s->at(4, 30)) == 1);
    CHECK(s->count("logger power came", s->at(2, 30), s->at(4, 30)) == 0);
    CHECK(s->count("logger power came", s->at(4, 30), s->at(4, 31)) == 1);  // the flag stands
  }
  CHECK(off.cause() == "fault: switch stuck-off");
  CHECK(high.cause() == "fault: clock stuck-high");
  const Stake loads({"radio stuck-off at 2025-03-01 02:30", "depth-gauge stuck-on at 2025-03-01 02:30"});
  CHECK(loads.joules("radio.used", loads.at(2, 31), loads.at(24)) == 0);
  CHECK(loads.joules("depth-gauge.used", loads.at(3), loads.at(4)) >
        5 * healthy().joules("depth-gauge.used", loads.at(3), loads.at(4)));
}

TEST_CASE("stuck: a charger that does not charge, and one that knows no cold") {
  const Stake off({"charger stuck-off at 2025-03-01 11:00 for 2 h"});
  CHECK(largest(off, "charger.charge_current", off.at(11), off.at(13)) == 0);
  CHECK(largest(off, "charger.charge_current", off.at(13), off.at(14)) > 0.01);
  const Stake cold({"cold-snap by 25 K"}), on({"cold-snap by 25 K", "charger stuck-on"});
  CHECK(largest(cold, "charger.charge_current", cold.at(10), cold.at(15)) == 0);
  CHECK(largest(on, "charger.charge_current", on.at(10), on.at(15)) > 0.01);
}

TEST_CASE("both steppers tell the same of a day full of faults, and a run twice the same to the byte") {
  const std::vector<std::string> faults = {"panel soiled by 60 % at 2025-03-01 09:20 for 3 h",
                                           "cell aged by 20 % times 2 at 2025-03-01 05:10:10",
                                           "cold-snap by 8 K at 2025-03-01 04:40 for 4 h",
                                           "diode open at 2025-03-01 13:00 for 1 h",
                                           "charger stuck-off at 2025-03-01 14:10:11 for 1 h",
                                           "switch stuck-off at 2025-03-01 15:10:20 for 2 h",
                                           "clock stopped at 2025-03-01 18:00 for 1 h",
                                           "logger retries phase send times 5 at 2025-03-01 19:00 for 1 h",
                                           "logger hung phase measure at 2025-03-01 20:30 for 2 h"};
  const Stake phases(faults, Stepping::phases, 1), reference(faults, Stepping::reference, 1);
  std::vector<Course::Told> a = phases.course.told, b = reference.course.told;
  REQUIRE(a.size() == b.size());
  CHECK(a.size() > 100);
  for (std::size_t i = 0; i < a.size(); ++i) {
    CHECK(a[i].what == b[i].what);
    CHECK(std::abs(a[i].time - b[i].time) < 5 * second / 1000);
  }
  CHECK(phases.output("cell.state_of_charge", phases.at(24)) ==
        doctest::Approx(reference.output("cell.state_of_charge", phases.at(24))).epsilon(1e-6));
  CHECK(Stake(faults, Stepping::phases, 1).summary.dump() == phases.summary.dump());
}

TEST_CASE("restarts in vain are not stepped over past a fault") {
  // The reset loop of tests/acceptance/hiccup_test.cpp: the first design on a sunny day after it has died.
  Scenario scenario = read_scenario(std::string(OVERWINTER_SOURCE) + "/scenarios/peat-bog.yaml");
  scenario.from = {2024, 12, 29};
  scenario.to = {2024, 12, 30};
  add_faults(scenario, {"panel-south soiled by 1 % at 2024-12-29 12:33:33.3"});
  const test::Replayed bench(scenario);
  struct Leaps final : RunWatcher {
    std::vector<std::pair<Tick, Tick>> all;
    std::vector<Tick> turns;
    void on_leap(const Leap& leap) override { all.emplace_back(leap.begin, leap.end); }
    void on_happening(const Happening& h, const double*, Evaluator&) override {
      if (h.event && h.event->role == EventRole::fault_begins) turns.push_back(h.time);
    }
  } leaps;
  Simulator simulator(bench.diagram, bench.weather, {}, &leaps);
  Context c = simulator.start();
  const auto& parts = bench.diagram.parts();
  const auto cell = std::find_if(parts.begin(), parts.end(), [](const DiagramPart& p) { return p.name == "cell"; });
  c.state[cell->state] = 0.0525 * 3 * 3600;
  const Tick begin = bench.weather.begin(), fault = begin + 12 * hour + 33 * minute + 33 * second + 3 * second / 10;
  simulator.advance(c, begin + 13 * hour);
  CHECK(leaps.turns == std::vector<Tick>{fault});
  const auto before =
      std::count_if(leaps.all.begin(), leaps.all.end(), [=](const auto& l) { return l.second <= fault; });
  const auto after = std::count_if(leaps.all.begin(), leaps.all.end(), [=](const auto& l) { return l.first >= fault; });
  CHECK(before > 0);
  CHECK(after > 0);
  CHECK(before + after == static_cast<std::ptrdiff_t>(leaps.all.size()));
}
