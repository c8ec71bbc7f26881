#include "sim/netlist/corners.hpp"

#include <algorithm>
#include <optional>
#include <utility>

#include "sim/netlist/field_text.hpp"
#include "sim/netlist/units_text.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

const std::string nominal = "nominal", low = "low", high = "high";
const std::vector<std::string> names = {nominal, low, high};

bool is_corner(const std::string& name) { return std::find(names.begin(), names.end(), name) != names.end(); }

/// Whether a value is written with corners: a mapping where the parameter needs a number; of a curve, which is a
/// mapping itself, one that names a corner.
bool has_corners(const Field& field, const Node& value) {
  if (!value.is_mapping()) return false;
  if (field.kind == FieldKind::scalar) return true;
  return field.kind == FieldKind::curve &&
         std::any_of(value.entries.begin(), value.entries.end(), [](const auto& e) { return is_corner(e.key.text); });
}

std::string form(const Field& field) {
  const std::string value = written_form(field);
  return field.key + ": {" + nominal + ": " + value + ", " + low + ": " + value + ", " + high + ": " + value + "}";
}

/// A parameter struct with that one of the corners in it; null where it cannot be read.
std::shared_ptr<void> bound(const ModelTable& table, const Field& field, const Written& written, Faults& faults) {
  std::shared_ptr<void> parameters = table.new_parameters();
  return bind_fields({field}, {{field.key, written}}, parameters.get(), faults) ? parameters : nullptr;
}

/// Where the first value is above the second, in words; none where it nowhere is.
std::optional<std::string> above(const Field& field, const void* first, const void* second) {
  if (field.kind == FieldKind::scalar) {
    if (*field.get_number(first) <= *field.get_number(second)) return std::nullopt;
    return "above";
  }
  const Curve &one = *field.get_curve(first), &other = *field.get_curve(second);
  std::vector<double> x = one.x();
  x.insert(x.end(), other.x().begin(), other.x().end());
  std::sort(x.begin(), x.end());
  const auto found = std::find_if(x.begin(), x.end(), [&](double at) { return one(at) > other(at); });
  if (found == x.end()) return std::nullopt;
  const Axis& axis = field.axes.front();
  return "at " + axis.key + " " + quantity_text(*found, axis.unit) + " above";
}

class CornerCheck {
 public:
  CornerCheck(const ModelTable& table, const Field& field, const Written& written, Faults& faults)
      : table_(table), field_(field), d_(*written.document), entry_(*written.entry), faults_(faults) {}

  void check() {
    const Node& value = entry_.value;
    for (const Node::Entry& e : value.entries) {
      if (is_corner(e.key.text)) continue;
      const std::string near = nearest(e.key.text, names);
      refuse(e.key, field_.key + " has no corner " + in_quotes(e.key.text), near.empty() ? form(field_) : near);
    }
    if (value.incomplete || refused_) return;
    if (!value.find(nominal)) return refuse(entry_.key, field_.key + " lacks its nominal value", form(field_));
    if (value.entries.size() == 1)
      return refuse(entry_.key, field_.key + " has a nominal value alone, and neither a low nor a high one",
                    form(field_));
    Faults ignored;  // the nominal value is read with all others
    const std::shared_ptr<void> middle = bound(table_, field_, {&d_, value.find(nominal)}, ignored);
    for (const std::string& corner : {low, high}) {
      const Node::Entry* e = value.find(corner);
      if (!e) continue;
      const std::shared_ptr<void> outer = bound(table_, field_, {&d_, e}, faults_);
      if (!outer || !middle) continue;
      const bool is_low = corner == low;
      const auto where = is_low ? above(field_, outer.get(), middle.get()) : above(field_, middle.get(), outer.get());
      if (!where) continue;
      const Node& at = field_.kind == FieldKind::curve ? e->key : e->value;
      refuse(at, field_.key + ": " + (is_low ? low : nominal) + " is " + *where + " " + (is_low ? nominal : high),
             "low at most nominal, nominal at most high");
    }
  }

 private:
  void refuse(const Node& at, std::string message, std::string suggestion) {
    faults_.add(d_.fault(at, std::move(message), std::move(suggestion)));
    refused_ = true;
  }

  const ModelTable& table_;
  const Field& field_;
  const Document& d_;
  const Node::Entry& entry_;
  Faults& faults_;
  bool refused_ = false;
};

