#include "sim/netlist/wiring.hpp"

#include <algorithm>
#include <map>
#include <numeric>
#include <optional>
#include <set>
#include <string>
#include <utility>

#include "sim/text.hpp"

namespace overwinter {
namespace {

constexpr const char* ground = "gnd";

/// "PART.PORT" as far as it can be understood.
struct Reference {
  std::string part_name, port;
  std::optional<std::size_t> part;  // none: a fault was reported, or nothing can be said
  std::string meant;                // the part whose name is nearest to an unknown one
};

template <class Ports>
std::vector<std::string> names_of(const Ports& ports) {
  std::vector<std::string> names;
  for (const auto& port : ports) names.push_back(port.name);
  return names;
}

template <class Ports>
std::optional<std::size_t> index_of(const Ports& ports, const std::string& name) {
  for (std::size_t i = 0; i < ports.size(); ++i) {
    if (ports[i].name == name) return i;
  }
  return std::nullopt;
}

std::string prefixed(const std::string& part, const std::vector<std::string>& ports) {
  std::vector<std::string> all;
  for (const std::string& port : ports) all.push_back(part + "." + port);
  return listed(all);
}

/// Reads references to pins or line ports (`what`).
class Resolver {
 public:
  Resolver(const Document& d, const Wirable& wirable, std::string what, Faults& faults)
      : d_(d), wirable_(wirable), what_(std::move(what)), faults_(faults) {}

  Reference read(const Node& node) const {
    Reference r;
    if (node.is_refused()) return r;
    if (!node.is_scalar()) {
      faults_.add(d_.fault(node, "a " + what_ + " is written PART." + upper() + ", not " + described(node)));
      return r;
    }
    const std::size_t dot = node.text.find('.');
    r.part_name = node.text.substr(0, dot);
    if (dot == std::string::npos || dot == 0 || dot + 1 == node.text.size()) {
      const auto part = index_of(wirable_.parts, r.part_name);
      const ModelTable* table = part ? wirable_.parts[*part].table : nullptr;
      faults_.add(d_.fault(node, in_quotes(node.text) + " is not a " + what_ + ", which is written PART." + upper(),
                           table && what_ == "pin" ? prefixed(r.part_name, names_of(table->pins)) : ""));
      r.meant = r.part_name;
      return r;
    }
    r.port = node.text.substr(dot + 1);
    r.part = index_of(wirable_.parts, r.part_name);
    if (r.part) return r;
    std::vector<std::string> known;
    for (const ReadPart& part : wirable_.parts) known.push_back(part.name);
    r.meant = nearest(r.part_name, known);
    if (wirable_.complete) {
      faults_.add(d_.fault(node, 0, dot, "there is no part " + in_quotes(r.part_name),
                           r.meant.empty() ? "" : r.meant + "." + r.port));
    }
    return r;
  }

 private:
  std::string upper() const { return what_ == "pin" ? "PIN" : "PORT"; }

  const Document& d_;
  const Wirable& wirable_;
  const std::string what_;
  Faults& faults_;
};

/// Sets of nets that are joined through parts.
class Groups {
 public:
  explicit Groups(std::size_t size) : parent_(size) { std::iota(parent_.begin(), parent_.end(), std::size_t{0}); }
  std::size_t of(std::size_t i) const { return parent_[i] == i ? i : of(parent_[i]); }
  void join(std::size_t a, std::size_t b) { parent_[std::max(of(a), of(b))] = std::min(of(a), of(b)); }

 private:
  std::vector<std::size_t> parent_;
};

class NetReader {
 public:
  NetReader(const Document& d, const Node::Entry& section, const Wirable& wirable, Faults& faults)
      : d_(d), section_(section), wirable_(wirable), faults_(faults), resolver_(d, wirable, "pin", faults) {}

