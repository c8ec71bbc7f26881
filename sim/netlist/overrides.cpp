#include "sim/netlist/overrides.hpp"

#include <algorithm>
#include <utility>

#include "sim/netlist/document.hpp"
#include "sim/netlist/scenario.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

const std::string option = "--set";
const std::string example = "--set 'cell.capacity=4000 mAh'";

/// One word of a path.
struct Step {
  std::string text;
  int column = 1;
  bool row = false;  ///< it stood in brackets
};

/// Puts one value into a document.
class Overrider {
 public:
  Overrider(Document& document, const Override& wanted, Faults& faults)
      : d_(document),
        given_(std::make_shared<GivenText>(GivenText{option + " " + wanted.path, wanted.path + "=" + wanted.value})),
        path_(wanted.path),
        value_(wanted.value),
        faults_(faults) {}

  /// What the value replaced, where that was one value.
  std::optional<std::string> put() {
    const std::optional<std::vector<Step>> steps = split();
    if (!steps) return std::nullopt;
    std::optional<Node> value = parsed();
    if (!value) return std::nullopt;
    Node* place = find(*steps);
    if (!place) return std::nullopt;
    const std::optional<std::string> was = place->is_scalar() ? std::optional(place->text) : std::nullopt;
    *place = *std::move(value);
    return was;
  }

 private:
  Node at(int column, const std::string& text) const {
    Node node;
    node.column = column;
    node.text = text;
    node.width = std::max(1, characters(text));
    node.given = given_;
    return node;
  }
  std::nullptr_t refuse(const Step& step, std::string message, std::string suggestion) {
    faults_.add(d_.fault(at(step.column, step.text), std::move(message), std::move(suggestion)));
    return nullptr;
  }

  std::optional<std::vector<Step>> split() {
    std::vector<Step> steps;
    for (std::size_t i = 0; i <= path_.size();) {
      const bool row = i < path_.size() && path_[i] == '[';
      const std::size_t begin = row ? i + 1 : i,
                        end = std::min(path_.find_first_of(row ? "]" : ".[", begin), path_.size());
      const Step step{path_.substr(begin, end - begin), characters(path_.substr(0, begin)) + 1, row};
      const bool open = row && end == path_.size();
      if (trimmed(step.text).empty() || open || (row && steps.empty())) {
        refuse(step, open ? "this bracket is not closed" : "a name is missing in the path",
               "PART.KEY, SECTION.KEY or SECTION.KEY[ROW].KEY");
        return std::nullopt;
      }
      steps.push_back(step);
      i = row ? end + 1 : end;
      if (i == path_.size()) break;
      if (path_[i] == '.') {
        ++i;
      } else if (path_[i] != '[') {
        refuse({path_.substr(i), characters(path_.substr(0, i)) + 1}, "a point is missing in the path",
               path_.substr(0, i) + "." + path_.substr(i));
        return std::nullopt;
      }
    }
    return steps;
  }

  void own(Node& node) const {
    node.given = given_;
    node.line = node.last_line = 0;
    for (Node& item : node.items) own(item);
    for (Node::Entry& entry : node.entries) {
      own(entry.key);
      own(entry.value);
    }
  }

  /// Read behind a key that is as long as the path, so that its columns are those of the text that was given.
  std::optional<Node> parsed() {
    if (value_.find_first_of("\n\r") != std::string::npos) {
      faults_.add(d_.fault(at(1, path_), "the value is more than one line", "a list as [A, B], a mapping as {A: B}"));
      return std::nullopt;
    }
    const auto key = static_cast<std::size_t>(characters(path_) - 1);
    Faults faults;
    const auto document = Document::parse("", std::string(key, 'x') + ": " + value_, faults);
    for (Fault fault : faults.all()) {
      fault.place = {given_->option, 0, std::max(fault.place.column, 1)};
      fault.source_line = given_->text;
      faults_.add(std::move(fault));
    }
    if (!document) return std::nullopt;
    Node value = document->root().entries.front().value;
    own(value);
    return value;
  }

  Node::Entry* entry(Node& mapping, const std::string& key) {
    const auto found = std::find_if(mapping.entries.begin(), mapping.entries.end(),
                                    [&](const Node::Entry& e) { return e.key.text == key; });
    return found == mapping.entries.end() ? nullptr : &*found;
  }

  /// The value behind a key, which is made if it is not there; null where a fault was or is reported.
  Node* below(Node& node, const Step& step, const std::string& owner) {
    if (node.is_refused()) return nullptr;
    if (node.is_null()) {
      node = at(step.column, step.text);
      node.kind = Node::Kind::mapping;
    }
    if (!node.is_mapping()) {
      if (!node.is_sequence()) return refuse(step, owner + " is one value, and nothing stands below it", owner);
      return refuse(step, owner + " is a list", owner + "[1]." + step.text + ", with the number or name of a row");
    }
    if (Node::Entry* found = entry(node, step.text)) return &found->value;
    Node key = at(step.column, step.text), value = at(step.column, step.text);
    key.kind = Node::Kind::scalar;
    value.text.clear();
    node.entries.push_back({std::move(key), std::move(value)});
    return &node.entries.back().value;
  }

