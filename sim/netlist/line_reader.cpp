#include "sim/netlist/line_reader.hpp"

#include <algorithm>
#include <map>
#include <tuple>
#include <utility>

#include "models/control/controller.hpp"
#include "models/paths/open_drain_stage.hpp"
#include "sim/netlist/binder.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

std::vector<std::string> pins_of(const ModelTable& table, PinRole role) {
  std::vector<std::string> names;
  for (const Pin& pin : table.pins) {
    if (pin.role == role) names.push_back(pin.name);
  }
  return names;
}

std::string output_name(LineKind kind) { return kind == LineKind::logic ? "push-pull" : name_of(kind); }

class LineReader {
 public:
  LineReader(const Document& d, const Wirable& wirable, Faults& faults)
      : d_(d), wirable_(wirable), faults_(faults), references_(d, wirable, "line port", faults) {}

  void read(const Node::Entry& entry) {
    check_name("line", "-_", false, d_, entry.key, faults_);
    const Node& value = entry.value;
    if (!value.is_mapping()) {
      result_.excuses.all();
      if (value.is_refused()) return;
      faults_.add(
          d_.fault(value.is_null() ? entry.key : value,
                   "line " + in_quotes(entry.key.text) + " needs a mapping of from and to, not " + described(value),
                   entry.key.text + form));
      return;
    }
    const std::size_t before = faults_.size();
    if (runs_backwards(entry)) return;
    Line line;
    line.key = &entry.key;
    check_keys(entry);
    if (const Node* from = written(value, "from")) read_drivers(*from, line);
    if (const Node* to = written(value, "to")) read_listeners(*to, line);
    if (const Node* pull_up = written(value, "pull_up")) read_pull_up(*value.find("pull_up"), *pull_up, line);
    line.wire.key = &entry.key;
    line.wire.sound = faults_.size() == before && !value.incomplete;
    if (!line.wire.joints.empty()) {
      result_.wires.push_back(std::move(line.wire));
    } else if (!line.outputs.empty()) {
      std::sort(line.inputs.begin(), line.inputs.end(),
                [](PortRef a, PortRef b) { return std::pair(a.part, a.port) < std::pair(b.part, b.port); });
      const PortRef from = line.outputs.front().port;
      if (line.wire.sound) check_driven(line);
      result_.lines.push_back({entry.key.text, kind(from), from, std::move(line.inputs), d_.place(entry.key)});
    }
  }

  ReadLines done() {
    std::sort(result_.lines.begin(), result_.lines.end(),
              [](const ScenarioLine& a, const ScenarioLine& b) { return a.name < b.name; });
    return std::move(result_);
  }

 private:
  static constexpr const char* form = ": {from: PART.OUTPUT, to: PART.INPUT}";

  struct Driver {
    PortRef port;
    const Node* node;
  };
  struct Line {
    const Node* key;
    std::vector<Driver> outputs;
    std::vector<const Node*> open_drains;
    std::vector<PortRef> inputs;
    Wire wire;
  };

  static const Node* written(const Node& line, const std::string& key) {
    const Node::Entry* e = line.find(key);
    return e && !e->value.is_null() ? &e->value : nullptr;
  }
  const ModelTable& table(std::size_t part) const { return *wirable_.parts[part].table; }
  LineKind kind(PortRef output) const { return table(output.part).line_outputs[output.port].kind; }
  bool is_known(const Reference& r) const { return r.part && wirable_.parts[*r.part].table; }

  /// The part and whether the port is one of its outputs; none where the text names no line port.
  std::optional<std::pair<std::string, bool>> direction(const Node* node) const {
    if (!node || !node->is_scalar()) return std::nullopt;
    const std::size_t dot = node->text.find('.');
    const auto part = part_named(wirable_.parts, node->text.substr(0, dot));
    if (dot == std::string::npos || !part || !wirable_.parts[*part].table) return std::nullopt;
    const ModelTable& t = table(*part);
    const std::string port = node->text.substr(dot + 1);
    const auto pin = index_of(t.pins, port);
    const PinRole role = pin ? t.pins[*pin].role : PinRole::power;
    const bool output = index_of(t.line_outputs, port) || role == PinRole::open_drain;
    if (!output && !index_of(t.line_inputs, port) && role != PinRole::gate) return std::nullopt;
    return std::pair(wirable_.parts[*part].name, output);
  }

