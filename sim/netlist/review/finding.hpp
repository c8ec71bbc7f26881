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

/// A computed quantity in two significant digits; `unit` is a unit without prefix that may have one, such as "A".
template <class Q>
std::string about(Q quantity, const std::string& unit) {
  const double number = in_unit(quantity.si(), unit_of<Q>(unit));
  if (number == 0) return "0 " + unit;
  const double step = std::pow(10.0, std::floor(std::log10(std::abs(number))) - 1);
  const double rounded = std::round(number / step) * step, size = std::abs(rounded);
  const char* prefix = size < 0.9999e-4 ? "u" : size < 0.09999 ? "m" : size < 999.9 ? "" : size < 0.9999e6 ? "k" : "M";
  return quantity_text(quantity.si() * rounded / number, unit_of<Q>(prefix + unit));
}

inline std::string volts(Voltage v) { return quantity_text(v.si(), unit_of<Voltage>("V")); }
/// To be set: rounded up to 10 mV.
inline std::string volts_above(Voltage v) { return volts(Voltage{std::ceil(v.si() * 100 - 1e-6) / 100}); }

}  // namespace overwinter
