#include "sim/revive/trial.hpp"

#include <algorithm>
#include <cmath>

#include "models/storage/cell.hpp"
#include "sim/netlist/requirements.hpp"
#include "sim/replay/summary.hpp"
#include "sim/revive/attempts.hpp"

namespace overwinter {
namespace {

constexpr double loose = 1e-5;                           // local error of the integration: verdicts, no energies
constexpr double many_starts = 1000;                     // on a day
constexpr Tick while_it_stands = 60 * ticks_per_second;  // class assumption: what changes within it was none of its own

SimulatorOptions options() {
  SimulatorOptions o;
  o.tolerance = loose;
  return o;
}

CivilDate day_of(const Weather& weather, Tick t) {
  const auto offset = static_cast<Tick>(std::llround(weather.site().utc_offset.si())) * ticks_per_second;
  return civil_date((t + offset) / ticks_per_day);
}

double charge_of(const Diagram& diagram, const Context& c) {
  const DiagramPart& cell = diagram.parts()[cell_of(diagram)];
  return c.state[cell.state] / static_cast<const Cell&>(*cell.model).parameters().capacity.si();
}

/// All days are the same: a loop of so many starts that gained nothing in one day is taken to gain nothing in the
/// next, which would take seconds to simulate (class assumption; DEVELOPERS.md has what it was held against).
bool goes_on_for_ever(const Attempts& attempts, double starts, double gain) {
  return attempts.completed().empty() && starts >= many_starts && gain < notable_gain;
}

void run(const TrialSetting& setting, const DeadState& state, TrialResult& result) {
  const Diagram& diagram = *setting.diagram;
  const Weather& weather = (*setting.dawns)[state.front()].weather;
  Attempts attempts(diagram);
  Simulator simulator(diagram, weather, options(), &attempts);
  LastDay last;
  Context c = last.begin = last.noon = last.end =
      simulator.start(setting.states->arranged(state, pending_alarm(weather)));
  attempts.begin(c);
  Tick end = std::min(weather.end(), weather.begin() + setting.days * ticks_per_day);
  bool first_seen = false;
  double starts_before = 0;
  for (Tick midnight = weather.begin(); midnight < end; midnight += ticks_per_day) {
    last.begin = c;
    starts_before = attempts.starts();
    const Daylight sun = daylight_on(weather.site(), day_of(weather, midnight));
    for (const Tick until : {sun.none() ? midnight + ticks_per_day / 2 : sun.noon(), midnight + ticks_per_day}) {
      while (c.now < until && attempts.completed().size() < setting.wakes) simulator.advance_segment(c, until);
      if (until < midnight + ticks_per_day) last.noon = c;
    }
    if (attempts.completed().size() >= setting.wakes) break;
    if (goes_on_for_ever(attempts, attempts.starts() - starts_before,
                         charge_of(diagram, c) - charge_of(diagram, last.begin))) {
      break;
    }
    if (attempts.completed().empty() || first_seen) continue;
    first_seen = true;
    end = std::min(weather.end(), std::max(end, midnight + (1 + setting.days_after) * ticks_per_day));
  }
  last.end = c;
  last.starts = attempts.starts() - starts_before;
  result.wakes = attempts.completed();
  result.attempts = attempts.in_vain();
  result.energy = attempts.energy(c);
  result.charge_at_end = charge_of(diagram, c);
  if (result.wakes.size() >= setting.wakes) {
    result.fate = Fate::back;
    return;
  }
  const Diagnosis d = diagnose(diagram, simulator, last);
  result.block = d.block;
  result.text = d.text;
  result.fate = block_of(d.block).trap ? Fate::trap : Fate::undecided;
}

}  // namespace

std::size_t wakes_to_be_sure(const Diagram& diagram) {
  const auto has_alarm = [](const DiagramPart& p) { return has_event(*p.table, EventRole::alarm_due); };
  return std::any_of(diagram.parts().begin(), diagram.parts().end(), has_alarm) ? 2 : 1;
}

Tick pending_alarm(const Weather& weather) { return weather.begin() + ticks_per_day / 2; }

std::optional<DeadState> becomes(const TrialSetting& setting, const DeadState& state) {
  const Weather& weather = (*setting.dawns)[state.front()].weather;
  Attempts attempts(*setting.diagram);
  Simulator simulator(*setting.diagram, weather, options(), &attempts);
  DeadState other = state;
  try {
    Context c = simulator.start(setting.states->arranged(state, pending_alarm(weather)));
    attempts.begin(c);
    while (c.now < weather.begin() + while_it_stands && attempts.starts() == 0) {
      simulator.advance_segment(c, weather.begin() + while_it_stands);
    }
    const Stand stand = setting.states->stand(state, c, simulator.at(c));
    const bool started = attempts.starts() > 0;
    for (std::size_t d = 0; d < state.size(); ++d) {
      if (started && setting.states->is_of_controller(d)) {
        other[d] = 0;
      } else if (stand[d]) {
        other[d] = *stand[d];
      }
    }
  } catch (const SimulationError&) {  // told where it is put through the dawn
    return std::nullopt;
  }
  return other == state ? std::nullopt : std::optional(other);
}

TrialResult revive_once(const TrialSetting& setting, const DeadState& state) {
  TrialResult result;
  try {
    run(setting, state, result);
  } catch (const SimulationError& e) {
    result = {};
    result.text = e.what();
  }
  return result;
}

}  // namespace overwinter
