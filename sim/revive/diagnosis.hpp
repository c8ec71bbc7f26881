// Why an instrument that has not come back has not: the first of these that holds, told from its parts at noon of the
// last day and from what that day brought.
//
//   controller-hung      it hangs on a supply that never falls low enough for a reset
//   switch-stuck         it finished its wake, and its supply has never gone since: nothing starts it anew
//   reset-loop           it starts and browns out again, and the cell gains nothing
//   half-powered         it waits in reset at a supply that never becomes valid, and the cell gains nothing
//   no-alarm             neither flag nor alarm: nothing turns the switch on
//   protector-waits      the protector keeps a cell that has charge cut off until it sees a charger, and sees none
//   charger-cold, charger-hot, charger-complete    the charger refuses most of the light
//   precharge-taken      the charger gives its pre-charge only, and none of it stays in the cell
//   light-refused        the charger refuses most of the light for another reason
//   cut-off              the cell has charge, something is to be switched on, and no supply reaches the controller
//
// Undecided, for it may only be a matter of time or of light: still-charging (the cell gained charge on the last day),
// alarm-to-come, little-light (the charger took most of what there was, and the cell gained none of it).
//
// Before all of them: replace-cell, where the cell was below empty at any time. A lithium cell that has been there may
// have dissolved copper of its anode's foil, which grows into a short circuit when it is charged: it is not to be
// charged again (usual caution, common practice). No light makes that good.
#pragma once

#include <string>
#include <vector>

#include "sim/engine/simulator.hpp"

namespace overwinter {

/// Of the capacity: what a cell gains in a day below this is no way back, for a tenth of it would take a hundred days.
inline constexpr double notable_gain = 1e-3;

/// not_tried: the work was cut short before it.
enum class Fate { back, undecided, trap, replace_cell, not_completed, not_tried };
std::string name_of(Fate);

inline constexpr const char* replace_cell = "replace-cell";

/// What can keep an instrument dead.
struct Block {
  std::string id;                   ///< kebab-case, for scripts
  std::string meaning;              ///< one sentence without a full stop
  std::string rule;                 ///< the design that would not have it; empty where it is undecided
  std::vector<std::string> review;  ///< rules of the design review (sim/netlist/review) that are about it
  Fate fate = Fate::trap;           ///< or undecided, or replace_cell
};
const std::vector<Block>& blocks();
const Block& block_of(const std::string& id);

struct Diagnosis {
  std::string block;
  std::string text;  ///< with its numbers, one sentence without a full stop
};

/// The last day: 24 hours, and the noon among them.
struct LastDay {
  Context begin, noon, end;
  double starts = 0;  ///< of the controller
};

Diagnosis diagnose(const Diagram&, Simulator&, const LastDay&);

}  // namespace overwinter