  std::vector<ScenarioNet> read() {
    for (const Node::Entry& entry : section_.value.entries) read_net(entry);
    check_ground();
    for (std::size_t part = 0; part < wirable_.parts.size(); ++part) check_part(part);
    check_dead_ends();
    check_reach();
    std::vector<ScenarioNet> result;
    for (Net& net : nets_) {
      std::sort(net.pins.begin(), net.pins.end(),
                [](PinRef a, PinRef b) { return std::pair(a.part, a.pin) < std::pair(b.part, b.pin); });
      result.push_back({net.key->text, std::move(net.pins), d_.place(*net.key)});
    }
    std::sort(result.begin(), result.end(), [](const ScenarioNet& a, const ScenarioNet& b) { return a.name < b.name; });
    return result;
  }

 private:
  struct Net {
    const Node* key = nullptr;
    std::vector<PinRef> pins;
    std::set<std::size_t> parts;  // also those whose pins are not known
    bool sound = true;            // every item was understood
  };
  struct Joint {
    const Node* item;
    std::size_t net;
  };

  void read_net(const Node::Entry& entry) {
    Net net;
    net.key = &entry.key;
    check_name("net", "-+_.", true, d_, entry.key, faults_);
    const Node& value = entry.value;
    if (value.is_sequence() && !value.items.empty()) {
      for (const Node& item : value.items) read_item(item, net);
    } else if (value.is_null() || value.is_sequence()) {
      faults_.add(
          d_.fault(entry.key, "net " + in_quotes(entry.key.text) + " has no pins", "list them, or remove the net"));
      net.sound = false;
    } else {
      net.sound = false;
      excuse_all_ = true;
      if (!value.is_refused()) {
        faults_.add(
            d_.fault(value, "net " + in_quotes(entry.key.text) + " needs the list of its pins, not " + described(value),
                     value.is_scalar() ? "[" + value.text + "]" : "[PART.PIN, PART.PIN]"));
      }
    }
    nets_.push_back(std::move(net));
  }

  void read_item(const Node& item, Net& net) {
    const Reference r = resolver_.read(item);
    const bool named = r.part && wirable_.parts[*r.part].table;
    if (!named) {
      net.sound = false;
      if (r.part) net.parts.insert(*r.part);
      if (!r.part && r.meant.empty() && r.port.empty()) excuse_all_ = true;
      excused_parts_.insert(r.part ? r.part_name : r.meant);
      if (!r.part && r.meant.empty()) excused_pins_.insert(r.port);
      return;
    }
    const ModelTable& table = *wirable_.parts[*r.part].table;
    net.parts.insert(*r.part);
    const auto pin = index_of(table.pins, r.port);
    if (!pin) {
      net.sound = false;
      unknown_pin(item, r, table);
      return;
    }
    const auto [joint, added] = joints_.try_emplace({*r.part, *pin}, Joint{&item, nets_.size()});
    if (added) {
      net.pins.push_back({*r.part, *pin});
      return;
    }
    net.sound = false;
    const bool same_net = joint->second.net == nets_.size();
    Fault fault =
        d_.fault(item,
                 same_net ? "pin " + item.text + " stands twice in net " + in_quotes(net.key->text)
                          : "pin " + item.text + " is already in net " + in_quotes(nets_[joint->second.net].key->text),
                 same_net ? "remove one" : "a pin belongs to one net: remove one, or make the two nets one");
    fault.others.push_back(d_.other(*joint->second.item, "it stands first here"));
    faults_.add(std::move(fault));
  }

  void unknown_pin(const Node& item, const Reference& r, const ModelTable& table) {
    const std::size_t offset = r.part_name.size() + 1;
    if (index_of(table.line_inputs, r.port) || index_of(table.line_outputs, r.port)) {
      const char* direction = index_of(table.line_inputs, r.port) ? "input" : "output";
      faults_.add(d_.fault(item, item.text + " is a line " + direction + ", not a pin", "connect it under lines"));
      return;
    }
    excused_parts_.insert(r.part_name);
    const std::string near = nearest(r.port, names_of(table.pins));
    faults_.add(d_.fault(item, offset, r.port.size(),
                         "part " + in_quotes(r.part_name) + " has no pin " + in_quotes(r.port),
                         near.empty() ? prefixed(r.part_name, names_of(table.pins)) : r.part_name + "." + near));
  }