  Node* row(Node& node, const Step& step, const std::string& owner) {
    if (node.is_refused()) return nullptr;
    if (!node.is_sequence()) {
      return refuse(step, node.is_null() ? owner + " does not stand in the file as a list" : owner + " is not a list",
                    node.is_null() ? "--set '" + owner + "=[...]' with all its rows" : owner);
    }
    std::vector<std::string> names;
    for (Node& item : node.items) {
      const Node::Entry* name = item.find("name");
      if (!name) continue;
      if (name->value.text == step.text) return &item;
      names.push_back(name->value.text);
    }
    const bool number = step.text.find_first_not_of("0123456789") == std::string::npos && step.text.size() < 9;
    const std::size_t index = number ? std::stoul(step.text) : 0;
    if (index >= 1 && index <= node.items.size()) return &node.items[index - 1];
    const std::string rows = how_many(std::to_string(node.items.size()), "row");
    if (number) return refuse(step, owner + " has " + rows + ", counted from 1", owner + "[1]");
    const std::string near = suggested(step.text, names);
    return refuse(step, owner + " has no row named " + in_quotes(step.text),
                  !near.empty()    ? near
                  : !names.empty() ? "one of " + listed(names)
                                   : "the number of one of its " + rows);
  }

  /// Where the path leads, or null and a fault.
  Node* find(const std::vector<Step>& steps) {
    const std::vector<std::string>& sections = scenario_sections();
    const bool section = std::count(sections.begin(), sections.end(), steps.front().text) > 0;
    Node* node = &d_.root();
    std::string owner;
    std::size_t next = 0;
    if (!section) {
      Node::Entry* parts = entry(*node, "parts");
      if (!parts || !entry(parts->value, steps.front().text)) return no_part(steps.front(), parts, sections);
      node = &entry(parts->value, steps.front().text)->value;
      owner = steps[next++].text;
    }
    for (; next < steps.size(); ++next) {
      const Step& step = steps[next];
      const bool named = owner == "parts" || owner == "lines";
      if (named && next + 1 < steps.size() && !(node->is_mapping() && entry(*node, step.text))) {
        std::vector<std::string> names;
        for (const Node::Entry& e : node->entries) names.push_back(e.key.text);
        const std::string near = suggested(step.text, names), what = owner == "parts" ? "part" : "line";
        return refuse(step, "there is no " + what + " " + in_quotes(step.text),
                      near.empty() ? "one of " + listed(names) : near);
      }
      node = step.row ? row(*node, step, owner) : below(*node, step, owner);
      if (!node) return nullptr;
      owner += step.row ? "[" + step.text + "]" : (owner.empty() ? "" : ".") + step.text;
    }
    return node;
  }

  std::nullptr_t no_part(const Step& step, const Node::Entry* parts, const std::vector<std::string>& sections) {
    std::vector<std::string> names;
    if (parts) {
      for (const Node::Entry& e : parts->value.entries) names.push_back(e.key.text);
    }
    std::vector<std::string> all = names;
    all.insert(all.end(), sections.begin(), sections.end());
    const std::string near = suggested(step.text, all);
    return refuse(step, "the scenario has neither a part nor a section " + in_quotes(step.text),
                  near.empty() ? "one of " + listed(names.empty() ? sections : names) : near);
  }

  Document& d_;
  const std::shared_ptr<const GivenText> given_;
  const std::string &path_, &value_;
  Faults& faults_;
};

[[noreturn]] void refuse(const std::string& text, const std::string& message) {
  Fault fault;
  fault.place.file = option + " " + in_quotes(text);
  fault.message = message;
  fault.suggestion = example;
  throw InputError({fault});
}

}  // namespace

Override parse_override(const std::string& text) {
  const std::size_t equals = text.find('=');
  if (equals == std::string::npos) refuse(text, "no value is given: a path, =, and its value");
  const std::string path = trimmed(text.substr(0, equals)), value = text.substr(equals + 1);
  if (path.empty()) refuse(text, "no path stands before the =");
  if (trimmed(value).empty()) refuse(text, "no value stands behind the =; null restores a default");
  return {path, value};
}

std::vector<Override> override_values(Document& document, const std::vector<Override>& wanted, Faults& faults) {
  std::vector<Override> put;
  for (const Override& one : wanted) {
    const bool twice =
        std::any_of(put.begin(), put.end(), [&](const Override& earlier) { return earlier.path == one.path; });
    if (twice) {
      Fault fault;
      fault.place.file = option + " " + one.path;
      fault.message = "it is given twice";
      fault.suggestion = "keep one of the two";
      faults.add(std::move(fault));
      continue;
    }
    put.push_back({one.path, trimmed(one.value), Overrider(document, one, faults).put()});
  }
  return put;
}

}  // namespace overwinter
