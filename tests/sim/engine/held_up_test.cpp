// The rules that keep a run going where something hovers: an integration held up by short steps, and markers whose
// guard stays about zero.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <memory>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include "tests/support/replayed.hpp"
#include "tests/support/scratch.hpp"
#include "tests/support/toy.hpp"

using namespace overwinter;

namespace {

struct Log final : RunWatcher {
  std::vector<Happening> happenings;
  std::vector<Tick> reached;
  void on_happening(const Happening& h, const double*, Evaluator&) override { happenings.push_back(h); }
  void on_step(Tick t, const double*, Evaluator&) override {
    if (reached.empty() || t > reached.back()) reached.push_back(t);
    if (reached.size() > 100000) throw std::runtime_error("held up for good");
  }
  int count(const std::string& event) const {
    return static_cast<int>(std::count_if(happenings.begin(), happenings.end(),
                                          [&](const Happening& h) { return h.event_name() == event; }));
  }
  /// Length of the i-th step that was kept, s.
  double step(std::size_t i, Tick begin) const {
    return static_cast<double>(reached[i] - (i == 0 ? begin : reached[i - 1])) / ticks_per_second;
  }
};

Event when_held_up(std::string name, std::function<void(const Model&, const View&, Writable&)> reset) {
  Event e;
  e.name = std::move(name);
  e.held_up = true;
  e.reset = std::move(reset);
  return e;
}

/// A state that runs to zero with the rate k, as long as memory[0] is 0: an explicit method of fifth order can take no
/// steps longer than a few 1/k (Hairer & Wanner, Solving Ordinary Differential Equations II, ch. IV.2).
class Fast final : public NetworkModel<Fast, 1, 0> {
 public:
  Fast(double k, ModelTable table) : k_(k), table_(std::move(table)) {
    table_.pins = {{"a", "", PinRole::power}};
    table_.states = {{"x", unit_of<double>("1"), 1.0, ""}};
    table_.memories = 1;
  }
  const ModelTable& table() const override { return table_; }
  void start(const Ambient&, Writable& w) const override {
    w.x[0] = 1;
    w.memory[0] = 0;
  }
  void rates(const View& v, double* dxdt) const override { dxdt[0] = v.memory[0] == 0 ? -k_ * v.x[0] : 0; }
  void flows(const View&, double*) const override {}
  template <class T>
  void equations(const View&, const T* z, T* f) const {
    f[0] = z[0] * 1e-3;
  }

 private:
  double k_;
  ModelTable table_;
};

/// What fast states hold up.
SimulatorOptions stepping(Stepping how) {
  SimulatorOptions options;
  options.stepping = how;
  return options;
}

/// Parts with one pin on one net.
template <class Part>
Scenario on_one_net(const std::vector<std::pair<std::string, std::shared_ptr<const Part>>>& parts) {
  Scenario s;
  ScenarioNet net;
  net.name = "net";
  for (const auto& [name, part] : parts) {
    net.pins.push_back({s.parts.size(), 0});
    s.parts.push_back({name, "", &part->table(), part, {}});
  }
  s.nets.push_back(std::move(net));
  return s;
}

std::shared_ptr<const Fast> fast(double k, bool rests_at_once = false) {
  ModelTable t;
  t.events = {when_held_up("held up", [rests_at_once](const Model&, const View&, Writable& w) {
    if (rests_at_once) w.memory[0] = 1;
  })};
  return std::make_shared<const Fast>(k, std::move(t));
}

struct FastBench {
  explicit FastBench(const std::vector<std::pair<std::string, std::shared_ptr<const Fast>>>& parts,
                     Stepping how = Stepping::reference)
      : diagram(on_one_net<Fast>(parts)), weather(test::dark(2)), simulator(diagram, weather, stepping(how), &log) {}
  Context run(double seconds) {
    Context c = simulator.start();
    simulator.advance(c, c.now + static_cast<Tick>(seconds * ticks_per_second));
    return c;
  }
  Log log;
  Diagram diagram;
  Weather weather;
  Simulator simulator;
};

std::size_t part_of(const Diagram& diagram, const std::string& name) {
  for (std::size_t p = 0; p < diagram.parts().size(); ++p) {
    if (diagram.parts()[p].name == name) return p;
  }
  FAIL("no such part");
  return 0;
}

/// A cell of 1 Ah falls from 4 V by 1 mV per mAh; a net with a ceramic capacitor and 10 Mohm hangs on it through
/// `feed`. The load draws 10 mA, from six to seven o'clock 100 mA: through the cell's 1 ohm that is a step of 90 mV.
std::string hanging(const std::string& feed) {
  const std::string load =
      "{model: load, kind: current, current: 10 mA, daily: {time: 0 6 7 h, level: 1 10 1}, minimum_supply: 1 V}";
  const bool resistor = feed.find("resistor") != std::string::npos;
  std::string text = test::cell_and(load, "3 4", "1000");
  text.resize(text.find("\nnets:"));
  return text + "\n  feed: " + feed +
         "\n  store: {part: ceramic-100uf}\n  bleeder: {model: resistor, resistance: 10 Mohm}\n"
         "nets:\n  pack+: [cell.plus, load.plus, " +
         (resistor ? "feed.a" : "feed.anode") + "]\n  net+: [" + (resistor ? "feed.b" : "feed.cathode") +
         ", store.plus, bleeder.a]\n  gnd: [cell.minus, load.minus, store.minus, bleeder.b]\n";
}

}  // namespace

