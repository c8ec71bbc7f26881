// Quantities as people write them: "3 Ah", "-10 degC", "0.4 %/K", "0 5 10 20 %".
//
// UDUNITS-2 knows the units; dimensions are compared here, with the radian as a base unit, because UDUNITS would take
// ohm for siemens, s for Hz and deg for %. A value's text is a number, then its unit. A bare 0 needs no unit except
// for a temperature on a scale. A ratio may be written bare or in any dimensionless unit: 0.8 and "80 %" are the same.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "models/table.hpp"

namespace overwinter {

/// Why a text is not acceptable, and which of its bytes are meant.
struct TextFault {
  std::string message;     ///< one sentence without a full stop
  std::string suggestion;  ///< may be empty
  std::size_t offset = 0;
  std::size_t length = 0;
};

/// The value in SI of a text for the field `key`, given in any unit with the dimension of `unit`. None, and the reason
/// in `why`, for a missing, unknown or unfit unit, NaN, infinity, a leading zero or a decimal comma.
std::optional<double> parse_quantity(const std::string& key, const std::string& text, const Unit& unit, TextFault& why);

/// A whole number without a unit.
std::optional<int> parse_count(const std::string& key, const std::string& text, TextFault& why);

/// Numbers in one unit.
struct Row {
  std::vector<double> si;
  std::vector<std::size_t> offset, length;  ///< of each number in the text
};

/// Blank-separated numbers followed by one unit.
std::optional<Row> parse_row(const std::string& key, const std::string& text, const Unit& unit, TextFault& why);

/// The number that stands for `si` in the field's own unit. Throws std::logic_error for a unit text that is unknown or
/// does not have the dimension that the Unit states (a fault of the model's table).
double in_unit(double si, const Unit& unit);

/// Number and unit with up to six significant digits, such as "65 deg", "-10 degC", "0.2".
std::string quantity_text(double si, const Unit& unit);

/// As quantity_text(), but where the unit would make the number odd, in a larger or smaller one of the same kind in
/// which three digits say it: "1 s" rather than "0.0166667 min", "20 A" rather than "20000 mA".
std::string fitting_text(double si, const Unit& unit);

/// A duration as results print it, in three significant digits: s below 1 min, min below 1 h, h below 48 h, then d.
std::string duration_text(double seconds);

bool is_duration(const Unit&);

/// The number alone, as in quantity_text().
std::string number_text(double si, const Unit& unit);

/// How numbers in text are written: a regular expression (ECMA 262, without anchors) for the JSON Schema.
extern const char* const number_pattern;

}  // namespace overwinter
