#include "sim/revive/trial.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <deque>

#include "models/storage/cell.hpp"
#include "sim/engine/watchers.hpp"
#include "sim/netlist/requirements.hpp"
#include "sim/replay/extremes.hpp"
#include "sim/replay/summary.hpp"
#include "sim/revive/attempts.hpp"

namespace overwinter {
namespace {

constexpr double many_failures = 1000;  // in a day
constexpr Tick hour = 3600 * ticks_per_second;
constexpr Tick while_it_stands = 60 * ticks_per_second;  // class assumption: what changes within it was none of its own

CivilDate day_of(const Weather& weather, Tick t) {
  const auto offset = static_cast<Tick>(std::llround(weather.site().utc_offset.si())) * ticks_per_second;
  return civil_date((t + offset) / ticks_per_day);
}

double charge_of(const Diagram& diagram, const Context& c) {
  const DiagramPart& cell = diagram.parts()[cell_of(diagram)];
  return c.state[cell.state] / static_cast<const Cell&>(*cell.model).parameters().capacity.si();
}

/// How a trial stood at an hour.
struct Hour {
  Context context;
  double charge, starts, failures;
};

/// All days are the same: a loop that failed so many times and gained nothing in 24 hours, from whatever hour on, is
/// taken to gain nothing in the next ones, which would take seconds to simulate (class assumption; DEVELOPERS.md has
/// what it was held against).
/// Where the cell would be below empty by the trial's end, that is simulated.
bool goes_on_for_ever(const Hour& a_day_ago, const Hour& now, Tick end) {
  const double gained = now.charge - a_day_ago.charge;
  const double days_left = static_cast<double>(end - now.context.now) / ticks_per_day;
  return now.failures - a_day_ago.failures >= many_failures && gained < notable_gain &&
         now.charge + days_left * gained > 0;
}

void run(const TrialSetting& setting, const DeadState& state, TrialResult& result) {
  const Diagram& diagram = *setting.diagram;
  const Weather& weather = (*setting.dawns)[state.front()].weather;
  Attempts attempts(diagram);
  ExtremesLog extremes(diagram);
  const Extremes& cell = extremes.watch(cell_of(diagram), "state_of_charge").extremes;
  Watchers watchers({&attempts, &extremes});
  Simulator simulator(diagram, weather, simulator_options(setting.engine), &watchers);
  Context c = simulator.start(setting.states->arranged(state, pending_alarm(weather)));
  attempts.begin(c);
  const auto stands = [&] { return Hour{c, charge_of(diagram, c), attempts.starts(), attempts.failures()}; };
  const auto is_empty = [&] { return cell.low < 0; };
  const auto is_decided = [&] { return attempts.completed().size() >= setting.wakes || is_empty(); };
  const auto to = [&](Tick until) {
    while (c.now < until && !is_decided()) simulator.advance_segment(c, until);
  };
  std::deque<Hour> hours{stands()};  // of the last day
  Context noon = c;
  Tick end = std::min(weather.end(), weather.begin() + setting.days * ticks_per_day);
  bool first_seen = false, for_ever = false;
  for (Tick midnight = weather.begin(); midnight < end && !is_decided() && !for_ever; midnight += ticks_per_day) {
    const Daylight sun = daylight_on(weather.site(), day_of(weather, midnight));
    const Tick noon_of_it = sun.none() ? midnight + ticks_per_day / 2 : sun.noon();
    for (Tick next = midnight + hour; next <= midnight + ticks_per_day && !is_decided() && !for_ever; next += hour) {
      if (next - hour < noon_of_it && noon_of_it <= next) {
        to(noon_of_it);
        noon = c;
      }
      to(next);
      hours.push_back(stands());
      if (hours.size() > 25) hours.pop_front();
      for_ever =
          hours.size() == 25 && attempts.completed().empty() && goes_on_for_ever(hours.front(), hours.back(), end);
    }
    if (attempts.completed().empty() || first_seen) continue;
    first_seen = true;
    end = std::min(weather.end(), std::max(end, midnight + (1 + setting.days_after) * ticks_per_day));
  }
  result.wakes = attempts.completed();
  result.attempts = attempts.in_vain();
  result.energy = attempts.energy(c);
  result.charge_at_end = charge_of(diagram, c);
  if (is_empty()) {
    result.fate = Fate::replace_cell;
    result.block = replace_cell;
    result.text =
        fmt::format("{} was below empty at {}", diagram.parts()[cell_of(diagram)].name, iso_time(cell.low_at));
    return;
  }
  if (is_decided()) {
    result.fate = Fate::back;
    return;
  }
  const LastDay last{hours.front().context, noon, c, hours.back().starts - hours.front().starts};
  const Diagnosis d = diagnose(diagram, simulator, last);
  result.block = d.block;
  result.text = d.text;
  result.fate = block_of(d.block).fate;
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
  Simulator simulator(*setting.diagram, weather, simulator_options(setting.engine), &attempts);
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
