// What kinds of change `why` looks for, who can make them, and how small they may be.
#pragma once

#include <string>
#include <vector>

namespace overwinter {

/// Who can make a change, in the order in which changes are told: a person with other parts; whoever writes the
/// firmware; nobody but a maker, for it is another datasheet.
enum class Remedy { built, firmware, datasheet };
std::string name_of(Remedy);
const std::vector<Remedy>& remedies();

struct KnobKind {
  std::string name;
  Remedy remedy = Remedy::built;
  /// Share of the quantity by which parts of one datasheet differ: a smaller change is none that one could make.
  double tolerance = 0;
  std::string of_what, source;
};

/// All of them but the kind `choice`, whose remedy is the part's own matter.
const std::vector<KnobKind>& knob_kinds();
/// Throws std::logic_error for a kind that is not there.
const KnobKind& knob_kind(const std::string& name);

/// What `explain cures` says of them.
std::string cures_text();

}  // namespace overwinter