  /// One fault for a line from an input to an output.
  bool runs_backwards(const Node::Entry& entry) {
    const Node *from = written(entry.value, "from"), *to = written(entry.value, "to");
    const auto first = direction(from), second = direction(to);
    if (!first || !second || first->second || !second->second) return false;
    result_.excuses.part(first->first);
    result_.excuses.part(second->first);
    faults_.add(d_.fault(*from,
                         "line " + in_quotes(entry.key.text) + " runs backwards: " + from->text + " is an input, " +
                             to->text + " an output",
                         "from: " + to->text + ", to: " + from->text));
    return true;
  }

  /// A controller's output that is low for ever keeps what listens to it off, and the run would not miss it.
  void check_driven(const Line& line) {
    const Driver& driver = line.outputs.front();
    const ModelTable& t = table(driver.port.part);
    const auto* controller = dynamic_cast<const Controller*>(wirable_.parts[driver.port.part].model.get());
    const std::string& output = t.line_outputs[driver.port.port].name;
    if (!controller || kind(driver.port) != LineKind::logic || !controller->phases_driving(output).empty()) return;
    std::string offer;
    for (const LineOutput& other : t.line_outputs) {
      const std::vector<std::string> phases = controller->phases_driving(other.name);
      if (phases.empty()) continue;
      offer +=
          ", or from: " + wirable_.parts[driver.port.part].name + "." + other.name + " (on in " + listed(phases) + ")";
    }
    std::vector<std::string> off;
    for (const PortRef& input : line.inputs) off.push_back(wirable_.parts[input.part].name);
    faults_.add(
        d_.fault(*driver.node,
                 "no phase turns " + driver.node->text + " on, so that " + listed(off) + " would stay off for ever",
                 output + ": true in a phase" + offer));
  }

  void check_keys(const Node::Entry& entry) {
    const std::vector<std::string> known = {"from", "to", "pull_up"};
    WrittenValues unused;
    const std::vector<std::string> meant = collect({}, known, "a line", d_, entry.value, unused, faults_);
    for (const char* key : {"from", "to"}) {
      if (written(entry.value, key) || entry.value.incomplete) continue;
      result_.excuses.all();
      if (std::count(meant.begin(), meant.end(), key)) continue;
      const Node::Entry* e = entry.value.find(key);
      faults_.add(d_.fault(e ? e->key : entry.key, "line " + in_quotes(entry.key.text) + " lacks " + std::string(key),
                           entry.key.text + form));
    }
  }

  template <class Read>
  static void each(const Node& node, Read read) {
    if (!node.is_sequence()) read(node);
    for (const Node& item : node.items) read(item);
  }

  void read_drivers(const Node& node, Line& line) {
    if (node.is_sequence() && node.items.empty()) {
      result_.excuses.all();
      faults_.add(d_.fault(node, "nothing drives line " + in_quotes(line.key->text), "name the output that drives it"));
    }
    each(node, [&](const Node& item) { read_driver(item, line); });
  }

  void read_driver(const Node& node, Line& line) {
    const Reference r = references_.read(node);
    if (!is_known(r)) {
      result_.excuses.unresolved(r);
      return;
    }
    const ModelTable& t = table(*r.part);
    if (const auto output = index_of(t.line_outputs, r.port)) {
      read_output(node, {*r.part, *output}, line);
      return;
    }
    const auto pin = index_of(t.pins, r.port);
    if (!pin || t.pins[*pin].role != PinRole::open_drain) {
      std::vector<std::string> drivers = names_of(t.line_outputs);
      for (const std::string& name : pins_of(t, PinRole::open_drain)) drivers.push_back(name);
      wrong_port(node, r, "output", drivers, index_of(t.line_inputs, r.port).has_value());
      return;
    }
    if (!line.outputs.empty()) {
      result_.excuses.part(r.part_name);
      mixed(node, *line.outputs.front().node);
      return;
    }
    line.open_drains.push_back(&node);
    line.wire.joints.push_back({{*r.part, *pin}, &node});
  }

  void read_output(const Node& node, PortRef output, Line& line) {
    if (!line.open_drains.empty()) {
      mixed(node, *line.open_drains.front());
      return;
    }
    line.outputs.push_back({output, &node});
    if (line.outputs.size() == 1) return;
    const Driver& first = line.outputs.front();
    const bool same = std::tie(first.port.part, first.port.port) == std::tie(output.part, output.port);
    const bool logic = kind(first.port) == LineKind::logic && kind(output) == LineKind::logic;
    Fault fault =
        d_.fault(node,
                 same ? node.text + " stands twice in line " + in_quotes(line.key->text)
                      : std::string("two ") + (logic ? "push-pull drivers" : "outputs") + " cannot share a line",
                 same ? "remove one" : "let one of them drive it");
    fault.others.push_back(d_.other(*first.node, same ? "it stands first here" : "the first stands here"));
    faults_.add(std::move(fault));
  }

