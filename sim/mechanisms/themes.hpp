// The detectors of mechanisms by theme; MechanismLog puts them together.
#pragma once

#include <memory>

#include "sim/mechanisms/detector.hpp"
#include "sim/weather/weather.hpp"

namespace overwinter {

/// Converters that cut or reach their limit: constant-power-collapse, converter-limit, lockout-hiccup. What decides is
/// the physics at that moment, see converter.cpp.
std::unique_ptr<Detector> detect_converters(const Instrument&, MechanismBook&);

/// What lies between the cell and the part that gives up: path-drop. Also tells how much charge would have helped.
std::unique_ptr<Detector> detect_path_drop(const Instrument&, MechanismBook&);

/// Protectors that open, and how they close again: protector-trip.
std::unique_ptr<Detector> detect_trips(const Instrument&, MechanismBook&);

/// The rail and the controller on it between on and off: pass-through, half-awake.
std::unique_ptr<Detector> detect_half_states(const Instrument&, MechanismBook&);

/// Switch-ons and bursts that only their transient does not bear: inrush.
std::unique_ptr<Detector> detect_inrush(const Instrument&, MechanismBook&);

/// What feeds a switched-off supply past its switch: back-feed, divider-leak.
std::unique_ptr<Detector> detect_back_feed(const Instrument&, MechanismBook&);

/// The clock and the switch that it drives: flag-not-cleared, alarm-missed, clock-backup-lost, gate-undriven.
std::unique_ptr<Detector> detect_wake_chain(const Instrument&, MechanismBook&);

/// Starts in vain: reset-loop.
std::unique_ptr<Detector> detect_loops(const Instrument&, MechanismBook&);

/// What keeps the sun's light from the cell: charger-deadlock, cold-charge-block, weak-light.
std::unique_ptr<Detector> detect_refused_charge(const Instrument&, MechanismBook&, Tick begin);

/// panel-below-rating.
std::unique_ptr<Detector> detect_panels(const Instrument&, MechanismBook&, const Weather&);

/// What is taken while the instrument sleeps: leakage-budget, converter-always-on.
std::unique_ptr<Detector> detect_floor(const Instrument&, MechanismBook&, Tick begin);

}  // namespace overwinter
