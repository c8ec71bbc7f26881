#include "sim/engine/joints.hpp"

#include <doctest/doctest.h>

#include <algorithm>

#include "models/paths/joint.hpp"
#include "sim/netlist/fault_section.hpp"
#include "tests/support/replayed.hpp"

using namespace overwinter;

namespace {

JointedNetlist with(const std::vector<std::string>& faults) {
  Scenario s = read_scenario(std::string(OVERWINTER_SOURCE) + "/scenarios/peat-bog-better.yaml");
  add_faults(s, faults);
  return with_joints(s);
}

/// "a.b c.d" of a net, in order.
std::string pins_of(const JointedNetlist& n, const std::string& net) {
  const auto found = std::find_if(n.nets.begin(), n.nets.end(), [&](const ScenarioNet& s) { return s.name == net; });
  if (found == n.nets.end()) return "no such net";
  std::vector<std::string> pins;
  for (const PinRef& p : found->pins)
    pins.push_back(n.parts[p.part].name + "." + n.parts[p.part].table->pins[p.pin].name);
  std::sort(pins.begin(), pins.end());
  std::string text;
  for (const std::string& pin : pins) text += (text.empty() ? "" : " ") + pin;
  return text;
}

}  // namespace

TEST_CASE("without such faults the netlist is the scenario's") {
  const JointedNetlist plain = with({}), soiled = with({"panel-south soiled by 60 %"});
  CHECK(soiled.parts.size() == plain.parts.size());
  CHECK(soiled.nets.size() == plain.nets.size());
  CHECK(soiled.joints_of == std::vector<std::vector<std::size_t>>{{}});
}

TEST_CASE("a part to be opened hangs on joints with each pin that is not on the reference") {
  const JointedNetlist n = with({"panel-south open"});
  CHECK(pins_of(n, "south+") == "diode-south.anode panel-south.plus joint.a");
  CHECK(pins_of(n, "panel-south.plus behind joint") == "panel-south.plus panel-south.plus joint.b");
  CHECK(pins_of(n, "gnd").find("panel-south.minus") != std::string::npos);
  REQUIRE(n.joints_of[0].size() == 1);
  CHECK(n.parts[n.joints_of[0][0]].table == &Joint::describe());
  CHECK(with({"boost open"}).joints_of[0].size() == 2);  // in, out
  CHECK(with({"clock open"}).joints_of[0].size() == 2);  // supply, interrupt
  CHECK(with({"monitor open"}).joints_of[0].size() == 3);
  CHECK(with({"switch open"}).joints_of[0].size() == 2);  // nothing on the reference: one pin keeps its net
  const JointedNetlist diode = with({"diode-south open"});
  CHECK(diode.joints_of[0].size() == 1);
  CHECK(pins_of(diode, "sun").find("diode-south.anode joint.reference") != std::string::npos);
}

TEST_CASE("a part to be shorted has a bridge across its first two pins") {
  const JointedNetlist n = with({"diode-south short"});
  CHECK(pins_of(n, "south+") == "diode-south bridge.a diode-south.anode panel-south.plus");
  CHECK(pins_of(n, "sun").find("diode-south bridge.b") != std::string::npos);
}

TEST_CASE("two faults of a kind share their joints; what opens a part parts it from its bridge") {
  const JointedNetlist n =
      with({"panel-south short", "panel-south open for 1 h", "panel-south open at 2024-11-01", "panel-east open"});
  CHECK(n.joints_of[1] == n.joints_of[2]);
  CHECK(n.joints_of[1] != n.joints_of[3]);
  CHECK(pins_of(n, "panel-south.plus behind joint") ==
        "panel-south bridge.a panel-south.plus panel-south.plus joint.b");
}

TEST_CASE("a joint that breaks in the course of a run leaves no Jacobian of the sound one behind") {
  Scenario s = read_scenario(std::string(OVERWINTER_SOURCE) + "/scenarios/mechanisms/protector-trip-not.yaml");
  add_faults(s, {"radio open at " + iso(s.from) + " 02:00"});
  const test::Replayed run(std::move(s));
  Simulator simulator(run.diagram, run.weather, {});
  Context c = simulator.start();
  simulator.advance(c, run.weather.end());
  CHECK(simulator.steps().rejected < 100);
  // 1e12 ohm of the joint against 1e11 ohm of the board
  const auto net = [&](const std::string& name) {
    const auto& nets = run.diagram.nets();
    return c.network[static_cast<std::size_t>(std::find(nets.begin(), nets.end(), name) - nets.begin())];
  };
  CHECK(net("radio.plus behind joint") == doctest::Approx(net("instrument+") / 11).epsilon(0.01));
}

TEST_CASE("a shorted cell empties and comes to rest") {
  Scenario s = read_scenario(std::string(OVERWINTER_SOURCE) + "/scenarios/peat-bog-better.yaml");
  s.to = s.from;
  add_faults(s, {"cell short"});
  const test::Replayed run(std::move(s));
  Simulator simulator(run.diagram, run.weather, {});
  Context c = simulator.start();
  simulator.advance(c, run.weather.end());
  const auto& nets = run.diagram.nets();
  const auto cell = static_cast<std::size_t>(std::find(nets.begin(), nets.end(), "cell+") - nets.begin());
  CHECK(std::abs(c.network[cell]) < 0.1);
}