TEST_CASE("after a hundred steps in a row shorter than 0.5 s, and not before, the integration is held up") {
  FastBench b({{"fast", fast(20)}});
  b.run(360);
  const int times = b.log.count("held up");
  CHECK(times >= 3);
  REQUIRE(static_cast<int>(b.log.happenings.size()) == times);
  std::size_t begin = 0;
  for (const Happening& h : b.log.happenings) {
    CHECK(h.round == 0);
    const auto at = std::lower_bound(b.log.reached.begin(), b.log.reached.end(), h.time);
    REQUIRE(at != b.log.reached.end());
    CHECK(*at == h.time);  // at a step's end
    const auto steps = static_cast<std::size_t>(at - b.log.reached.begin()) + 1;
    CHECK(steps - begin == 100);
    for (std::size_t i = begin; i < steps; ++i) CHECK(b.log.step(i, b.weather.begin()) < 0.5);
    begin = steps;
  }
}

TEST_CASE("what runs out on its own does not hold the phase stepper up") {
  FastBench b({{"fast", fast(2)}}, Stepping::phases);
  const Context c = b.run(3600);
  CHECK(b.log.count("held up") == 0);
  CHECK(b.simulator.steps().accepted < 30);
  CHECK(std::abs(c.state[0]) < 1e-7);  // the tolerance
}

TEST_CASE("steps that are short now and then, or no shorter than 0.5 s, do not count as held up") {
  FastBench slow({{"slow", fast(2)}});  // runs out with steps of 1.7 s
  slow.run(3600);
  CHECK(slow.simulator.steps().accepted > 100);
  CHECK(slow.log.count("held up") == 0);

  // Ninety alarms a tenth of a second apart, then one after a second, again and again.
  ModelTable t;
  t.alarms = 1;
  t.memories = 1;
  t.events = {test::at_alarm("tick", 0,
                             [](const Model&, const View& v, Writable& w) {
                               w.memory[0] = v.memory[0] + 1;
                               w.alarm[0] = w.now.utc + (v.memory[0] % 91 == 90 ? 10 : 1) * ticks_per_second / 10;
                             }),
              when_held_up("held up", [](const Model&, const View&, Writable&) {})};
  const auto ticking = std::make_shared<test::Toy>(std::move(t));
  ticking->begins = [](Writable& w) {
    w.memory[0] = 0;
    w.alarm[0] = w.now.utc + ticks_per_second;
  };
  Log log;
  const Diagram diagram(test::toys({{"ticking", ticking}}));
  const Weather weather = test::dark(2);
  Simulator simulator(diagram, weather, {}, &log);
  Context c = simulator.start();
  simulator.advance(c, c.now + 360 * ticks_per_second);
  CHECK(log.count("tick") > 2600);
  CHECK(log.count("held up") == 0);
}

