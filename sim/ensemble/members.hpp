// The members of an ensemble: one scenario under several weathers.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/netlist/scenario.hpp"

namespace overwinter {

/// What is varied. An empty list leaves it as the scenario has it; of several, every combination is a member.
struct Axes {
  std::vector<std::string> weather;  ///< weather files
  std::vector<int> seeds;            ///< of synthetic weather
  std::vector<int> years;            ///< in which the span begins
};

struct Member {
  std::string name;  ///< "seed-7", "2009", "station", "station-2009"; may name a file, no two are alike
  std::optional<std::string> weather;
  std::optional<int> seed, year;
};

/// The members in canonical order: by weather, then seed, then year, each as given. One without a name where nothing
/// is varied. Throws InputError about the options --weather, --seeds and --years: seeds where the weather is not
/// synthetic, years where the weather is the same every year or the moved span leaves the calendar, a file given twice.
std::vector<Member> members_of(const Scenario&, const Axes&);

/// A word as a shell reads it back, quoted only where it must be.
std::string in_shell(const std::string& word);

/// The options that make a run of this member alone: " --seeds 7 --years 2009".
std::string options_of(const Member&);

}  // namespace overwinter
