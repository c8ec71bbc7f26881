// A summary and its series as a run would leave them; every number is invented.
#pragma once

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "sim/report/report.hpp"

namespace overwinter::test {

inline constexpr Tick season_begin = 20'011 * ticks_per_day;  // 2024-10-15

inline nlohmann::ordered_json season_summary() {
  return nlohmann::ordered_json::parse(R"json({
    "format": 1, "version": "0.2.0", "scenario": "invented logger, first winter",
    "verdict": {"survives": false, "text": "The instrument does not survive: longest gap 38 h, at most 24 h allowed.",
                "typical_year": true},
    "requirements": [
      {"name": "longest_gap", "relation": "at most", "limit": 24, "value": 38.2, "unit": "h", "limit_text": "24 h",
       "value_text": "38.2 h", "held": false, "by_default": false},
      {"name": "worst_day_wakes", "relation": "at least", "limit": 1, "value": 1, "unit": "1", "limit_text": "1",
       "value_text": "1", "held": true, "by_default": true},
      {"name": "needs_human", "relation": "at most", "limit": 0, "value": null, "unit": "1", "limit_text": "0",
       "value_text": null, "held": null, "by_default": false}],
    "span": {"from": "2024-10-15", "to": "2025-03-31", "days": 168},
    "site": {"latitude_deg": 56.0, "longitude_deg": -5.0, "elevation_m": 400.0, "utc_offset_h": 0.0, "albedo": 0.2},
    "weather": {"source": "Invented upland", "file": "upland.epw", "years": [2001, 2003], "annual_kWh_m2": 871.267,
                "warnings": ["site and file are 0.7 deg apart"]},
    "service": {"due": 1344, "wakes": 1330, "wakes_completed": 1325, "wakes_missed": 19, "failed_starts": 4,
                "longest_gap_s": 137520, "longest_gap": {"from": "2025-01-12T05:00:21Z", "to": "2025-01-13T19:12:21Z",
                "open": false}, "worst_day_wakes": 0, "worst_week_wakes": 31,
                "worst_week_from": "2025-01-08T02:00:00Z", "downtime_s": 170000, "downtime_fraction": 0.0117},
    "brownouts": {"count": 3, "by_cause": {"guard: cut off": 2, "boost: under-voltage lockout": 1}, "recovered": 2,
      "needs_human": 1, "undecided": 0, "longest_recovery_s": 93600, "sunny_days": 3,
      "sunny_day_kWh_m2_by_month": {"10": 1.312, "11": 0.604, "12": 0.335, "1": 0.441, "2": 1.02, "3": 2.11},
      "events": [
      {"time": "2024-12-20T04:00:00.250000000Z", "cause": "boost: under-voltage lockout",
       "chain": [{"time": "2024-12-20T03:59:59.900000000Z", "part": "boost", "event": "under-voltage lockout"},
                 {"time": "2024-12-20T04:00:00.250000000Z", "part": "controller", "event": "brown-out reset"}],
       "attempts": 2, "outcome": "recovered", "recovered": "2024-12-20T11:00:12.400Z", "recovery_s": 25212.15,
       "needs_human_since": null},
      {"time": "2025-01-12T06:00:00.000000000Z", "cause": "guard: cut off",
       "chain": [{"time": "2025-01-12T05:40:00.000000000Z", "part": "guard", "event": "cut off"}],
       "attempts": 0, "outcome": "recovered", "recovered": "2025-01-13T08:00:00.000Z", "recovery_s": 93600,
       "needs_human_since": null},
      {"time": "2025-03-02T01:00:00.000000000Z", "cause": "guard: cut off",
       "chain": [{"time": "2025-03-02T00:40:00.000000000Z", "part": "guard", "event": "cut off"}],
       "attempts": 7, "outcome": "needs human", "recovered": null, "recovery_s": null,
       "needs_human_since": "2025-03-09T00:00:00Z", "sunny_days": 3, "sunny_days_refused_by": {"charger: too cold": 2}}]},
    "stepped_over": {"time_s": 5400.0, "energy_J": 1298.62, "unbalanced_J": -0.1,
                     "restarts_in_vain": [{"part": "boost", "event": "lockout", "times": 812}]},
    "margins": {
      "thinnest": {"part": "guard", "threshold": "over-discharge", "margin_V": 0.0, "crossed": true,
                   "time": "2025-01-12T05:40:00.000Z", "worst_case": false},
      "all": [
        {"part": "boost", "threshold": "lockout", "margin_V": 0.214, "crossed": false, "time": "2024-12-20T03:59:59.000Z",
         "worst_case": false},
        {"part": "controller", "threshold": "brown-out", "margin_V": 0.035, "crossed": false, "time": "2025-01-11T03:00:00.000Z",
         "worst_case": true},
        {"part": "guard", "threshold": "over-discharge", "margin_V": 0.0, "crossed": true,
         "time": "2025-01-12T05:40:00.000Z", "worst_case": false},
        {"part": "guard", "threshold": "release", "margin_V": null, "crossed": false, "time": null, "worst_case": false}]},
    "cell": {"soc_start": 0.8, "soc_end": 0.61, "soc_min": 0.031, "soc_min_time": "2025-01-12T05:40:00Z",
             "soc_max": 0.998, "soc_max_time": "2025-03-20T15:00:00Z", "voltage_min_V": 2.981, "voltage_min_time": "2025-01-12T05:40:00Z",
             "voltage_max_V": 4.1986, "temperature_min_degC": -7.4975, "temperature_max_degC": 13.25,
             "charge_in_Ah": 8.126, "charge_out_Ah": 8.489},
    "energy": {"harvest_offered_J": 777222.7, "harvested_J": 164542.8,
               "refused_J": {"asleep": 3.0, "complete": 380133.3, "constant voltage": 26751.3, "drop-out": 34674.5,
                             "too cold": 171116.3, "too hot": 0.0},
               "delivered_J": 139197.76, "delivered_by_part_J": {"controller": 9197.76, "transmitter": 130000.0},
               "lost_J": 33153.8,
               "losses_J": {"cell": {"series": 294.9, "self_discharge": 1162.07, "parameter_drift": -0.1},
                            "charger": {"pass": 22173.4, "supply": 9017.4},
                            "diode": {"conduction": 506.13, "leakage": 6.9e-06}},
               "stored_change_J": -7808.7, "throughput_J": 229484.4, "residual_ledger": -4.8e-15,
               "residual_independent": 1.3e-10},
    "findings": [{"rule": "cell-charged-above-full", "parts": ["cell"],
                  "text": "the cell was charged to 103.0 %: a real cell can burn", "try": "a lower charge_voltage"}],
    "assumptions": ["panel: label only"],
    "engine": {"steps": 162140, "events": 749, "solver_fallbacks": 23, "wall_s": 5.7},
    "inputs_sha256": {"invented.yaml": "c3e24de065fabf95fd005dfeb7cf2af9491106bd53caf52a2d20b1e58deb2f8e"}
  })json");
}

