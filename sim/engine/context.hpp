// All time and all state of a run in one copyable value: a copy is a checkpoint, a fork or the start of a zoom.
#pragma once

#include <cstdint>
#include <memory>
#include <vector>

#include "models/model.hpp"

namespace overwinter {

/// An event that plays a role (EventRole), as it happened.
struct CycleEvent {
  Tick time = 0;
  std::size_t part = 0, event = 0;  ///< of the diagram, and in the part's table
};

/// As it stood at a failure, where a turn of failures begins: sim/engine/hiccup.hpp.
struct FailureMark {
  Tick at = 0;
  std::size_t interval = 0;
  std::vector<double> state;
  std::vector<Tick> alarm;
  std::size_t events = 0;  ///< that had happened
};

/// From one failure to the next.
struct Turn {
  std::shared_ptr<const FailureMark> begin;
  Tick length = 0;
  std::vector<double> step;         ///< what it did to states and integrals
  std::vector<std::uint8_t> moved;  ///< per alarm: whether it was set anew
  std::vector<CycleEvent> events;   ///< those that play a role
  std::size_t happened = 0;         ///< all events
  double drift = 0;                 ///< of what is not led along, a turn since the last one of this kind: hiccup.hpp
};

/// What the network solver remembers of a solve; its own business.
struct SolverMemory {
  virtual ~SolverMemory() = default;
};

/// Where the network once went at an event: from `start`, with that imbalance of its currents, to `network`.
struct Landing {
  std::vector<double> start, imbalance, network;
  int sign = 0;
  std::shared_ptr<const SolverMemory> memory;  ///< from `network`
};
using Landings = std::vector<std::shared_ptr<const Landing>>;

/// See sim/engine/microscope.hpp.
struct SoundInstant;
using SoundInstants = std::vector<std::shared_ptr<const SoundInstant>>;

struct Context {
  Tick now = 0;
  std::vector<double> state;    ///< slow states, then the integral of every flow since the start (J or C)
  std::vector<double> network;  ///< the last solution: net voltages, then internal unknowns; names the branch
  int branch_sign = 0;          ///< sign of the Jacobian's determinant on that branch
  std::shared_ptr<const SolverMemory> solver;  ///< from that solution or one near it; null for nothing
  std::vector<std::int32_t> memory;
  std::vector<double> drive;        ///< derived from the weather of the present interval
  std::vector<Tick> alarm;          ///< pending alarms, `never` where none
  std::vector<std::uint8_t> armed;  ///< per event: 0 from firing until the guard has left its triggering side
  std::vector<Tick> marked;         ///< per event: when it last fired, for those that only mark a moment
  std::size_t interval = 0;         ///< index of the present weather interval
  std::size_t period = 0;           ///< and of the present period of faults, see fault_plan.hpp
  std::size_t events = 0;           ///< so far, what was stepped over left out
  Tick minute = 0;                  ///< begin of the minute in which events are counted
  double events_in_minute = 0;      ///< see sim/engine/chatter.hpp; about, where some were stepped over
  int short_steps = 0;              ///< short steps in a row, see the simulator
  double step = 1.0;                ///< s, the integration step that went well last
  // Failures that follow one another:
  std::shared_ptr<const FailureMark> failure;      ///< the latest; null where there is none
  std::vector<std::shared_ptr<const Turn>> turns;  ///< the latest, all in the present weather
  std::vector<CycleEvent> since;                   ///< events since the failure that play a role
  std::size_t turns_wanted = 0;                    ///< that go on in the same way, before they are leapt over
  Tick leap = never;                               ///< the longest that is to be tried next
  std::size_t turns_seen = 0;                      ///< one by one, in the present weather
  double share = 1;                                ///< turns that one stood for last
  std::size_t in_vain = 0;                         ///< failures since the last completed wake
  bool asked = true;                               ///< by an alarm: false from a completed wake to the next one due
  std::shared_ptr<const Landings> landings;        ///< the latest, see the simulator
  std::shared_ptr<const SoundInstants> sound;      ///< the latest instants that were looked into
  Tick looked_until = 0;                           ///< the end of the latest of their transients
};

}  // namespace overwinter
