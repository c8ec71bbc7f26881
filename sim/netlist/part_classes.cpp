#include "sim/netlist/part_classes.hpp"

#include <algorithm>
#include <cctype>
#include <stdexcept>
#include <utility>

#include "models/catalogue.hpp"
#include "sim/netlist/binder.hpp"
#include "sim/netlist/corners.hpp"
#include "sim/netlist/embedded_parts.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

/// Fills in the model and the note and checks every parameter. False if anything is wrong.
bool check_class(PartClass& c, Faults& faults) {
  const Document& d = *c.document;
  const Node& value = c.entry->value;
  const std::size_t before = faults.size();
  check_name("part class", "-_.", false, d, c.entry->key, faults);
  if (value.is_refused()) return false;
  if (!value.is_mapping()) {
    faults.add(d.fault(value.is_null() ? c.entry->key : value,
                       "part class " + in_quotes(c.name) + " must be a mapping, not " + described(value),
                       c.name + ": {model: MODEL, note: TEXT, ...}"));
    return false;
  }
  if (const Node::Entry* note = value.find("note")) {
    if (note->value.is_scalar()) {
      c.note = note->value.text;
    } else if (!note->value.is_null() && !note->value.is_refused()) {
      faults.add(d.fault(note->value, "note must be text, not " + described(note->value), "note: TEXT"));
    }
  }
  const Node::Entry* model = value.find("model");
  if (model) {
    c.table = read_model_name(d, model->value, faults);
  } else if (!value.incomplete) {
    faults.add(d.fault(c.entry->key, "part class " + in_quotes(c.name) + " does not name its model", "model: MODEL"));
  }
  if (!c.table) return false;
  WrittenValues written;
  collect(c.table->fields, part_class_keys(), "part class " + in_quotes(c.name) + " of model " + c.table->name, d,
          value, written, faults);
  check_corners(*c.table, written, faults);
  take_corners(c.table->fields, {}, written);
  bind_fields(c.table->fields, written, c.table->new_parameters().get(), faults);
  return faults.size() == before && !value.incomplete;
}

}  // namespace

const std::vector<std::string>& part_class_keys() {
  static const std::vector<std::string> keys = {"model", "note"};
  return keys;
}

const PartLibrary& PartLibrary::built_in() {
  static const PartLibrary library = [] {
    PartLibrary result;
    Faults faults;
    for (const EmbeddedFile& file : embedded_parts()) {
      const auto document = Document::parse("models/parts/" + file.name, file.text, faults);
      if (document) result.add(document, true, faults);
    }
    if (!faults.empty()) throw std::logic_error(InputError(faults.all()).what());
    return result;
  }();
  return library;
}

void PartLibrary::add(std::shared_ptr<const Document> document, bool built_in, Faults& faults) {
  if (document->root().incomplete) complete_ = false;
  for (const Node::Entry& entry : document->root().entries) {
    PartClass c;
    c.name = entry.key.text;
    c.document = document;
    c.entry = &entry;
    c.built_in = built_in;
    c.sound = check_class(c, faults);
    const auto [known, added] = classes_.try_emplace(c.name, c);
    if (added) continue;
    const PartClass& first = known->second;
    if (first.built_in) {
      faults.add(document->fault(entry.key, "part class " + in_quotes(c.name) + " is already built in",
                                 "give yours another name"));
      continue;
    }
    Fault fault = document->fault(entry.key, "part class " + in_quotes(c.name) + " is defined a second time",
                                  "keep one of the two");
    fault.others.push_back(first.document->other(first.entry->key, "the first stands here"));
    faults.add(std::move(fault));
  }
}

const PartClass* PartLibrary::find(const std::string& name) const {
  const auto found = classes_.find(name);
  return found == classes_.end() ? nullptr : &found->second;
}

std::vector<std::string> PartLibrary::names(const ModelTable* table) const {
  std::vector<std::string> result;
  for (const auto& [name, part_class] : classes_) {
    if (!table || part_class.table == table) result.push_back(name);
  }
  return result;
}

const ModelTable* read_model_name(const Document& d, const Node& node, Faults& faults) {
  if (node.is_refused()) return nullptr;
  if (!node.is_scalar()) {
    faults.add(d.fault(node, "model must be the name of a model, not " + described(node), "model: MODEL"));
    return nullptr;
  }
  if (const ModelTable* table = find_model(node.text)) return table;
  std::vector<std::string> names;
  for (const ModelTable* table : catalogue()) names.push_back(table->name);
  const std::string near = nearest(node.text, names);
  faults.add(
      d.fault(node, "there is no model " + in_quotes(node.text), near.empty() ? "one of " + listed(names) : near));
  return nullptr;
}

std::string check_name(const std::string& what, const std::string& signs, bool digit_first, const Document& d,
                       const Node& key, Faults& faults) {
  const auto lower = [](char c) { return c >= 'a' && c <= 'z'; };
  const auto digit = [](char c) { return c >= '0' && c <= '9'; };
  const std::string& name = key.text;
  const bool begins_well = !name.empty() && (lower(name[0]) || (digit_first && digit(name[0])));
  const bool goes_on_well = std::all_of(
      name.begin(), name.end(), [&](char c) { return lower(c) || digit(c) || signs.find(c) != std::string::npos; });
  if (begins_well && goes_on_well) return name;
  std::string better;
  for (const char c : name) {
    const char small = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    better += lower(small) || digit(small) || signs.find(small) != std::string::npos ? small : '-';
  }
  const bool usable = !better.empty() && (lower(better[0]) || (digit_first && digit(better[0]))) && better != name;
  std::string allowed;
  for (const char c : signs) allowed += std::string(" ") + c;
  faults.add(d.fault(key,
                     in_quotes(name) + " is not a name for a " + what + ": use lower-case letters, digits and" +
                         allowed + ", and begin with a letter" + (digit_first ? " or digit" : ""),
                     usable ? better : "a name such as south-1"));
  return usable ? better : name;
}

}  // namespace overwinter
