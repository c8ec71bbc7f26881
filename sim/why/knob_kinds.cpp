#include "sim/why/knob_kinds.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <stdexcept>

namespace overwinter {

std::string name_of(Remedy remedy) {
  switch (remedy) {
    case Remedy::built:
      return "built";
    case Remedy::firmware:
      return "firmware";
    case Remedy::datasheet:
      return "datasheet";
  }
  return {};
}

const std::vector<Remedy>& remedies() {
  static const std::vector<Remedy> all = {Remedy::built, Remedy::firmware, Remedy::datasheet};
  return all;
}

const std::vector<KnobKind>& knob_kinds() {
  static const std::vector<KnobKind> all = {
      {"capacity", Remedy::built, 0.05, "the cell's capacity", "between typical and least in a cell's datasheet"},
      {"panel", Remedy::built, 0.05, "rated power of panels", "what small panels are sorted to"},
      {"resistance", Remedy::built, 0.05, "wires and shunts", "resistors of 5 %, and joints"},
      {"inner resistance", Remedy::datasheet, 0.2, "inside cells and protectors", "typical values, and they age"},
      {"capacitor", Remedy::built, 0.2, "capacitors", "ceramic and electrolytic ones of 20 %"},
      {"threshold", Remedy::datasheet, 0.02, "thresholds of converters, protectors and controllers",
       "50 mV at a protector"},
      {"phase", Remedy::firmware, 0.05, "what phases draw, and how long they take", "typical currents"},
      {"load", Remedy::built, 0.05, "what loads draw", "typical currents"},
      {"policy", Remedy::firmware, 0.01, "rows of the policy", "a divider's error in what it shows of the voltage"}};
  return all;
}

const KnobKind& knob_kind(const std::string& name) {
  const auto found =
      std::find_if(knob_kinds().begin(), knob_kinds().end(), [&](const KnobKind& k) { return k.name == name; });
  if (found == knob_kinds().end()) throw std::logic_error("no kind of change is called " + name);
  return *found;
}

std::string cures_text() {
  std::string text =
      "\n  In this order: what can be built or bought; what firmware can do; what only another part's datasheet would\n"
      "  say. A change is looked for from the tolerance on, for by as much parts of one datasheet differ: smaller\n"
      "  ones of a datasheet's values are no cure, and of the others the tolerance is the least that is proposed.\n"
      "  A change with which a part is damaged that was not, or that fails a requirement that was held, is no cure\n"
      "  either. Nor is it to switch a brown-out detector off, which is not tried. `--margin \"20 %\"` replays each\n"
      "  change a fifth larger as well. The tolerances are common practice.\n\n"
      "  kind              who         tolerance  of\n";
  for (const KnobKind& k : knob_kinds()) {
    text += fmt::format("  {:<16}  {:<10}  {:>7.0f} %  {} ({})\n", k.name, name_of(k.remedy), 100 * k.tolerance,
                        k.of_what, k.source);
  }
  return text +
         "  choice            of the firmware where it sets it, otherwise of the datasheet; no part of it can be "
         "tried\n";
}

}  // namespace overwinter