  void check_ground() {
    std::vector<std::string> names;
    for (const Net& net : nets_) names.push_back(net.key->text);
    if (std::count(names.begin(), names.end(), ground)) return;
    reference_missing_ = true;
    const bool misspelled = std::any_of(names.begin(), names.end(), [](const std::string& name) {
      return name == "GND" || name == "Gnd";  // refused as a name already
    });
    if (misspelled || section_.value.incomplete) return;
    std::vector<std::string> likely;
    for (const std::string& name : names) {
      if (name == "ground" || name == "0" || name == "0v" || name == "vss") likely.push_back(name);
    }
    const std::string near = likely.empty() ? nearest(ground, names) : likely.front();
    faults_.add(d_.fault(section_.key, std::string("there is no net ") + ground + ", the reference of all voltages",
                         near.empty() ? std::string("add a net ") + ground : "rename net " + near + " to " + ground));
  }

  bool is_excused(const ReadPart& part, const std::string& pin) const {
    return excuse_all_ || section_.value.incomplete || excused_parts_.count(part.name) || excused_pins_.count(pin);
  }

  /// Pins in no net, or all on one.
  void check_part(std::size_t index) {
    const ReadPart& part = wirable_.parts[index];
    if (!part.table) return;
    std::vector<std::string> floating;
    std::set<std::size_t> nets;
    bool excused = false;
    for (std::size_t pin = 0; pin < part.table->pins.size(); ++pin) {
      const auto joint = joints_.find({index, pin});
      if (joint != joints_.end()) {
        nets.insert(joint->second.net);
      } else if (is_excused(part, part.table->pins[pin].name)) {
        excused = true;
      } else {
        floating.push_back(part.name + "." + part.table->pins[pin].name);
      }
    }
    if (excused || !floating.empty()) uncertain_parts_.insert(index);
    if (!floating.empty()) {
      std::vector<std::string> names;
      for (const Net& net : nets_) names.push_back(net.key->text);
      std::sort(names.begin(), names.end());
      const bool one = floating.size() == 1;
      faults_.add(d_.fault(
          *part.key, std::string(one ? "pin " : "pins ") + listed(floating) + (one ? " is" : " are") + " in no net",
          "add " + std::string(one ? "it" : "them") + " to nets, such as " + listed(names)));
    } else if (!excused && nets.size() == 1 && part.table->pins.size() > 1) {
      shorted(index, *nets.begin());
    }
  }

  void shorted(std::size_t index, std::size_t net) {
    const ReadPart& part = wirable_.parts[index];
    std::vector<const Node*> items;
    for (std::size_t pin = 0; pin < part.table->pins.size(); ++pin) items.push_back(joints_.at({index, pin}).item);
    std::sort(items.begin(), items.end(), [](const Node* a, const Node* b) {
      return std::pair(a->line, a->column) < std::pair(b->line, b->column);
    });
    Fault fault = d_.fault(
        *items.back(),
        "part " + in_quotes(part.name) + " is shorted: all its pins are on net " + in_quotes(nets_[net].key->text),
        "put its pins on different nets, or remove the part");
    for (std::size_t i = 0; i + 1 < items.size(); ++i) fault.others.push_back(d_.other(*items[i], "also here"));
    faults_.add(std::move(fault));
  }

  /// Nets of one pin, unless a pin that is in no net may be what they lack.
  void check_dead_ends() {
    if (!uncertain_parts_.empty()) return;
    for (const Net& net : nets_) {
      if (!net.sound || net.pins.size() != 1) continue;
      faults_.add(d_.fault(*net.key,
                           "net " + in_quotes(net.key->text) + " has one pin only, so no current can flow there",
                           "add the pins it leads to"));
    }
  }

