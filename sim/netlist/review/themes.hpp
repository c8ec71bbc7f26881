// The rules of the design review by theme; review() puts them together.
#pragma once

#include <vector>

#include "sim/netlist/review/finding.hpp"
#include "sim/netlist/scenario.hpp"

namespace overwinter {

/// A charger or protector that does not fit the cell (both are taken to belong to the scenario's one cell, whatever the
/// wiring): charge-voltage-above-cell, overcharge-trip-below-charge, charges-in-frost; and what
/// stays on beside the cell: precharge-below-load.
std::vector<DesignFinding> review_charging(const Scenario&);

/// Parts turned round, outputs that nothing listens to, supplies beyond what a part bears or needs, panels past the
/// charger, alarms that wake nothing.
std::vector<DesignFinding> review_wiring(const Scenario&);

/// Wake policies that can be followed and are hardly meant: an emptier cell that wakes more often, rows that the cell's
/// voltage never leaves or never reaches, hysteresis wider than a row, intervals shorter than a wake.
std::vector<DesignFinding> review_policy(const Scenario&);

/// Converters against what feeds them: lockout-hysteresis, release-hysteresis (of a protector before one),
/// converter-always-on.
std::vector<DesignFinding> review_converters(const Scenario&);

/// Switches while no driver pulls their gates: gate-never-off, gate-pull-up-weak.
std::vector<DesignFinding> review_gates(const Scenario&);

/// Switches while a driver pulls their gates: gate-drive-below-datasheet, from the highest to the lowest voltage at
/// which the instrument should run.
std::vector<DesignFinding> review_gate_drives(const Scenario&);

/// Capacitors beside the controllers' supply pins: decoupling-missing.
std::vector<DesignFinding> review_decoupling(const Scenario&);

/// Nets that are to be unpowered behind an open switch and are not: switch-bypassed, back-feed, part-turned-round.
std::vector<DesignFinding> review_back_feed(const Scenario&);

/// What the cell loses into its panels in the dark: dark-leakage.
std::vector<DesignFinding> review_dark(const Scenario&);

/// Monitors: hysteresis-below-reading and offset-wider-than-row of the policy that goes by one,
/// shunt-offset-hides-sleep.
std::vector<DesignFinding> review_readings(const Scenario&);

/// The clock's alarm against policy and requirements: alarm-past-when-set, interval-beyond-match, alarm-match-coarse.
std::vector<DesignFinding> review_alarms(const Scenario&);

/// Resistance between cell and converter under the largest load: burst-path-drop.
std::vector<DesignFinding> review_burst_paths(const Scenario&);

}  // namespace overwinter