/// 168 days, a sample every `every` ticks; a wake every three hours, none while a brown-out lasts.
inline ReportSeries season_series(Tick every = 600 * ticks_per_second) {
  constexpr Tick hour = 3600 * ticks_per_second, days = 168;
  const Tick end = season_begin + days * ticks_per_day;
  ReportSeries s;
  s.brownouts = {season_begin + 66 * ticks_per_day + 4 * hour, season_begin + 89 * ticks_per_day + 6 * hour,
                 season_begin + 138 * ticks_per_day + hour};
  double charge = 0.8, cloud = 0.5;
  unsigned dice = 1;
  for (Tick t = season_begin; t <= end; t += every) {
    const double day = static_cast<double>(t - season_begin) / static_cast<double>(ticks_per_day);
    const double hours = 24 * (day - std::floor(day)), season = std::cos((day - 68) / 365.25 * 2 * 3.14159265);
    dice = dice * 1664525u + 1013904223u;  // Numerical Recipes' constants, from memory
    cloud = std::clamp(cloud + (static_cast<double>(dice >> 8) / 16777216.0 - 0.5) * 0.08, 0.05, 1.0);
    const double sun = std::max(0.0, std::sin((hours - 6) / 12 * 3.14159265) - 0.45 * (season + 1) / 2);
    const double light = 650 * sun * cloud;
    const double air = 5 - 7 * season + 3 * std::sin((hours - 9) / 12 * 3.14159265) + 2 * (0.5 - cloud);
    const double share = static_cast<double>(every) / static_cast<double>(ticks_per_day);
    charge = std::clamp(charge + share * (light * 5.5e-4 * 0.45 - 0.0135), 0.02, 1.0);
    s.time.push_back(t);
    s.light.push_back(light);
    s.air.push_back(air);
    s.cell_temperature.push_back(air + light / 200);
    s.charge.push_back(charge);
    s.voltage.push_back(3.0 + 0.75 * std::pow(charge, 0.4) + 0.44 * charge + (light > 20 ? 0.01 : 0));
  }
  for (Tick t = season_begin + 3 * hour; t <= end; t += 3 * hour) {
    const bool out = (t >= s.brownouts[0] && t < s.brownouts[0] + 7 * hour) ||
                     (t >= s.brownouts[1] && t < s.brownouts[1] + 26 * hour) || t >= s.brownouts[2];
    if (!out) s.wakes.push_back(t + 21 * ticks_per_second);
  }
  return s;
}

}  // namespace overwinter::test