  /// Nets that no chain of parts joins to the reference.
  void check_reach() {
    if (reference_missing_ || excuse_all_ || section_.value.incomplete || !wirable_.complete) return;
    Groups groups(nets_.size());
    for (std::size_t part = 0; part < wirable_.parts.size(); ++part) {
      std::optional<std::size_t> first;
      for (std::size_t net = 0; net < nets_.size(); ++net) {
        if (!nets_[net].parts.count(part)) continue;
        if (first) groups.join(*first, net);
        if (!first) first = net;
      }
    }
    std::map<std::size_t, std::vector<std::size_t>> members;
    std::set<std::size_t> silent;  // groups with the reference in them, or with a fault that may be the reason
    for (std::size_t net = 0; net < nets_.size(); ++net) {
      const std::size_t group = groups.of(net);
      members[group].push_back(net);
      const auto& parts = nets_[net].parts;
      const bool uncertain =
          std::any_of(parts.begin(), parts.end(), [&](std::size_t p) { return uncertain_parts_.count(p) > 0; });
      if (nets_[net].key->text == ground || !nets_[net].sound || uncertain) silent.insert(group);
    }
    for (const auto& [group, nets] : members) {
      if (silent.count(group)) continue;
      std::vector<std::string> names;
      for (const std::size_t net : nets) names.push_back(nets_[net].key->text);
      const bool one = names.size() == 1;
      faults_.add(d_.fault(*nets_[nets.front()].key,
                           std::string(one ? "net " : "nets ") + listed(names) + (one ? " has" : " have") +
                               " no path to " + ground + " through any part",
                           std::string("put a pin of one of their parts on ") + ground));
    }
  }

  const Document& d_;
  const Node::Entry& section_;
  const Wirable& wirable_;
  Faults& faults_;
  const Resolver resolver_;
  std::vector<Net> nets_;  // in the order of the file
  std::map<std::pair<std::size_t, std::size_t>, Joint> joints_;
  std::set<std::string> excused_parts_, excused_pins_;
  std::set<std::size_t> uncertain_parts_;
  bool excuse_all_ = false;
  bool reference_missing_ = false;
};

class LineReader {
 public:
  LineReader(const Document& d, const Wirable& wirable, Faults& faults)
      : d_(d), wirable_(wirable), faults_(faults), resolver_(d, wirable, "line port", faults) {}

  std::optional<ScenarioLine> read(const Node::Entry& entry) {
    check_name("line", "-_", false, d_, entry.key, faults_);
    const Node& value = entry.value;
    if (value.is_refused()) return std::nullopt;
    if (!value.is_mapping()) {
      faults_.add(
          d_.fault(value.is_null() ? entry.key : value,
                   "line " + in_quotes(entry.key.text) + " needs a mapping of from and to, not " + described(value),
                   entry.key.text + form));
      return std::nullopt;
    }
    const std::vector<std::string> known = {"from", "to"};
    std::vector<std::string> meant;
    for (const Node::Entry& e : value.entries) {
      if (e.key.text == "from" || e.key.text == "to") continue;
      meant.push_back(nearest(e.key.text, known));
      faults_.add(d_.fault(e.key, "a line has no key " + in_quotes(e.key.text), meant.back()));
    }
    for (const std::string& key : known) {
      const Node::Entry* e = value.find(key);
      const bool lacking = !e || e->value.is_null();
      if (!lacking || value.incomplete || std::count(meant.begin(), meant.end(), key)) continue;
      faults_.add(d_.fault(e ? e->key : entry.key, "line " + in_quotes(entry.key.text) + " lacks " + key,
                           entry.key.text + form));
    }
    ScenarioLine line;
    line.name = entry.key.text;
    line.place = d_.place(entry.key);
    const Node::Entry* from = value.find("from");
    const std::optional<PortRef> source = from && !from->value.is_null() ? read_output(from->value) : std::nullopt;
    if (source) {
      line.from = *source;
      line.kind = output(*source).kind;
    }
    const Node::Entry* to = value.find("to");
    if (to && !to->value.is_null()) read_inputs(to->value, source, line);
    return line;
  }

 private:
  static constexpr const char* form = ": {from: PART.OUTPUT, to: PART.INPUT}";

  const LineOutput& output(PortRef r) const { return wirable_.parts[r.part].table->line_outputs[r.port]; }

