#include "sim/netlist/binder.hpp"

#include <algorithm>
#include <cctype>
#include <optional>
#include <utility>

#include "sim/netlist/curve_binder.hpp"
#include "sim/netlist/field_text.hpp"
#include "sim/netlist/rows_binder.hpp"
#include "sim/netlist/units_text.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

/// The value of a field, its document, and where complaints go.
struct FieldReader {
  const Field& field;
  const Document& document;
  const Node& value;
  Faults& faults;

  std::nullopt_t fail(std::string message, const std::string& suggestion) const {
    faults.add(document.fault(value, std::move(message), or_form(suggestion)));
    return std::nullopt;
  }
  std::nullopt_t fail(const TextFault& why) const {
    faults.add(document.fault(value, why.offset, why.length, why.message, or_form(why.suggestion)));
    return std::nullopt;
  }

 private:
  std::string or_form(const std::string& suggestion) const {
    return suggestion.empty() ? how_to_write({&field}) : suggestion;
  }
};

/// Whether two units differ by no more than a prefix of one letter: A and mA, kohm and mohm.
bool are_multiples(const std::string& a, const std::string& b) {
  const auto base = [](const std::string& unit, bool prefixed) { return prefixed ? unit.substr(1) : unit; };
  for (const auto& [first, second] : {std::pair(true, false), std::pair(false, true), std::pair(true, true)}) {
    const std::string shared = base(a, first);
    if (!shared.empty() && shared == base(b, second)) return true;
  }
  return false;
}

/// What may have been meant by a quantity out of range, the likeliest first.
std::vector<std::string> other_readings(const std::string& text, const Unit& unit) {
  std::vector<std::string> all;
  const bool percent_left_out = unit.text == "%" && text.find('%') == std::string::npos;
  if (percent_left_out) all.push_back(text + " %");
  if (text[0] == '-') all.push_back(text.substr(1));
  const std::size_t at = text.find_first_not_of("+-0123456789.eE ");
  if (at == std::string::npos || is_duration(unit)) return all;
  if (text[at] == 'm' || text[at] == 'M') {
    std::string other_prefix = text;
    other_prefix[at] = text[at] == 'm' ? 'M' : 'm';
    all.push_back(other_prefix);
  }
  if (are_multiples(text.substr(at), unit.text)) all.push_back(trimmed(text.substr(0, at)) + " " + unit.text);
  return all;
}

std::optional<double> in_range(double si, const FieldReader& at) {
  const Field& f = at.field;
  const std::string fault = range_fault(f.key, si, f.minimum, f.maximum, f.unit);
  if (fault.empty()) return si;
  const std::vector<std::string> others = other_readings(trimmed(at.value.text), f.unit);
  const auto meant = std::find_if(others.begin(), others.end(), [&](const std::string& text) {
    TextFault unused;
    std::optional<double> other = parse_quantity(f.key, text, f.unit, unused);
    return other && range_fault(f.key, *other, f.minimum, f.maximum, f.unit).empty();
  });
  return at.fail(in_quotes(at.value.text) + " is out of range: " + fault, meant == others.end() ? "" : *meant);
}

std::optional<double> read_scalar(const FieldReader& at) {
  TextFault why;
  const std::optional<double> si = parse_quantity(at.field.key, at.value.text, at.field.unit, why);
  return si ? in_range(*si, at) : at.fail(why);
}

std::optional<double> read_count(const FieldReader& at) {
  TextFault why;
  if (at.value.quoted) return at.fail(at.field.key + " is a count and needs no quotes", at.value.text);
  const std::optional<int> count = parse_count(at.field.key, at.value.text, why);
  return count ? in_range(*count, at) : at.fail(why);
}

std::optional<double> read_choice(const FieldReader& at) {
  const std::vector<std::string>& choices = at.field.choices;
  const auto found = std::find(choices.begin(), choices.end(), at.value.text);
  if (found != choices.end()) return static_cast<double>(found - choices.begin());
  return at.fail(at.field.key + " must be " + written_form(at.field) + ", not " + in_quotes(at.value.text),
                 suggested(at.value.text, choices));
}

std::optional<double> read_flag(const FieldReader& at) {
  if (!at.value.quoted && at.value.text == "true") return 1;
  if (!at.value.quoted && at.value.text == "false") return 0;
  std::string word = at.value.text;
  for (char& c : word) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  const bool yes = word == "true" || word == "yes" || word == "on" || word == "high" || word == "1";
  const bool no = word == "false" || word == "no" || word == "off" || word == "low" || word == "0";
  return at.fail(at.field.key + " must be true or false" +
                     (at.value.quoted ? " without quotes" : ", not " + in_quotes(at.value.text)),
                 yes  ? "true"
                 : no ? "false"
                      : "");
}