  void mixed(const Node& second, const Node& first) {
    Fault fault = d_.fault(second, "an open-drain pin and an output that drives both ways cannot share a line",
                           "let one output drive it, or open-drain pins only");
    fault.others.push_back(d_.other(first, "the other stands here"));
    faults_.add(std::move(fault));
  }

  void read_listeners(const Node& node, Line& line) {
    if (node.is_sequence() && node.items.empty()) {
      faults_.add(
          d_.fault(node, "line " + in_quotes(line.key->text) + " leads nowhere", "list the inputs that listen to it"));
    }
    each(node, [&](const Node& item) { read_listener(item, line); });
  }

  void read_listener(const Node& node, Line& line) {
    const Reference r = references_.read(node);
    if (!is_known(r)) {
      result_.excuses.unresolved(r);
      return;
    }
    const ModelTable& t = table(*r.part);
    if (const auto input = index_of(t.line_inputs, r.port)) {
      read_input(node, {*r.part, *input}, line);
      return;
    }
    const auto pin = index_of(t.pins, r.port);
    if (!pin || t.pins[*pin].role != PinRole::gate) {
      std::vector<std::string> listeners = names_of(t.line_inputs);
      for (const std::string& name : pins_of(t, PinRole::gate)) listeners.push_back(name);
      wrong_port(node, r, "input", listeners, index_of(t.line_outputs, r.port).has_value());
      return;
    }
    if (line.outputs.empty()) {
      line.wire.joints.push_back({{*r.part, *pin}, &node});
      return;
    }
    result_.excuses.part(r.part_name);
    const Driver& driver = line.outputs.front();
    Fault fault = d_.fault(
        node,
        node.text + " is a gate and listens to open-drain pins, not to a " + output_name(kind(driver.port)) + " output",
        "from: " + or_else(all_open_drains(), "PART.PIN, an open-drain pin") +
            (kind(driver.port) == LineKind::logic
                 ? ", or a part of model " + OpenDrainStage::describe().name + " between the two"
                 : ""));
    fault.others.push_back(d_.other(*driver.node, "the line is driven here"));
    faults_.add(std::move(fault));
  }

  void read_input(const Node& node, PortRef input, Line& line) {
    result_.named_inputs.insert({input.part, input.port});
    const LineKind wanted = table(input.part).line_inputs[input.port].kind;
    if (!line.open_drains.empty()) {
      Fault fault = d_.fault(node,
                             "an open-drain pin can drive gates only, and " + node.text + " takes a " +
                                 (wanted == LineKind::logic ? "push-pull output" : name_of(wanted)),
                             or_else(offered(input.part, PinRole::gate),
                                     "from: " + or_else(all_outputs(wanted), "PART.OUTPUT of that kind")));
      fault.others.push_back(d_.other(*line.open_drains.front(), "the open-drain pin stands here"));
      faults_.add(std::move(fault));
      return;
    }
    if (!line.outputs.empty() && wanted != kind(line.outputs.front().port)) {
      faults_.add(d_.fault(node,
                           node.text + " takes a " + name_of(wanted) + ", but the line carries a " +
                               name_of(kind(line.outputs.front().port)),
                           "from: " + or_else(all_outputs(wanted), "PART.OUTPUT of that kind")));
      return;
    }
    const auto [driven, added] = driven_.try_emplace({input.part, input.port}, &node);
    if (!added) {
      Fault fault = d_.fault(node, "input " + node.text + " is driven twice", "let one line drive it");
      fault.others.push_back(d_.other(*driven->second, "it is driven first here"));
      faults_.add(std::move(fault));
      return;
    }
    line.inputs.push_back(input);
  }

  std::string offered(std::size_t part, PinRole role) const {
    return prefixed(wirable_.parts[part].name, pins_of(table(part), role));
  }

  static std::string or_else(const std::string& text, const std::string& otherwise) {
    return text.empty() ? otherwise : text;
  }

  /// The outputs of this kind of all parts.
  std::string all_outputs(LineKind wanted) const {
    std::vector<std::string> all;
    for (const ReadPart& part : wirable_.parts) {
      if (!part.table) continue;
      for (const LineOutput& output : part.table->line_outputs) {
        if (output.kind == wanted) all.push_back(part.name + "." + output.name);
      }
    }
    return listed(all);
  }