  std::optional<PortRef> read_output(const Node& node) {
    const Reference r = resolver_.read(node);
    if (!r.part || !wirable_.parts[*r.part].table) return std::nullopt;
    const ModelTable& table = *wirable_.parts[*r.part].table;
    if (const auto port = index_of(table.line_outputs, r.port)) return PortRef{*r.part, *port};
    wrong_port(node, r, table, "output", names_of(table.line_outputs), index_of(table.line_inputs, r.port).has_value());
    return std::nullopt;
  }

  void read_inputs(const Node& node, const std::optional<PortRef>& source, ScenarioLine& line) {
    if (node.is_sequence() && node.items.empty()) {
      faults_.add(
          d_.fault(node, "line " + in_quotes(line.name) + " leads nowhere", "list the inputs that listen to it"));
    }
    if (node.is_sequence()) {
      for (const Node& item : node.items) read_input(item, source, line);
    } else {
      read_input(node, source, line);
    }
    std::sort(line.to.begin(), line.to.end(),
              [](PortRef a, PortRef b) { return std::pair(a.part, a.port) < std::pair(b.part, b.port); });
  }

  void read_input(const Node& node, const std::optional<PortRef>& source, ScenarioLine& line) {
    const Reference r = resolver_.read(node);
    if (!r.part || !wirable_.parts[*r.part].table) return;
    const ModelTable& table = *wirable_.parts[*r.part].table;
    const auto port = index_of(table.line_inputs, r.port);
    if (!port) {
      wrong_port(node, r, table, "input", names_of(table.line_inputs),
                 index_of(table.line_outputs, r.port).has_value());
      return;
    }
    const LineKind kind = table.line_inputs[*port].kind;
    if (source && kind != output(*source).kind) {
      faults_.add(d_.fault(
          node, node.text + " takes a " + name_of(kind) + ", but the line carries a " + name_of(output(*source).kind)));
      return;
    }
    const auto [driven, added] = driven_.try_emplace({*r.part, *port}, &node);
    if (!added) {
      Fault fault = d_.fault(node, "input " + node.text + " is driven twice", "let one line drive it");
      fault.others.push_back(d_.other(*driven->second, "it is driven first here"));
      faults_.add(std::move(fault));
      return;
    }
    line.to.push_back({*r.part, *port});
  }

  void wrong_port(const Node& node, const Reference& r, const ModelTable& table, const std::string& wanted,
                  const std::vector<std::string>& ports, bool other_direction) {
    if (other_direction) {
      faults_.add(d_.fault(
          node, node.text + " is a line " + (wanted == "input" ? "output" : "input") + ", not a line " + wanted,
          "a line goes from an output to inputs"));
    } else if (index_of(table.pins, r.port)) {
      faults_.add(d_.fault(node, node.text + " is a pin, not a line " + wanted, "connect it under nets"));
    } else {
      const std::string near = nearest(r.port, ports);
      const std::string list = ports.empty() ? "" : prefixed(r.part_name, ports);
      faults_.add(d_.fault(node, r.part_name.size() + 1, r.port.size(),
                           "part " + in_quotes(r.part_name) + " has no line " + wanted + " " + in_quotes(r.port),
                           near.empty() ? list : r.part_name + "." + near));
    }
  }

  const Document& d_;
  const Wirable& wirable_;
  Faults& faults_;
  const Resolver resolver_;
  std::map<std::pair<std::size_t, std::size_t>, const Node*> driven_;
};

}  // namespace

std::vector<ScenarioNet> read_nets(const Document& d, const Node::Entry& nets, const Wirable& wirable, Faults& faults) {
  return NetReader(d, nets, wirable, faults).read();
}

std::vector<ScenarioLine> read_lines(const Document& d, const Node::Entry& lines, const Wirable& wirable,
                                     Faults& faults) {
  LineReader reader(d, wirable, faults);
  std::vector<ScenarioLine> result;
  for (const Node::Entry& entry : lines.value.entries) {
    if (std::optional<ScenarioLine> line = reader.read(entry)) result.push_back(*std::move(line));
  }
  std::sort(result.begin(), result.end(), [](const ScenarioLine& a, const ScenarioLine& b) { return a.name < b.name; });
  return result;
}

}  // namespace overwinter
