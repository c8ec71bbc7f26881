#include "sim/number_text.hpp"

#include <fmt/format.h>

#include <cmath>
#include <map>

#include "sim/netlist/units_text.hpp"

namespace overwinter {

std::string fixed_text(double value, int decimals) {
  const std::string text = fmt::format("{:.{}f}", value, decimals);
  return text.find_first_not_of("-0.") == std::string::npos && text.front() == '-' ? text.substr(1) : text;
}

std::string percent_text(double share, int decimals) { return fixed_text(share * 100, decimals) + " %"; }

std::string energy_text(double joules) {
  const double size = std::abs(joules);
  if (size < 0.05e-6) return "0 J";
  if (size >= 999.5e3) return fixed_text(joules / 1e6, 2) + " MJ";
  if (size >= 999.5) return fixed_text(joules / 1e3, 2) + " kJ";
  if (size >= 0.9995) return fixed_text(joules, 1) + " J";
  if (size >= 0.9995e-3) return fixed_text(joules * 1e3, 1) + " mJ";
  return fixed_text(joules * 1e6, 1) + " uJ";
}

std::string millivolts_text(double volts) { return fixed_text(volts * 1e3, 0) + " mV"; }

std::string residual_text(double share) { return share == 0 ? "0" : fmt::format("{:.1e}", share); }

std::string duration_text_like(double seconds, double like, int digits) {
  static const std::map<std::string, double> sizes = {{"s", 1}, {"min", 60}, {"h", 3600}, {"d", 86400}};
  const std::string known = duration_text(like), unit = known.substr(known.find(' ') + 1);
  const double number = seconds / sizes.at(unit);
  const bool whole = digits == 3 && std::abs(number) >= 99.95;  // else three digits would turn into an exponent
  return (whole ? fixed_text(number, 0) : fmt::format("{:.{}g}", number, digits)) + " " + unit;
}

}  // namespace overwinter