TEST_CASE("the count of short steps goes with the context") {
  FastBench whole({{"fast", fast(20)}});
  whole.run(60);
  REQUIRE(whole.log.count("held up") >= 3);
  // Half-way to the third time two other simulators go on from copies, one of them with steps of its own behind it.
  const Tick middle = (whole.log.happenings[1].time + whole.log.happenings[2].time) / 2;
  FastBench first({{"fast", fast(20)}}), fresh({{"fast", fast(20)}}), used({{"fast", fast(20)}});
  Context c = first.simulator.start();
  first.simulator.advance(c, middle);
  Context d = c, e = c;
  used.run(3);
  used.log.happenings.clear();
  first.log.happenings.clear();
  const Tick end = c.now + 30 * ticks_per_second;
  first.simulator.advance(c, end);
  fresh.simulator.advance(d, end);
  used.simulator.advance(e, end);
  REQUIRE(first.log.count("held up") >= 1);
  for (const FastBench* b : {&fresh, &used}) {
    REQUIRE(b->log.happenings.size() == first.log.happenings.size());
    for (std::size_t i = 0; i < first.log.happenings.size(); ++i) {
      CHECK(b->log.happenings[i].time == first.log.happenings[i].time);
    }
  }
  CHECK(d.state == c.state);
  CHECK(e.state == c.state);
}

TEST_CASE("every part hears of a held-up integration, and one that changes its class sets it free") {
  FastBench b({{"one", fast(20, true)}, {"two", fast(20, true)}, {"other", fast(1e-6)}});
  const Context c = b.run(86400);
  REQUIRE(b.log.happenings.size() == 3);
  for (const Happening& h : b.log.happenings) CHECK(h.time == b.log.happenings.front().time);
  CHECK(b.log.happenings[0].part_name() == "one");
  CHECK(b.log.happenings[1].part_name() == "other");
  CHECK(b.log.happenings[2].part_name() == "two");
  CHECK(c.memory == std::vector<std::int32_t>{1, 0, 1});
  CHECK(b.simulator.steps().accepted < 100 + 24 * 3600 / 900 + 200);
}

namespace {

/// A capacitor in contact with feeds of all kinds for nearly a day: check(log, simulator, diagram, context) after each.
template <class Check>
void in_contact_with_every_feed(Stepping method, Check&& check) {
  for (const std::string feed :
       {"{part: schottky-1a-40v}", "{part: schottky-200ma-30v}", "{model: resistor, resistance: 1 ohm}",
        "{model: resistor, resistance: 100 ohm}", "{model: resistor, resistance: 10 kohm}"}) {
    CAPTURE(feed);
    const test::Scratch scratch;
    scratch.write_weather("still.epw", [](int) { return 0.0; });
    const test::Replayed b(scratch.write("test.yaml", hanging(feed)));
    Log log;
    Simulator simulator(b.diagram, b.weather, stepping(method), &log);
    Context c = simulator.start();
    simulator.advance(c, c.now + 23 * 3600 * ticks_per_second);
    check(log, simulator, b.diagram, c);
  }
}

}  // namespace

