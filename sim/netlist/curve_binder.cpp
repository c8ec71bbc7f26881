#include "sim/netlist/curve_binder.hpp"

#include <algorithm>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include "sim/netlist/field_text.hpp"
#include "sim/netlist/units_text.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

std::string form(const Axis& axis) {
  return axis.key + ": NUMBERS" + (axis.unit.text == "1" ? "" : " " + axis.unit.text);
}
std::string form(const Field& field) { return field.key + ": " + written_form(field); }

/// Checks that the value is a mapping with exactly the axes of the field.
bool check_axes(const Field& field, const Document& d, const Node::Entry& entry, Faults& faults) {
  const Node& value = entry.value;
  if (value.is_refused()) return false;
  if (!value.is_mapping()) {
    faults.add(d.fault(value,
                       field.key + " is a " + name_of(field.kind) + " and needs its axes, not " + described(value),
                       form(field)));
    return false;
  }
  std::vector<std::string> known;
  for (const Axis& axis : field.axes) known.push_back(axis.key);
  bool good = true;
  std::string stranger;
  for (const Node::Entry& axis : value.entries) {
    if (std::find(known.begin(), known.end(), axis.key.text) != known.end()) continue;
    stranger = nearest(axis.key.text, known);
    faults.add(d.fault(axis.key, field.key + " has no axis " + in_quotes(axis.key.text),
                       stranger.empty() ? form(field) : stranger));
    good = false;
  }
  for (const std::string& key : known) {
    if (value.find(key)) continue;
    if (!value.incomplete && key != stranger) {
      faults.add(d.fault(entry.key, field.key + " lacks its axis " + key, form(field)));
    }
    good = false;
  }
  return good && !value.incomplete;
}

std::optional<std::vector<double>> read_row(const Axis& axis, const Document& d, const Node& value, Faults& faults) {
  if (value.is_refused()) return std::nullopt;
  if (!value.is_scalar()) {
    std::string joined;
    for (const Node& item : value.items) joined += item.text.substr(0, item.text.find(' ')) + " ";
    const bool list = value.is_sequence() && !value.items.empty();
    faults.add(d.fault(value, axis.key + " is one text of numbers with one unit behind them, not " + described(value),
                       list ? axis.key + ": " + joined + (axis.unit.text == "1" ? "" : axis.unit.text) : form(axis)));
    return std::nullopt;
  }
  TextFault why;
  std::optional<Row> row = parse_row(axis.key, value.text, axis.unit, why);
  if (!row) {
    faults.add(
        d.fault(value, why.offset, why.length, why.message, why.suggestion.empty() ? form(axis) : why.suggestion));
    return std::nullopt;
  }
  bool good = true;
  for (std::size_t i = 0; i < row->si.size(); ++i) {
    const std::string fault = range_fault(axis.key, row->si[i], axis.minimum, axis.maximum, axis.unit);
    if (fault.empty()) continue;
    const std::string number = value.text.substr(row->offset[i], row->length[i]);
    faults.add(
        d.fault(value, row->offset[i], row->length[i], in_quotes(number) + " is out of range: " + fault, form(axis)));
    good = false;
  }
  if (!good) return std::nullopt;
  return std::move(row->si);
}

/// A row whose numbers rise strictly.
std::optional<std::vector<double>> read_argument(const Axis& axis, const Document& d, const Node& value,
                                                 Faults& faults) {
  std::optional<std::vector<double>> si = read_row(axis, d, value, faults);
  if (!si) return std::nullopt;
  for (std::size_t i = 1; i < si->size(); ++i) {
    if ((*si)[i] > (*si)[i - 1]) continue;
    TextFault unused;
    const std::optional<Row> row = parse_row(axis.key, value.text, axis.unit, unused);
    const auto number = [&](std::size_t k) { return value.text.substr(row->offset[k], row->length[k]); };
    faults.add(d.fault(value, row->offset[i], row->length[i],
                       axis.key + " must rise from number to number, but " + number(i) + " follows " + number(i - 1),
                       "sort the points by " + axis.key));
    return std::nullopt;
  }
  return si;
}

std::string counted(std::size_t count, const std::string& what) {
  return std::to_string(count) + " " + what + (count == 1 ? "" : "s");
}

}  // namespace

std::optional<Curve> read_curve(const Field& field, const Document& d, const Node::Entry& entry, Faults& faults) {
  if (!check_axes(field, d, entry, faults)) return std::nullopt;
  const Axis &argument = field.axes[0], &result = field.axes[1];
  const Node::Entry &at = *entry.value.find(argument.key), &of = *entry.value.find(result.key);
  auto x = read_argument(argument, d, at.value, faults);
  auto y = read_row(result, d, of.value, faults);
  if (!x || !y) return std::nullopt;
  if (x->size() != y->size()) {
    Fault fault = d.fault(
        of.value,
        result.key + " has " + counted(y->size(), "number") + ", " + argument.key + " has " + std::to_string(x->size()),
        "give both the same number of points");
    fault.others.push_back(d.other(at.value, argument.key + " stands here"));
    faults.add(std::move(fault));
    return std::nullopt;
  }
  return Curve(*std::move(x), *std::move(y), field.interpolation, field.outside);
}

std::optional<Map> read_map(const Field& field, const Document& d, const Node::Entry& entry, Faults& faults) {
  if (!check_axes(field, d, entry, faults)) return std::nullopt;
  const Node& first = entry.value.find(field.axes[0].key)->value;
  const Node& second = entry.value.find(field.axes[1].key)->value;
  const Node& rows = entry.value.find(field.axes[2].key)->value;
  auto x = read_argument(field.axes[0], d, first, faults);
  auto y = read_argument(field.axes[1], d, second, faults);
  if (rows.is_refused()) return std::nullopt;
  if (!rows.is_sequence()) {
    faults.add(d.fault(
        rows,
        field.axes[2].key + " needs a list with one row for each " + field.axes[0].key + ", not " + described(rows),
        form(field)));
    return std::nullopt;
  }
  std::vector<std::vector<double>> z;
  for (const Node& item : rows.items) {
    auto row = read_row(field.axes[2], d, item, faults);
    if (!row) continue;
    if (y && row->size() != y->size()) {
      Fault fault = d.fault(item,
                            "this row has " + counted(row->size(), "number") + ", " + field.axes[1].key + " has " +
                                std::to_string(y->size()),
                            "give each row one number for each " + field.axes[1].key);
      fault.others.push_back(d.other(second, field.axes[1].key + " stands here"));
      faults.add(std::move(fault));
      continue;
    }
    z.push_back(*std::move(row));
  }
  if (!x || !y || z.size() != rows.items.size()) return std::nullopt;
  if (z.size() != x->size()) {
    Fault fault = d.fault(rows,
                          field.axes[2].key + " has " + counted(z.size(), "row") + ", " + field.axes[0].key + " has " +
                              counted(x->size(), "number"),
                          "give one row for each " + field.axes[0].key);
    fault.others.push_back(d.other(first, field.axes[0].key + " stands here"));
    faults.add(std::move(fault));
    return std::nullopt;
  }
  return Map(*std::move(x), *std::move(y), std::move(z));
}

}  // namespace overwinter
