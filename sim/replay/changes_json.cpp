#include "sim/replay/changes_json.hpp"

#include "sim/engine/simulator.hpp"
#include "sim/netlist/timed_fault.hpp"

namespace overwinter {

nlohmann::ordered_json changes_json(const Scenario& scenario, const Weather& weather) {
  using Json = nlohmann::ordered_json;
  Json faults = Json::array();
  for (const TimedFault& fault : scenario.faults) {
    const Tick begin = weather.begin() + fault.begin;
    const bool open = fault.end == never || weather.begin() + fault.end >= weather.end();
    faults.push_back({{"part", fault.part.empty() ? Json() : Json(fault.part)},
                      {"fault", fault.kind},
                      {"details", details_of(fault)},
                      {"from", iso_time(begin)},
                      {"to", open ? Json() : Json(iso_time(weather.begin() + fault.end))}});
  }
  return {{"overrides", scenario.overrides}, {"faults", faults}};
}

}  // namespace overwinter
