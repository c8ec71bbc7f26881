// A run held against what the scenario requires.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/netlist/scenario.hpp"
#include "sim/service/damage.hpp"
#include "sim/service/margins.hpp"
#include "sim/service/service.hpp"

namespace overwinter {

enum class Held { yes, no, undecided };

struct RequirementResult {
  const Requirement* requirement = nullptr;
  std::optional<double> value;  ///< SI; none where the span does not tell
  Held held = Held::undecided;
  std::string value_text, limit_text;  ///< as people read them, in one unit; no value_text without a value
};

struct Verdict {
  std::vector<RequirementResult> results;
  Held survives = Held::undecided;
  std::string text;  ///< one sentence
};

/// Of a run that ended before its span.
struct CutShort {
  Tick at = 0;
  Tick span = 0;  ///< the whole one
};

/// What a run yields that can be required.
struct Achieved {
  const ServiceRecord* service = nullptr;  ///< null where nothing wakes: then only what needs no wakes may be required
  Tick span = 0;                           ///< that was simulated
  double lowest_charge = 0;                ///< of the cell, 0...1
  const ThinnestMargin* thinnest_margin = nullptr;  ///< none in force
  std::vector<Damage> damages = {};
  std::optional<CutShort> cut_short = {};
};

/// An instrument whose alarm never came due cannot survive: it fails or is undecided. So does a longest_gap where no
/// wake was completed, for a gap that covers the whole span tells only how short it cannot be. A threshold that was
/// crossed fails any thinnest_margin, also one of 0 V. Of a run that was cut short nothing has held, and only what
/// nothing that follows could mend has failed. Throws std::logic_error for a requirement that the reader let
/// pass without a meaning here.
Verdict judge(const std::vector<Requirement>&, const Achieved&);

}  // namespace overwinter
