// Cause of death: brown-outs of a run as causal chains, and the smallest single change that would have avoided each.
#pragma once

#include <functional>
#include <nlohmann/json.hpp>
#include <optional>

#include "sim/engine/engine_options.hpp"
#include "sim/ensemble/worker_pool.hpp"
#include "sim/netlist/scenario.hpp"
#include "sim/weather/weather.hpp"

namespace overwinter {

struct WhyOptions : EngineOptions, WorkerOptions {
  /// Which brown-outs are told: a certain one, counted from 1; or all; or the first of each cause, which is both
  /// the event behind it and its cause id.
  std::optional<std::size_t> brownout;
  bool all = false;
  /// Every change of a number that is found is replayed once more, made larger by this share of it; none: it is not.
  std::optional<double> margin = {};
  /// Called in this process at every step of the run and at least five times a second afterwards, with what is being
  /// done and the share of it that is. What it throws ends all.
  std::function<void(const std::string& doing, double share)> progress;
  /// Called with what is known while changes are looked for, now and then, and once more before a Stopped goes on: a
  /// result that is marked `cut_short`.
  std::function<void(const nlohmann::ordered_json& result)> known;
};

/// Format 1: scenario, overrides, count, and for each told one of `brownouts`:
///   number, time, cause, cause_id, outcome, story     as in a run's summary
///   avoided_until       see trial.hpp; until_span_ends: whether that is the span's end
///   changes             cures, by who can make them (`remedy`: built, firmware, datasheet), of those by their size
///                       relative to the present value, the smallest first, those of kind `choice` last: kind, remedy,
///                       name, unit, from, to, relative, set (arguments for --set), short_of (95 % of the change, which
///                       was tried and does not do; null where the change is the least looked at, which is the
///                       tolerance of such parts: then within_tolerance is true) and when it browns out with that,
///                       brownouts_in_span and breaks (with the change over the whole span: what is damaged that was
///                       not, which requirements fail that were held; both null where that replay could not be
///                       completed). Of a choice from and to are texts, unit is empty, relative and short_of are null:
///                       no part of it can be tried. with_margin, where a margin was asked for: to, relative, set,
///                       whether it avoids the brown-out, brownouts_in_span, breaks; null where it cannot be had
///   no_cure             what helps as well, but breaks something else, or is of a datasheet and within the tolerance
///   no_help             the others: kind, name, unit, from, the furthest value that was tried, and when the brown-out
///                       came with it (null where that replay could not be completed); a quantity of which the reader
///                       lets no other value pass is left out
///   not_searched        only where it was cut short: names of what was not looked into to the end. A change of one of
///                       them carries `cut_short`: it helps, and whether less of it does was not looked into
/// and engine: jobs, replays, wall_s; margin, a share, where one was asked for. `cut_short` (sim/stop.hpp) stands only
/// in a result that was: by the limit of processor time of this process and its workers, or by a Stopped that is
/// thrown. `scenario` has the span of the weather. Throws SimulationError; InputError about the option --brownout where
/// there is no such brown-out.
nlohmann::ordered_json why(const Scenario&, const Weather&, const WhyOptions&);

}  // namespace overwinter
