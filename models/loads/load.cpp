#include "models/loads/load.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>

namespace overwinter {

const ModelTable& Load::describe() {
  static const ModelTable table = [] {
    using P = LoadParameters;
    TableBuilder<Load, P> t(
        "load", "A resistive, constant-current or constant-power load, by a daily schedule or switched by a line.");
    t.equation("1", "resistance: I = k V / R", "common practice");
    t.equation("2", "current: I = k I0 for V >= Vmin", "common practice");
    t.equation("3", "power: I = k P / V for V >= Vmin", "common practice");
    t.equation("4", "below Vmin: I = k I0 V / Vmin, I = k P V / Vmin^2", "class assumption: continuous, passive");
    t.choice("kind", &P::kind, {"resistance", "current", "power"}).of_the_law().meaning("which law the load follows");
    t.scalar("resistance", &P::resistance, "ohm").above(0).at_most(1e9).meaning("for kind resistance");
    t.scalar("current", &P::current, "mA").at_least(0).at_most(10).meaning("for kind current, at full level");
    t.scalar("power", &P::power, "mW").at_least(0).at_most(100).meaning("for kind power, at full level");
    t.scalar("minimum_supply", &P::minimum_supply, "V")
        .above(0)
        .at_most(1000)
        .meaning("lower end of the supply range: below it the load is resistive")
        .source("class assumption");
    t.curve("daily", &P::daily, {"time", unit_of<Duration>("h"), Limit{0, false}, Limit{86400, true}},
            {"level", unit_of<double>("1"), std::nullopt, std::nullopt}, Interpolation::step, Outside::hold)
        .values_at_least(0)
        .values_at_most(1000)
        .meaning("level over the time of day (standard time), each value kept until the next; starts at 0 h");
    t.pin("plus", "supply");
    t.pin("minus", "return");
    t.output("current", unit_of<Current>("mA"), "into plus", [](const Load& m, const View& v) { return m.current(v); });
    t.line_input("enable", LineKind::logic, "the load draws nothing while it is low; unconnected: always on");
    t.flow("used", FlowKind::delivered, "supply voltage times current");
    t.memories(1);
    t.event("supply too low", "the supply fell below minimum_supply while the load is on",
            [](const Load& m, const View& v) {
              return m.level(v) > 0 && m.p_.kind != LoadKind::resistance ? m.p_.minimum_supply.si() - (v.z[0] - v.z[1])
                                                                         : -1.0;
            });
    t.alarm("level change", "the schedule reaches its next point", [](const Load& m, const View&, Writable& w) {
       m.follow_schedule(w);
     }).calendar();
    t.fault("stuck-on", "it does not listen to its enable line",
            [](P& p, const FaultValues&) { p.ignores_enable = true; });
    t.fault("stuck-off", "it draws nothing", [](P& p, const FaultValues&) {
      if (p.resistance) p.resistance = Resistance{std::numeric_limits<double>::infinity()};
      if (p.current) p.current = Current{0.0};
      if (p.power) p.power = Power{0.0};
    });
    return t.done();
  }();
  return table;
}

Load::Load(const LoadParameters& p) : p_(p) {}

std::shared_ptr<const Model> Load::build(const LoadParameters& p, std::vector<Finding>& findings) {
  const struct {
    LoadKind kind;
    const char* key;
    bool given;
  } laws[] = {{LoadKind::resistance, "resistance", p.resistance.has_value()},
              {LoadKind::current, "current", p.current.has_value()},
              {LoadKind::power, "power", p.power.has_value()}};
  const auto& own =
      *std::find_if(std::begin(laws), std::end(laws), [&](const auto& law) { return law.kind == p.kind; });
  bool another = false;
  for (const auto& law : laws) {
    if (law.kind == p.kind || !law.given) continue;
    another = true;
    findings.push_back({law.key, std::string(law.key) + " is given, but the load is of kind " + own.key,
                        std::string("kind: ") + law.key + ", or " + own.key + " in place of " + law.key});
  }
  if (!own.given && !another) {
    findings.push_back(
        {"kind", std::string("a load of kind ") + own.key + " needs its " + own.key, std::string("add ") + own.key});
  }
  if (!p.daily.empty() && p.daily.x().front() != 0) {
    findings.push_back(
        {"daily", "the schedule does not say what the load does from midnight on", "let its first time be 0 h"});
  }
  if (!findings.empty()) return nullptr;
  return std::make_shared<Load>(p);
}

double Load::level(const View& view) const {
  if (view.line[0] == 0 && !p_.ignores_enable) return 0;
  return p_.daily.empty() ? 1.0 : p_.daily.y()[static_cast<std::size_t>(view.memory[0])];
}

Demand Load::demand(const View& view) const {
  const double k = level(view);
  switch (p_.kind) {
    case LoadKind::resistance:
      return {Demand::conductance, k / p_.resistance->si()};
    case LoadKind::current:
      return {Demand::current, k * p_.current->si()};
    case LoadKind::power:
      return {Demand::power, k * p_.power->si()};
  }
  return {};
}

void Load::start(const Ambient&, Writable& w) const { follow_schedule(w); }

void Load::follow_schedule(Writable& w) const {
  w.memory[0] = 0;
  w.alarm[0] = never;
  if (p_.daily.empty()) return;
  const std::vector<double>& times = p_.daily.x();
  const auto tick = [](double seconds) { return static_cast<Tick>(std::llround(seconds * ticks_per_second)); };
  const Tick now = w.now.time_of_day();
  std::size_t i = 0;
  while (i + 1 < times.size() && tick(times[i + 1]) <= now) ++i;
  w.memory[0] = static_cast<std::int32_t>(i);
  const Tick next = i + 1 < times.size() ? tick(times[i + 1]) : ticks_per_day;
  if (times.size() > 1) w.alarm[0] = w.now.utc + (next - now);
}

void Load::flows(const View& view, double* flow) const { flow[0] = (view.z[0] - view.z[1]) * current(view); }

}  // namespace overwinter
