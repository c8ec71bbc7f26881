#include "sim/netlist/field_text.hpp"

#include <algorithm>
#include <cctype>
#include <cmath>
#include <vector>

#include "sim/netlist/units_text.hpp"

namespace overwinter {
namespace {

constexpr double rounding = 1e-12;  // relative; text and limit may have taken different roads to the same SI number

void snap(double& si, const std::optional<Limit>& limit) {
  if (limit && std::abs(si - limit->value) <= rounding * std::abs(limit->value)) si = limit->value;
}

std::string with_unit(const std::string& numbers, const Unit& unit) {
  return unit.text == "1" ? numbers : numbers + " " + unit.text;
}

std::string row_text(const std::vector<double>& si, const Unit& unit) {
  std::string numbers;
  for (const double value : si) numbers += (numbers.empty() ? "" : " ") + number_text(value, unit);
  return with_unit(numbers, unit);
}

std::string curve_text(const Field& field, const Curve* curve) {
  if (!curve || curve->empty()) return {};
  return "{" + field.axes[0].key + ": " + row_text(curve->x(), field.axes[0].unit) + ", " + field.axes[1].key + ": " +
         row_text(curve->y(), field.axes[1].unit) + "}";
}

std::string map_text(const Field& field, const Map* map) {
  if (!map || map->empty()) return {};
  std::string rows;
  for (const auto& row : map->z()) rows += (rows.empty() ? "" : ", ") + row_text(row, field.axes[2].unit);
  return "{" + field.axes[0].key + ": " + row_text(map->x(), field.axes[0].unit) + ", " + field.axes[1].key + ": " +
         row_text(map->y(), field.axes[1].unit) + ", " + field.axes[2].key + ": [" + rows + "]}";
}

/// In quotes where a plain text would end early or be read as something else.
std::string plain_or_quoted(const std::string& text) {
  const auto plain = [](char c) {
    return std::isalnum(static_cast<unsigned char>(c)) || c == '-' || c == '_' || c == ' ';
  };
  const bool word = text == "true" || text == "false" || text == "null";
  if (!text.empty() && text[0] != '-' && !word && std::all_of(text.begin(), text.end(), plain)) return text;
  std::string quoted = "'";
  for (const char c : text) quoted += c == '\'' ? "''" : std::string(1, c);
  return quoted + "'";
}

std::string rows_text(const Field& field, const void* parameters) {
  std::string rows;
  for (const void* row : field.get_rows(parameters)) {
    std::string columns;
    for (const Field& column : field.columns) {
      const std::string value = value_text(column, row);
      if (!value.empty()) columns += (columns.empty() ? "" : ", ") + column.key + ": " + value;
    }
    rows += (rows.empty() ? "{" : ", {") + columns + "}";
  }
  return rows.empty() ? "" : "[" + rows + "]";
}

/// The required columns, and others while there are few.
std::string rows_form(const Field& field) {
  constexpr std::size_t few = 4;
  std::string columns;
  for (std::size_t i = 0; i < field.columns.size(); ++i) {
    const Field& column = field.columns[i];
    if (!column.required && i >= few) continue;
    columns += (columns.empty() ? "" : ", ") + column.key + ": " + written_form(column);
  }
  return "[{" + columns + "}, ...]";
}

}  // namespace

std::string range_text(const std::optional<Limit>& minimum, const std::optional<Limit>& maximum, const Unit& unit) {
  const auto text = [&](const Limit& limit) { return fitting_text(limit.value, unit); };
  if (minimum && maximum && !minimum->open && !maximum->open) return "from " + text(*minimum) + " to " + text(*maximum);
  std::string result;
  if (minimum) result = (minimum->open ? "above " : "at least ") + text(*minimum);
  if (minimum && maximum) result += " and ";
  if (maximum) result += (maximum->open ? "below " : "at most ") + text(*maximum);
  return result;
}

std::string range_fault(const std::string& key, double& si, const std::optional<Limit>& minimum,
                        const std::optional<Limit>& maximum, const Unit& unit) {
  snap(si, minimum);
  snap(si, maximum);
  const bool low = minimum && (minimum->open ? si <= minimum->value : si < minimum->value);
  const bool high = maximum && (maximum->open ? si >= maximum->value : si > maximum->value);
  return low || high ? key + " must be " + range_text(minimum, maximum, unit) : "";
}

std::string value_text(const Field& field, const void* parameters) {
  if (field.kind == FieldKind::curve) return curve_text(field, field.get_curve(parameters));
  if (field.kind == FieldKind::map) return map_text(field, field.get_map(parameters));
  if (field.kind == FieldKind::rows) return rows_text(field, parameters);
  if (field.kind == FieldKind::text) {
    const std::string& text = *field.get_text(parameters);
    return text.empty() ? "" : plain_or_quoted(text);
  }
  const std::optional<double> value = field.get_number(parameters);
  if (!value) return {};
  switch (field.kind) {
    case FieldKind::choice:
      return field.choices.at(static_cast<std::size_t>(*value));
    case FieldKind::flag:
      return *value != 0 ? "true" : "false";
    default:
      return fitting_text(*value, field.unit);
  }
}

std::string written_form(const Field& field) {
  switch (field.kind) {
    case FieldKind::scalar:
      return with_unit("NUMBER", field.unit);
    case FieldKind::count:
      return "WHOLE NUMBER";
    case FieldKind::flag:
      return "true or false";
    case FieldKind::choice: {
      std::string all;
      for (const std::string& choice : field.choices) all += (all.empty() ? "" : " or ") + choice;
      return all;
    }
    case FieldKind::text:
      return "TEXT";
    case FieldKind::rows:
      return rows_form(field);
    case FieldKind::curve:
    case FieldKind::map:
      break;
  }
  std::string form = "{";
  for (const Axis& axis : field.axes) {
    const std::string row = with_unit("NUMBERS", axis.unit);
    const bool rows = field.kind == FieldKind::map && &axis == &field.axes.back();
    form += (form.size() > 1 ? ", " : "") + axis.key + ": " + (rows ? "[" + row + ", ...]" : row);
  }
  return form + "}";
}

}  // namespace overwinter
