// One dead state put through one dawn.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/engine/engine_options.hpp"
#include "sim/revive/dawn.hpp"
#include "sim/revive/dead_states.hpp"
#include "sim/revive/diagnosis.hpp"

namespace overwinter {

/// What is the same for all of them.
struct TrialSetting {
  const Diagram* diagram = nullptr;
  const DeadStates* states = nullptr;
  const std::vector<DawnProfile>* dawns = nullptr;
  int days = 3;           ///< in which the first wake must be completed
  int days_after = 1;     ///< in which the second one must be, after the day of the first
  std::size_t wakes = 2;  ///< that make it come back
  EngineOptions engine;
};

/// The wakes that must be completed: two, or one where no alarm could ask for a second.
std::size_t wakes_to_be_sure(const Diagram&);

/// The state that it has become within a minute, or when the controller starts if that is earlier; none where it
/// stands. How a controller that starts was found does not matter: then its dimensions have their first values.
std::optional<DeadState> becomes(const TrialSetting&, const DeadState&);

struct TrialResult {
  Fate fate = Fate::not_completed;
  std::vector<Tick> wakes;   ///< completed ones
  double attempts = 0;       ///< starts in vain; about, where a loop was stepped over
  double energy = 0;         ///< J, of the controller and its loads before the first completed wake
  double charge_at_end = 0;  ///< of the cell, 0...1
  std::string block;         ///< of blocks(); empty where it is back
  std::string text;          ///< its numbers, or why it could not be completed
};

/// Until so many wakes are completed, the cell is below empty, or the days are over. An engine that gives up is a
/// result too.
TrialResult revive_once(const TrialSetting&, const DeadState&);

/// When the alarm of a state that has one pending comes due: noon of the first day, standard time.
Tick pending_alarm(const Weather&);

}  // namespace overwinter
