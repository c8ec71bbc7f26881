// A moment of a settled run as a file that it can be continued from, also with a scenario that was changed since.
//
// JSON, format 1. Everything goes by name: states by part and state (SI), voltages by net. Of a run's context it leaves
// out what is derived (the weather's drive), what only remembers the way there (caches of the solvers, loops that were
// stepped over), and the energies summed up so far.
//   scenario, time, until, moment, occasion   title; instants in UTC to the nanosecond; what the zoom was of
//   parts.NAME.model, .states, .memory
//   parts.NAME.alarms                         by event: when it comes due, or null
//   parts.NAME.disarmed                       by event: when it last happened, of those whose guard has not left since
//   network                                   volts of the nets; then what the models solve for inside, in SI
#pragma once

#include <string>

#include "sim/engine/context.hpp"
#include "sim/engine/diagram.hpp"
#include "sim/netlist/scenario.hpp"
#include "sim/weather/weather.hpp"

namespace overwinter {

struct SavedMoment {
  Context context;  ///< of the settled run, before whatever happens next
  Tick moment = 0, until = 0;
  std::string occasion;
};

std::string saved_moment_text(const SavedMoment&, const Scenario&, const Diagram&);

/// From such a file, for that diagram and weather. The network is as it was saved and not solved yet. Throws InputError
/// with one fault: no such file, a time outside the weather, a part or a state that the file does not have.
SavedMoment read_saved_moment(const std::string& path, const std::string& text, const Weather&, const Diagram&);

}  // namespace overwinter