TEST_CASE("a capacitor in contact with a feed that falls slowly does not hold the integration up for long") {
  // The cell falls by 1 mV per mAh: 240 mV in the hours at 10 mA, 100 mV within the hour at 100 mA. Each tracking band
  // of 20 mV takes at most one contact: less than the falls of 20 in a day, besides the load's steps and the first
  // charge.
  int stiff = 0;
  in_contact_with_every_feed(Stepping::reference,
                             [&](const Log& log, Simulator& simulator, const Diagram& diagram, const Context& c) {
                               const int contacts = log.count("settles in contact");
                               stiff += contacts > 5 ? 1 : 0;
                               CHECK(contacts < 20);
                               CHECK(log.count("holds") < 25);
                               CHECK(log.happenings.size() < 80);
                               // Each contact takes a hundred steps until it is noticed; where it allows steps of half
                               // a second and more, the integration goes through.
                               CHECK(simulator.steps().accepted <
                                     (contacts > 5 ? 100 * static_cast<std::size_t>(contacts) + 1500 : 23 * 3600 * 2));
                               // And it follows its net.
                               const Evaluator& system = simulator.at(c);
                               const std::size_t store = part_of(diagram, "store");
                               const View view = system.view(store);
                               CHECK(std::abs(view.z[0] - view.z[1] - view.x[0]) < 0.021);
                             });
  CHECK(stiff >= 2);
}

TEST_CASE("the phase stepper follows a capacitor in contact with a feed and is seldom held up") {
  in_contact_with_every_feed(Stepping::phases,
                             [](const Log& log, Simulator& simulator, const Diagram& diagram, const Context& c) {
                               // Where the contact's rate is measured nothing holds it up; the limit of the charging
                               // current bends that rate.
                               const auto contacts = static_cast<std::size_t>(log.count("settles in contact"));
                               CHECK(contacts < 20);
                               CHECK(log.count("holds") < 25);
                               CHECK(simulator.steps().accepted < 100 * contacts + 1500);
                               const Evaluator& system = simulator.at(c);
                               const View view = system.view(part_of(diagram, "store"));
                               CHECK(std::abs(view.z[0] - view.z[1] - view.x[0]) < 0.021);
                             });
}

TEST_CASE("a marker whose guard hovers about zero happens at most once a second, an event with a reset each time") {
  // Every 10 ms the guard turns its sign.
  ModelTable t;
  t.alarms = 1;
  t.memories = 2;
  t.events = {test::at_alarm("turn", 0,
                             [](const Model&, const View& v, Writable& w) {
                               w.memory[0] = 1 - v.memory[0];
                               w.alarm[0] = w.now.utc + ticks_per_second / 100;
                             }),
              test::when("marker", [](const Model&, const View& v) { return v.memory[0] - 0.5; }),
              test::when(
                  "counter", [](const Model&, const View& v) { return v.memory[0] - 0.5; },
                  [](const Model&, const View& v, Writable& w) { w.memory[1] = v.memory[1] + 1; })};
  const auto part = std::make_shared<test::Toy>(std::move(t));
  part->begins = [](Writable& w) {
    w.memory[0] = w.memory[1] = 0;
    w.alarm[0] = w.now.utc + ticks_per_second / 100;
  };
  Log log;
  const Diagram diagram(test::toys({{"part", part}}));
  const Weather weather = test::dark(2);
  Simulator simulator(diagram, weather, {}, &log);
  Context c = simulator.start();
  const Tick begin = c.now;
  simulator.advance(c, begin + 10 * ticks_per_second);
  CHECK(log.count("turn") == 1000);
  CHECK(log.count("counter") == 500);
  CHECK(c.memory[1] == 500);
  Tick last = begin - ticks_per_second;
  for (const Happening& h : log.happenings) {
    if (h.event_name() != "marker") continue;
    CHECK(h.time - last >= ticks_per_second);
    CHECK(h.time - last < ticks_per_second + ticks_per_second / 25);  // and as soon as it may
    last = h.time;
  }
  CHECK(log.count("marker") >= 9);
  CHECK(log.count("marker") <= 10);
}

TEST_CASE("a marker stays disarmed while its guard holds, however long") {
  ModelTable t;
  t.events = {test::when("marker", [](const Model&, const View& v) { return v.x[0] - 5; })};
  Log log;
  const Diagram diagram(test::toys({{"part", std::make_shared<test::Toy>(std::move(t))}}));
  const Weather weather = test::dark(2);
  Simulator simulator(diagram, weather, {}, &log);
  Context c = simulator.start();
  simulator.advance(c, c.now + 3600 * ticks_per_second);
  CHECK(log.count("marker") == 1);
}