/// The keys of a class that have corners.
std::vector<std::string> keys_with_corners(const PartClass& c) {
  std::vector<std::string> keys;
  for (const Field& field : c.table->fields) {
    const Node::Entry* e = c.entry->value.find(field.key);
    if (e && has_corners(field, e->value)) keys.push_back(field.key);
  }
  return keys;
}

}  // namespace

bool check_corners(const ModelTable& table, const WrittenValues& written, Faults& faults) {
  const std::size_t before = faults.size();
  for (const Field& field : table.fields) {
    const auto found = written.find(field.key);
    if (found == written.end() || !has_corners(field, found->second.entry->value)) continue;
    CornerCheck(table, field, found->second, faults).check();
  }
  return faults.size() == before;
}

void take_corners(const std::vector<Field>& fields, const Corners& wanted, WrittenValues& written) {
  for (const Field& field : fields) {
    const auto found = written.find(field.key);
    if (found == written.end() || !has_corners(field, found->second.entry->value)) continue;
    const auto asked = wanted.find(field.key);
    const Node& value = found->second.entry->value;
    const Node::Entry* e = value.find(asked == wanted.end() ? nominal : asked->second);
    if (e) {
      found->second.entry = e;
    } else {
      written.erase(found);  // of a class that is not sound
    }
  }
}

WrittenValues written_values(const PartClass& c, const Corners& wanted) {
  WrittenValues written;
  Faults ignored;
  collect(c.table->fields, part_class_keys(), c.name, *c.document, c.entry->value, written, ignored);
  take_corners(c.table->fields, wanted, written);
  return written;
}

Corners read_corners(const Document& d, const Node& part, const PartClass* c, Faults& faults) {
  Corners corners;
  const Node::Entry* section = part.find("corners");
  if (!section || section->value.is_null() || section->value.is_refused()) return corners;
  const Node& value = section->value;
  if (!value.is_mapping()) {
    faults.add(d.fault(value, "corners must name parameters, each with low, high or nominal, not " + described(value),
                       "corners: {PARAMETER: high}"));
    return corners;
  }
  if (!c) {
    faults.add(d.fault(section->key, "corners are those of a part class, and the part names none", "part: PART CLASS"));
    return corners;
  }
  if (!c->sound) return corners;
  const std::vector<std::string> keys = keys_with_corners(*c);
  for (const Node::Entry& e : value.entries) {
    const std::string& key = e.key.text;
    if (std::find(keys.begin(), keys.end(), key) == keys.end()) {
      const std::string near = suggested(key, keys);
      faults.add(d.fault(e.key, "part class " + in_quotes(c->name) + " gives no corner values of " + in_quotes(key),
                         !near.empty()  ? near
                         : keys.empty() ? "the value itself, beside part"
                                        : "one of " + listed(keys)));
      continue;
    }
    if (e.value.is_refused()) continue;
    std::vector<std::string> given;
    for (const Node::Entry& corner : c->entry->value.find(key)->value.entries) given.push_back(corner.key.text);
    if (!e.value.is_scalar() || std::find(given.begin(), given.end(), e.value.text) == given.end()) {
      faults.add(d.fault(
          e.value,
          "part class " + in_quotes(c->name) + " gives of " + key + " " + listed(given) + ", not " + described(e.value),
          "one of " + listed(given)));
      continue;
    }
    const Node::Entry* own = part.find(key);
    if (own && !own->value.is_null()) {
      Fault fault =
          d.fault(e.key, key + " has a value of its own in this part, which no corner changes", "keep one of the two");
      fault.others.push_back(d.other(own->key, "the value stands here"));
      faults.add(std::move(fault));
      continue;
    }
    corners[key] = e.value.text;
  }
  return corners;
}

std::string corners_text(const PartClass& c, const Field& field) {
  const Node::Entry* e = c.entry->value.find(field.key);
  if (!e || !has_corners(field, e->value)) return {};
  std::string text;
  for (const std::string& corner : {low, high}) {
    if (!e->value.find(corner)) continue;
    const WrittenValues written = written_values(c, {{field.key, corner}});
    Faults ignored;
    const std::shared_ptr<void> values = bound(*c.table, field, written.at(field.key), ignored);
    text += (text.empty() ? "" : ", ") + corner + " " + value_text(field, values.get());
  }
  return text;
}

}  // namespace overwinter
