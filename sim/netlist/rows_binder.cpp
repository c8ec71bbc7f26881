#include "sim/netlist/rows_binder.hpp"

#include <string>
#include <vector>

#include "sim/netlist/binder.hpp"
#include "sim/netlist/field_text.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

std::string form(const Field& field) { return field.key + ": " + written_form(field); }

bool bind_row(const Field& field, const std::string& owner, const Document& d, const Node& item, void* row,
              Faults& faults) {
  if (item.is_refused()) return false;
  if (!item.is_mapping()) {
    faults.add(d.fault(item, owner + " must be a mapping, not " + described(item), form(field)));
    return false;
  }
  const std::size_t before = faults.size();
  WrittenValues written;
  collect(field.columns, {}, owner, d, item, written, faults);
  const bool good = bind_fields(field.columns, written, row, faults);
  if (item.incomplete) return false;
  const std::vector<const Field*> missing = missing_fields(field.columns, written);
  if (!missing.empty()) {
    std::vector<std::string> keys;
    for (const Field* column : missing) keys.push_back(column->key);
    faults.add(d.fault(item, owner + " lacks " + listed(keys), how_to_write(missing)));
  }
  return good && faults.size() == before;
}

}  // namespace

bool bind_rows(const Field& field, const Document& d, const Node::Entry& entry, void* parameters, Faults& faults) {
  const Node& value = entry.value;
  if (!value.is_sequence()) {
    faults.add(d.fault(value, field.key + " needs a list of rows, not " + described(value), form(field)));
    return false;
  }
  if (value.items.empty()) {
    faults.add(d.fault(value, field.key + " is a list without rows", form(field)));
    return false;
  }
  field.clear_rows(parameters);
  bool good = true;
  for (std::size_t i = 0; i < value.items.size(); ++i) {
    const std::string owner = "row " + std::to_string(i + 1) + " of " + field.key;
    if (!bind_row(field, owner, d, value.items[i], field.add_row(parameters), faults)) good = false;
  }
  return good;
}

}  // namespace overwinter
