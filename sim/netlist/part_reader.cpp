#include "sim/netlist/part_reader.hpp"

#include <algorithm>
#include <stdexcept>
#include <utility>

#include "models/catalogue.hpp"
#include "sim/netlist/binder.hpp"
#include "sim/netlist/corners.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

class PartReader {
 public:
  PartReader(const Document& d, const Node::Entry& entry, const PartLibrary& library, const ReadPolicy& policy,
             Faults& faults)
      : d_(d), entry_(entry), library_(library), policy_(policy), faults_(faults), name_(entry.key.text) {}

  ReadPart read() {
    ReadPart part;
    part.key = &entry_.key;
    const std::size_t before = faults_.size();
    part.name = check_name("part", "-_", false, d_, entry_.key, faults_);
    const Node& value = entry_.value;
    if (value.is_refused()) return part;
    if (!value.is_mapping()) {
      faults_.add(d_.fault(value.is_null() ? entry_.key : value,
                           "part " + in_quotes(name_) + " must be a mapping, not " + described(value),
                           name_ + ": {model: MODEL, part: PART CLASS, ...}"));
      return part;
    }
    const bool resolved = resolve_class() & resolve_model();
    if (resolved && !table_) no_model();
    part.table = table_;
    if (class_) part.part_class = class_->name;
    if (!table_) return part;
    const std::shared_ptr<void> parameters = bind_parameters();
    if (table_->set_policy) hand_policy(parameters.get());
    part.parameters = parameters;
    const bool good = faults_.size() == before && resolved && !value.incomplete && (!class_ || class_->sound);
    const bool answered = !table_->set_policy || policy_.policy;
    if (good && answered) part.model = build(parameters.get());
    return part;
  }

 private:
  /// False if a class is named that cannot be used.
  bool resolve_class() {
    const Node::Entry* named = entry_.value.find("part");
    if (!named || named->value.is_null()) return true;
    const Node& node = named->value;
    if (node.is_refused()) return false;
    if (!node.is_scalar()) {
      faults_.add(d_.fault(node, "part must be the name of a part class, not " + described(node), "part: PART CLASS"));
      return false;
    }
    class_place_ = &node;
    class_ = library_.find(node.text);
    if (class_) return true;
    if (!library_.is_complete()) return false;
    const Node::Entry* model = entry_.value.find("model");
    const ModelTable* of = model ? find_model(model->value.text) : nullptr;
    const std::string near = nearest(node.text, library_.names(of));
    if (!of && !near.empty()) of = library_.find(near)->table;
    const std::vector<std::string> fitting = library_.names(of);
    std::string list = suggested(node.text, fitting);
    if (!near.empty() || list.empty()) list = "one of " + listed(fitting);
    faults_.add(
        d_.fault(node, "there is no part class " + in_quotes(node.text) + (model && of ? " of model " + of->name : ""),
                 near.empty() ? list : near + " (" + list + ")"));
    return false;
  }

  /// False if the model is named and wrong.
  bool resolve_model() {
    const Node::Entry* named = entry_.value.find("model");
    if (!named || named->value.is_null()) {
      if (class_) table_ = class_->table;
      return !class_ || class_->table;
    }
    table_ = read_model_name(d_, named->value, faults_);
    if (!table_) return false;
    if (!class_ || !class_->table || class_->table == table_) return true;
    Fault fault = d_.fault(
        named->value,
        "part class " + in_quotes(class_->name) + " is of model " + class_->table->name + ", not " + table_->name,
        "model: " + class_->table->name);
    if (!class_->built_in) fault.others.push_back(class_->document->other(class_->entry->key, "the class stands here"));
    faults_.add(std::move(fault));
    class_ = nullptr;
    return false;
  }

  void no_model() {
    if (entry_.value.incomplete) return;
    for (const Node::Entry& e : entry_.value.entries) {
      const std::string near = nearest(e.key.text, part_keys());
      if (near.empty() || near == e.key.text) continue;
      faults_.add(d_.fault(e.key, "part " + in_quotes(name_) + " has no key " + in_quotes(e.key.text), near));
      return;
    }
    faults_.add(d_.fault(entry_.key, "part " + in_quotes(name_) + " names neither a model nor a part class",
                         name_ + ": {model: MODEL, ...} or {part: PART CLASS, ...}"));
  }

  std::shared_ptr<void> bind_parameters() {
    const Corners corners = read_corners(d_, entry_.value, class_, faults_);
    if (class_ && class_->table) written_ = written_values(*class_, corners);
    collect(table_->fields, part_keys(), "model " + table_->name, d_, entry_.value, written_, faults_);
    std::shared_ptr<void> parameters = table_->new_parameters();
    bind_fields(table_->fields, written_, parameters.get(), faults_);
    const std::vector<const Field*> missing = missing_fields(table_->fields, written_);
    const bool class_unknown = class_place_ && (!class_ || !class_->sound);
    if (missing.empty() || class_unknown || entry_.value.incomplete) return parameters;
    std::vector<std::string> keys;
    for (const Field* field : missing) keys.push_back(field->key);
    const std::vector<std::string> classes = library_.names(table_);
    const bool offer_classes = !class_ && missing.size() > 1 && !classes.empty();
    faults_.add(d_.fault(
        entry_.key, "part " + in_quotes(name_) + " of model " + table_->name + " lacks " + listed(keys),
        offer_classes ? "part: " + classes.front() + " (one of " + listed(classes) + ")" : how_to_write(missing)));
    return parameters;
  }

  void hand_policy(void* parameters) {
    if (policy_.policy) table_->set_policy(parameters, policy_.policy);
    if (policy_.written) return;
    faults_.add(d_.fault(entry_.key, "part " + in_quotes(name_) + " asks a wake policy, but the scenario has none",
                         "policy: {every: 30 min}"));
  }

  std::shared_ptr<const Model> build(const void* parameters) {
    std::vector<Finding> findings;
    std::shared_ptr<const Model> model = table_->build(parameters, findings);
    for (const Finding& finding : findings) {
      const auto found = written_.find(finding.field);
      if (found == written_.end()) {
        faults_.add(d_.fault(entry_.key, finding.message, finding.suggestion));
      } else if (class_ && class_->built_in && found->second.document == class_->document.get()) {
        faults_.add(d_.fault(*class_place_, finding.message + " (" + finding.field + " of the part class)",
                             finding.suggestion));
      } else {
        faults_.add(found->second.document->fault(place_of(finding, *found->second.entry), finding.message,
                                                  finding.suggestion));
      }
    }
    if (!model && findings.empty()) {
      throw std::logic_error("model " + table_->name + " refuses its parameters without a finding");
    }
    return findings.empty() ? model : nullptr;
  }

  const Document& d_;
  const Node::Entry& entry_;
  const PartLibrary& library_;
  const ReadPolicy& policy_;
  Faults& faults_;
  const std::string name_;
  const ModelTable* table_ = nullptr;
  const PartClass* class_ = nullptr;
  const Node* class_place_ = nullptr;
  WrittenValues written_;
};

}  // namespace

const std::vector<std::string>& part_keys() {
  static const std::vector<std::string> keys = {"model", "part", "corners"};
  return keys;
}

std::vector<ReadPart> read_parts(const Document& d, const Node& parts, const PartLibrary& library,
                                 const ReadPolicy& policy, Faults& faults) {
  std::vector<ReadPart> result;
  for (const Node::Entry& entry : parts.entries) result.push_back(PartReader(d, entry, library, policy, faults).read());
  std::sort(result.begin(), result.end(), [](const ReadPart& a, const ReadPart& b) { return a.name < b.name; });
  return result;
}

}  // namespace overwinter
