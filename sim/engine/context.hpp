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

/// The instant after the failure with which a stretch of failures begins; see sim/engine/hiccup.hpp.
struct StretchBegin {
  Tick at = 0;
  std::size_t interval = 0;
  std::vector<double> state;
  std::vector<Tick> alarm;
  std::size_t events = 0;  ///< that had happened
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

/// Sums over the failures of a stretch, for a straight line through them. Times t in s and states x since its begin.
struct DriftSums {
  double n = 0, t = 0, tt = 0;
  std::vector<double> x, tx;
};

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
  // The present stretch of failures:
  std::shared_ptr<const StretchBegin> stretch;  ///< null where there is none
  std::size_t settling = 0;                     ///< failures that are let pass before it begins
  std::size_t failures = 0;                     ///< since its begin
  std::size_t failures_wanted = 0;              ///< until it is looked at
  Tick leap = never;                            ///< the longest that is to be tried next
  bool cramped = false;                         ///< the last stretch found no room for a leap
  std::size_t looked_at = 0;     ///< failures in a weather interval, those that were simulated unseen included
  std::size_t looked_at_in = 0;  ///< the interval
  Tick last_failure = 0;
  std::size_t in_vain = 0;                     ///< failures since the last completed wake
  std::vector<CycleEvent> since;               ///< its events
  DriftSums drift;                             ///< of its failures
  std::shared_ptr<const Landings> landings;    ///< the latest, see the simulator
  std::shared_ptr<const SoundInstants> sound;  ///< the latest instants that were looked into
  Tick looked_until = 0;                       ///< the end of the latest of their transients
};

}  // namespace overwinter
