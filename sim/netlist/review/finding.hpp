// A finding of the design review: what can be simulated and is hardly meant, or will hardly do.
#pragma once

#include <cmath>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "sim/netlist/units_text.hpp"

namespace overwinter {

struct DesignFinding {
  std::string rule;                ///< kebab-case, for scripts
  std::vector<std::string> parts;  ///< the place: names of parts, "policy" among them where it is meant
  std::string text;                ///< one sentence without a full stop, its arithmetic in numbers
  std::string suggestion;          ///< behind "try: "
};

/// As terminal and report print it.
inline std::string sentence(const DesignFinding& f) {
  return f.suggestion.empty() ? f.text : f.text + "; try: " + f.suggestion;
}

inline void to_json(nlohmann::ordered_json& j, const DesignFinding& f) {
  j = {{"rule", f.rule}, {"parts", f.parts}, {"text", f.text}, {"try", f.suggestion}};
}

/// A computed quantity in two significant digits, in a unit of fitting size.
template <class Q>
std::string about(Q quantity, const std::string& unit) {
  const double si = quantity.si();
  if (si == 0) return fitting_text(0, unit_of<Q>(unit));
  const double step = std::pow(10.0, std::floor(std::log10(std::abs(si))) - 1);
  return fitting_text(std::round(si / step) * step, unit_of<Q>(unit));
}

inline std::string volts(Voltage v) { return quantity_text(v.si(), unit_of<Voltage>("V")); }

}  // namespace overwinter