  std::string all_open_drains() const {
    std::vector<std::string> all;
    for (const ReadPart& part : wirable_.parts) {
      if (!part.table) continue;
      for (const std::string& pin : pins_of(*part.table, PinRole::open_drain)) all.push_back(part.name + "." + pin);
    }
    return listed(all);
  }

  void wrong_port(const Node& node, const Reference& r, const std::string& wanted,
                  const std::vector<std::string>& ports, bool other_direction) {
    const ModelTable& t = table(*r.part);
    const auto pin = index_of(t.pins, r.port);
    const PinRole role = pin ? t.pins[*pin].role : PinRole::power;
    if (role != PinRole::power) result_.excuses.part(r.part_name);
    if (other_direction) {
      faults_.add(d_.fault(
          node, node.text + " is a line " + (wanted == "input" ? "output" : "input") + ", not a line " + wanted,
          "a line goes from an output to inputs"));
    } else if (role == PinRole::gate) {
      faults_.add(d_.fault(node, node.text + " is a gate, which drives nothing", "name it under to"));
    } else if (role == PinRole::open_drain) {
      faults_.add(d_.fault(node, node.text + " is an open-drain pin, which listens to nothing", "name it under from"));
    } else if (pin) {
      faults_.add(d_.fault(node, node.text + " is a pin, not a line " + wanted, "connect it under nets"));
    } else {
      result_.excuses.part(r.part_name);
      faults_.add(
          d_.fault(node, r.part_name.size() + 1, r.port.size(),
                   "part " + in_quotes(r.part_name) + " has no line " + wanted + " " + in_quotes(r.port),
                   or_else(meant_port(r.part_name, r.port, ports), "name another part: a " + t.name + " has none")));
    }
  }

  void read_pull_up(const Node::Entry& entry, const Node& value, Line& line) {
    const std::string owner = "the pull_up of line " + in_quotes(line.key->text);
    if (value.is_refused()) return;
    if (!value.is_mapping()) {
      faults_.add(d_.fault(value, owner + " must be a mapping, not " + described(value), pull_up_form));
      return;
    }
    if (line.open_drains.empty() && !line.outputs.empty()) {
      faults_.add(d_.fault(entry.key,
                           "line " + in_quotes(line.key->text) + " comes from a " +
                               output_name(kind(line.outputs.front().port)) + " output and takes no pull_up",
                           "remove pull_up"));
      return;
    }
    WrittenValues written_values;
    collect(pull_up_fields(), {}, "pull_up", d_, value, written_values, faults_);
    PullUp pull_up;
    bind_fields(pull_up_fields(), written_values, &pull_up, faults_);
    const std::vector<const Field*> missing = missing_fields(pull_up_fields(), written_values);
    if (!missing.empty() && !value.incomplete) {
      std::vector<std::string> keys;
      for (const Field* field : missing) keys.push_back(field->key);
      faults_.add(d_.fault(entry.key, owner + " lacks " + listed(keys), how_to_write(missing)));
    }
    if (pull_up.net.empty()) return;
    pull_up.key = &entry.key;
    pull_up.net_node = &written_values.at("net").entry->value;
    line.wire.pull_up = std::move(pull_up);
  }

  static constexpr const char* pull_up_form = "pull_up: {net: NET, resistance: NUMBER kohm}";

  const Document& d_;
  const Wirable& wirable_;
  Faults& faults_;
  const ReferenceReader references_;
  std::map<std::pair<std::size_t, std::size_t>, const Node*> driven_;
  ReadLines result_;
};

}  // namespace

const std::vector<Field>& pull_up_fields() {
  static const std::vector<Field> fields = [] {
    FieldsBuilder<PullUp> t("pull-up", "The resistor that pulls a line up.");
    t.text("net", &PullUp::net).required().meaning("the net that pulls the line up");
    t.scalar("resistance", &PullUp::resistance, "kohm").required().above(0).meaning("between that net and the line");
    t.scalar("series", &PullUp::series, "kohm").above(0).meaning("between the drivers and the gates; none if left out");
    return t.done().fields;
  }();
  return fields;
}

ReadLines read_lines(const Document& d, const Node::Entry& lines, const Wirable& wirable, Faults& faults) {
  LineReader reader(d, wirable, faults);
  for (const Node::Entry& entry : lines.value.entries) reader.read(entry);
  ReadLines result = reader.done();
  if (lines.value.incomplete) result.excuses.all();
  return result;
}

}  // namespace overwinter
