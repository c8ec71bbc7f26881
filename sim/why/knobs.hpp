// What a designer could change about a scenario to avoid a brown-out: one quantity at a time, and how far.
//
//   capacity     of the cell, up to 10 times, its resistance and its share of charge as they are
//   panel        rated power of each panel, and of all of them together, up to 10 times: cells in parallel
//   resistance   of resistors that are wires (feeds.hpp) and shunts, down to 1 %
//   inner resistance   of protectors, down to 1 %; the cell's series resistance and RC pairs together, down to 10 %
//   capacitor    up to 100 times and down to 1 %: behind a switch that closes at once, less is more
//   threshold    of converters and controllers down to half, of protectors down to 2.0 V, as low as one-cell protectors
//                are offered (common practice); below its datasheet's limit a cell is damaged
//   phase        what it draws and how long it takes, down to 1 %
//   load         likewise; a resistance up to 100 times
//   policy       the interval of the row in force, up to 7 days or 10 times, but so that an alarm is due before the
//                time until which the brown-out is to be avoided: sleeping past that is no cure; the voltage below
//                which it holds, up to that of the next row or the cell's highest
//   choice       every other value of a flag or choice of a part's table, but where that says how the part is computed,
//                and but that a brown-out detector is never switched off: that hides a brown-out and mends none.
//                The outputs of a phase are left alone: one that stays low is work left undone
// The factors are class assumptions: far enough to tell what does not help. A phase that stands in a part class cannot
// be overridden by itself: then the whole list is set.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "sim/netlist/scenario.hpp"
#include "sim/service/story.hpp"
#include "sim/why/knob_kinds.hpp"

namespace overwinter {

struct Knob {
  std::string kind;  ///< of knob_kinds(), or "choice"
  std::string name;  ///< its path where it is one value, otherwise what it stands for
  std::string unit;
  double now = 0, bound = 0;  ///< in that unit
  double step = 0;            ///< to whole multiples of which values are rounded; 0 for none
  struct Choice {
    std::string now, instead;
    Remedy remedy;
  };
  std::optional<Choice> choice;  ///< in place of unit and numbers: nothing lies between its two values
  /// What makes it so; the value of a choice does not count.
  std::function<std::vector<Override>(double value)> set;

  Remedy remedy() const { return choice ? choice->remedy : knob_kind(kind).remedy; }
};

/// In the order of the kinds above. `moment` of the brown-out tells the row in force; null: the policy's first wake.
/// `window`: seconds from the brown-out to the time until which it is to be avoided; none: no bound.
std::vector<Knob> knobs_of(const Scenario&, const Snapshot* moment, std::optional<double> window = std::nullopt);

/// The value of a change to `found` that is made larger by this share of it: to four digits, or up to a whole step.
double with_margin(const Knob&, double found, double margin);

/// These overrides, with `more` in the place of those of the same path or behind them.
std::vector<Override> merged(std::vector<Override>, const std::vector<Override>& more);

}  // namespace overwinter
