#include "sim/engine/fault_plan.hpp"

#include <doctest/doctest.h>

#include <algorithm>

#include "models/control/controller.hpp"
#include "models/storage/cell.hpp"
#include "sim/netlist/fault_section.hpp"
#include "tests/models/support/alone.hpp"

using namespace overwinter;

namespace {

constexpr Tick hour = 3600 * ticks_per_second, begin = 1'700'000'000 * ticks_per_second;

struct Planned {
  explicit Planned(const std::vector<std::string>& faults, Tick length = 48 * hour)
      : diagram(with(faults)), plan(diagram, begin, begin + length) {}
  static Diagram with(const std::vector<std::string>& faults) {
    Scenario s = read_scenario(std::string(OVERWINTER_SOURCE) + "/scenarios/peat-bog-better.yaml");
    add_faults(s, faults);
    return Diagram(s);
  }
  std::size_t part(const std::string& name) const {
    const auto& all = diagram.parts();
    return static_cast<std::size_t>(
        std::find_if(all.begin(), all.end(), [&](const DiagramPart& p) { return p.name == name; }) - all.begin());
  }
  const Model* model(std::size_t period, const std::string& name) const {
    return plan.periods()[period].models[part(name)];
  }
  /// "panel soiled, ..." of what begins or ends with a period.
  std::string turns(std::size_t period) const {
    std::string text;
    for (const FaultPeriod::Turn& t : plan.periods()[period].turns) {
      text += (text.empty() ? "" : ", ") + (t.part ? t.part->name + " " : std::string()) + t.event->name;
    }
    return text;
  }
  Diagram diagram;
  FaultPlan plan;
};

}  // namespace

TEST_CASE("without faults there is one period of healthy models, which does not end") {
  const Planned p({});
  REQUIRE(p.plan.periods().size() == 1);
  CHECK(p.plan.periods()[0].begin == begin);
  CHECK(p.plan.periods()[0].end == never);
  for (std::size_t i = 0; i < p.diagram.parts().size(); ++i) {
    CHECK(p.plan.periods()[0].models[i] == p.diagram.parts()[i].model.get());
  }
}

TEST_CASE("periods begin where faults begin and end; only what is faulty has another model") {
  const Planned p({"panel-south soiled by 60 % at 2024-10-15 06:00 for 5 h", "cold-snap by 15 K at 2024-10-15 08:00",
                   "panel-south soiled by 50 % at 2024-10-15 10:00 for 2 h", "cell aged by 10 %"});
  const auto& periods = p.plan.periods();
  REQUIRE(periods.size() == 6);
  const Tick bounds[] = {0, 6, 8, 10, 11, 12};
  for (std::size_t i = 0; i < 6; ++i) {
    CHECK(periods[i].begin == begin + bounds[i] * hour);
    CHECK(periods[i].end == (i < 5 ? periods[i + 1].begin : never));
  }
  CHECK(p.turns(0) == "cell aged");
  CHECK(p.turns(1) == "panel-south soiled");
  CHECK(p.turns(2) == "cold-snap");
  CHECK(p.turns(3) == "panel-south soiled");
  CHECK(p.turns(4) == "panel-south soiled over");
  CHECK(p.turns(5) == "panel-south soiled over");
  CHECK(periods[3].in_force ==
        "; faults in force: panel-south soiled by 60 %, cold-snap by 15 K, panel-south soiled by 50 %, cell aged by 10 "
        "%");

  const Model* healthy = p.diagram.parts()[p.part("panel-south")].model.get();
  CHECK(p.model(0, "panel-south") == healthy);
  CHECK(p.model(1, "panel-south") != healthy);
  CHECK(p.model(2, "panel-south") == p.model(1, "panel-south"));
  CHECK(p.model(5, "panel-south") == healthy);
  CHECK(p.model(1, "panel-east") == p.diagram.parts()[p.part("panel-east")].model.get());
  Ambient noon;
  noon.sky.global_horizontal = noon.sky.diffuse_horizontal = Irradiance{500.0};
  const auto light = [&](std::size_t period) {
    test::Alone panel(std::shared_ptr<const Model>(std::shared_ptr<void>(), p.model(period, "panel-south")));
    panel.weather(noon);
    return panel.output("light");
  };
  CHECK(light(1) == doctest::Approx(0.4 * light(0)).epsilon(1e-12));
  CHECK(light(3) == doctest::Approx(0.2 * light(0)).epsilon(1e-12));  // both at once
  CHECK(light(4) == doctest::Approx(0.5 * light(0)).epsilon(1e-12));
}

TEST_CASE("what begins behind the run's end does not, and what ends there has no end") {
  const Planned p({"panel-south soiled by 60 % at 2024-10-16 for 1 d", "panel-east soiled by 60 % at 2024-10-17",
                   "clock stopped for 30 d", "panel-west soiled by 10 % for 47.9999999 h"});
  const auto& periods = p.plan.periods();
  REQUIRE(periods.size() == 3);
  CHECK(p.turns(0) == "clock stopped, clock no alarm, panel-west soiled");
  CHECK(p.turns(1) == "panel-south soiled");
  CHECK(p.turns(2) == "panel-west soiled over");
  CHECK(periods[2].end == never);
}

TEST_CASE("joints are sound, or not there, until their fault") {
  const Planned p({"panel-south open at 2024-10-15 06:00 for 1 h", "panel-south short at 2024-10-15 07:00"});
  REQUIRE(p.plan.periods().size() == 3);
  const auto conductance = [&](std::size_t period, const std::string& joint) {
    double f[4];
    const double z[4] = {1, 0, 0, 1};
    View view;
    view.z = z;
    p.model(period, joint)->evaluate(view, f);
    return f[0];
  };
  CHECK(conductance(0, "panel-south.plus joint") == doctest::Approx(1e4));
  CHECK(conductance(1, "panel-south.plus joint") == doctest::Approx(1e-12));
  CHECK(conductance(2, "panel-south.plus joint") == doctest::Approx(1e4));
  CHECK(conductance(0, "panel-south bridge") == 0);
  CHECK(conductance(1, "panel-south bridge") == 0);
  CHECK(conductance(2, "panel-south bridge") == doctest::Approx(100));
  CHECK(p.model(1, "panel-south") == p.model(0, "panel-south"));
}

TEST_CASE("a kind that several models know changes each by its own rule") {
  const Planned p({"radio stuck-on at 2024-10-15 06:00", "charger stuck-on at 2024-10-15 06:00",
                   "switch stuck-on at 2024-10-15 06:00"});
  for (const char* part : {"radio", "charger", "switch"})
    CHECK(&p.model(1, part)->table() == &p.model(0, part)->table());
}