std::optional<std::string> read_text(const FieldReader& at) {
  std::string text = trimmed(at.value.text);
  if (text.empty()) return at.fail(at.field.key + " is empty", at.field.key + ": " + written_form(at.field));
  if (text.find('\n') != std::string::npos) return at.fail(at.field.key + " must be one line", "");
  return text;
}

bool bind_field(const Field& field, const Written& written, void* parameters, Faults& faults) {
  const Node& value = written.entry->value;
  if (value.is_null()) return true;
  if (value.is_refused()) return false;
  const Document& d = *written.document;
  if (field.kind == FieldKind::curve) {
    std::optional<Curve> curve = read_curve(field, d, *written.entry, faults);
    if (curve) field.set_curve(parameters, *std::move(curve));
    return curve.has_value();
  }
  if (field.kind == FieldKind::map) {
    std::optional<Map> map = read_map(field, d, *written.entry, faults);
    if (map) field.set_map(parameters, *std::move(map));
    return map.has_value();
  }
  if (field.kind == FieldKind::rows) return bind_rows(field, d, *written.entry, parameters, faults);
  if (!value.is_scalar()) {
    faults.add(d.fault(value, field.key + " needs one value, not " + described(value),
                       field.key + ": " + written_form(field)));
    return false;
  }
  const FieldReader at{field, d, value, faults};
  if (field.kind == FieldKind::text) {
    std::optional<std::string> text = read_text(at);
    if (text) field.set_text(parameters, *std::move(text));
    return text.has_value();
  }
  std::optional<double> number;
  switch (field.kind) {
    case FieldKind::count:
      number = read_count(at);
      break;
    case FieldKind::choice:
      number = read_choice(at);
      break;
    case FieldKind::flag:
      number = read_flag(at);
      break;
    default:
      number = read_scalar(at);
      break;
  }
  if (number) field.set_number(parameters, *number);
  return number.has_value();
}

}  // namespace

std::vector<std::string> collect(const std::vector<Field>& fields, const std::vector<std::string>& other_keys,
                                 const std::string& owner, const Document& document, const Node& mapping,
                                 WrittenValues& written, Faults& faults) {
  std::vector<std::string> known = other_keys;
  for (const Field& field : fields) known.push_back(field.key);
  std::vector<std::string> meant;
  for (const Node::Entry& entry : mapping.entries) {
    const std::string& key = entry.key.text;
    if (std::find(other_keys.begin(), other_keys.end(), key) != other_keys.end()) continue;
    if (std::find(known.begin(), known.end(), key) != known.end()) {
      written[key] = {&document, &entry};
      continue;
    }
    std::string suggestion = nearest(key, known);
    if (!suggestion.empty()) meant.push_back(suggestion);
    const bool is_field = std::count(other_keys.begin(), other_keys.end(), suggestion) == 0;
    if (!suggestion.empty() && is_field && !mapping.find(suggestion)) written[suggestion] = {&document, &entry};
    const std::size_t colon = key.find(':');
    suggestion = suggested(key, known);
    if (suggestion.empty())
      suggestion = colon != std::string::npos ? "put a blank after the colon" : "one of " + listed(known);
    faults.add(document.fault(entry.key, owner + " has no key " + in_quotes(key), suggestion));
  }
  return meant;
}

bool bind_fields(const std::vector<Field>& fields, const WrittenValues& written, void* parameters, Faults& faults) {
  bool good = true;
  for (const Field& field : fields) {
    const auto found = written.find(field.key);
    if (found != written.end() && !bind_field(field, found->second, parameters, faults)) good = false;
  }
  return good;
}

std::vector<const Field*> missing_fields(const std::vector<Field>& fields, const WrittenValues& written) {
  std::vector<const Field*> missing;
  for (const Field& field : fields) {
    const auto found = written.find(field.key);
    if (field.required && (found == written.end() || found->second.entry->value.is_null())) missing.push_back(&field);
  }
  return missing;
}

const Node& place_of(const Finding& finding, const Node::Entry& entry) {
  const Node& value = entry.value;
  if (value.is_null()) return entry.key;
  if (!finding.row || *finding.row >= value.items.size()) return value;
  const Node& row = value.items[*finding.row];
  const Node::Entry* column = row.find(finding.column);
  return column && !column->value.is_null() ? column->value : row;
}

std::string how_to_write(const std::vector<const Field*>& fields) {
  std::string text;
  for (const Field* field : fields) {
    text += (text.empty() ? "" : "; ") + field->key + ": " + written_form(*field);
    if (!field->meaning.empty()) text += " (" + field->meaning + ")";
  }
  return text;
}

}  // namespace overwinter
