#include "sim/netlist/net_reader.hpp"

#include <algorithm>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <utility>

#include "models/paths/p_switch.hpp"
#include "sim/netlist/groups.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

constexpr const char* ground = "gnd";

class NetReader {
 public:
  NetReader(const Document& d, const Node::Entry& section, const ReadLines& lines, const Wirable& wirable,
            Faults& faults)
      : d_(d),
        section_(section),
        read_lines_(lines),
        wirable_(wirable),
        faults_(faults),
        references_(d, wirable, "pin", faults) {}

  std::vector<ScenarioNet> read() {
    for (const Node::Entry& entry : section_.value.entries) read_net(entry);
    for (const Wire& wire : read_lines_.wires) add_wire(wire);
    check_ground();
    for (std::size_t part = 0; part < wirable_.parts.size(); ++part) check_part(part);
    check_idle();
    check_dead_ends();
    check_floating();
    check_reach();
    std::vector<ScenarioNet> result;
    for (Net& net : nets_) {
      std::sort(net.pins.begin(), net.pins.end(),
                [](PinRef a, PinRef b) { return std::pair(a.part, a.pin) < std::pair(b.part, b.pin); });
      result.push_back({net.key->text + net.suffix, std::move(net.pins), d_.place(*net.key)});
    }
    std::sort(result.begin(), result.end(), [](const ScenarioNet& a, const ScenarioNet& b) { return a.name < b.name; });
    return result;
  }

 private:
  struct Net {
    const Node* key = nullptr;
    std::string suffix;  // of its name
    std::vector<PinRef> pins;
    std::set<std::size_t> parts;  // also those whose pins are not known
    bool sound = true;            // every item was understood
    bool is_line = false;
    std::set<std::size_t> pulled;  // the nets at the other end of pull-ups

    std::string name() const { return (is_line ? "line " : "net ") + in_quotes(key->text); }
  };
  struct Joint {
    const Node* item;
    std::size_t net;
  };

  struct IdlePin {
    std::string name;
    PinRole role;
    const Node* part;
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
      excuses_.all();
      if (!value.is_refused()) {
        faults_.add(
            d_.fault(value, "net " + in_quotes(entry.key.text) + " needs the list of its pins, not " + described(value),
                     value.is_scalar() ? "[" + value.text + "]" : "[PART.PIN, PART.PIN]"));
      }
    }
    nets_.push_back(std::move(net));
  }

  void read_item(const Node& item, Net& net) {
    const Reference r = references_.read(item);
    const bool named = r.part && wirable_.parts[*r.part].table;
    if (!named) {
      net.sound = false;
      if (r.part) net.parts.insert(*r.part);
      excuses_.unresolved(r);
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
    join({*r.part, *pin}, item, net);
  }

  void add_wire(const Wire& wire) {
    Net net;
    net.key = wire.key;
    net.sound = wire.sound;
    net.is_line = true;
    for (const Net& other : nets_) {
      if (other.is_line || other.key->text != wire.key->text) continue;
      Fault fault = d_.fault(*wire.key, "line " + in_quotes(wire.key->text) + " has the name of a net",
                             "an electrical line is a net of its own: give it another name");
      fault.others.push_back(d_.other(*other.key, "the net stands here"));
      faults_.add(std::move(fault));
    }
    const bool series = wire.pull_up && wire.pull_up->series;
    Net drivers = net;
    drivers.suffix = " drivers";
    const auto take = [&](bool driving, Net& to) {
      for (const Wire::Joint& joint : wire.joints) {
        const PinRole role = wirable_.parts[joint.pin.part].table->pins[joint.pin.pin].role;
        if (series && (role == PinRole::open_drain) != driving) continue;
        to.parts.insert(joint.pin.part);
        join(joint.pin, *joint.item, to);
      }
    };
    take(false, net);
    if (wire.pull_up) pull_up(*wire.pull_up, net);
    nets_.push_back(std::move(net));
    if (!series) return;
    take(true, drivers);
    const std::size_t resistor = wirable_.parts.size() + pull_ups_++;
    nets_.back().pins.push_back({resistor, 0});
    drivers.pins.push_back({resistor, 1});
    nets_.push_back(std::move(drivers));
  }

  /// The resistor stands behind the parts of the scenario, its pin a on the supplying net.
  void pull_up(const PullUp& up, Net& line) {
    const std::size_t resistor = wirable_.parts.size() + pull_ups_++;
    std::vector<std::string> names;
    for (const Net& net : nets_) {
      if (!net.is_line) names.push_back(net.key->text);
    }
    const auto found = std::find(names.begin(), names.end(), up.net);  // the nets come before the lines
    if (found == names.end()) {
      line.sound = false;
      if (section_.value.incomplete) return;
      const std::string near = nearest(up.net, names);
      std::sort(names.begin(), names.end());
      faults_.add(d_.fault(
          *up.net_node,
          "line " + in_quotes(line.key->text) + " is pulled up to " + in_quotes(up.net) + ", but there is no such net",
          near.empty() ? "one of " + listed(names) : near));
      return;
    }
    if (up.net == ground) {
      line.sound = false;
      faults_.add(d_.fault(*up.net_node, std::string("a pull-up to ") + ground + " keeps the line low for ever",
                           "name the net of a supply"));
      return;
    }
    const auto net = static_cast<std::size_t>(found - names.begin());
    nets_[net].pins.push_back({resistor, 0});
    line.pins.push_back({resistor, 1});
    line.pulled.insert(net);
  }

  /// Puts a pin into a net, unless it stands in one already.
  void join(PinRef pin, const Node& item, Net& net) {
    const auto [joint, added] = joints_.try_emplace({pin.part, pin.pin}, Joint{&item, nets_.size()});
    if (added) {
      net.pins.push_back(pin);
      return;
    }
    net.sound = false;
    const bool same = joint->second.net == nets_.size();
    const std::string remedy = "a pin belongs to one net: remove one, or make the two nets one";
    const bool lines = net.is_line || (!same && nets_[joint->second.net].is_line);
    Fault fault = d_.fault(item,
                           same ? "pin " + item.text + " stands twice in " + net.name()
                                : "pin " + item.text + " is already in " + nets_[joint->second.net].name(),
                           same    ? "remove one"
                           : lines ? "a pin belongs to one net or one line: remove one"
                                   : remedy);
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
    excuses_.part(r.part_name);
    faults_.add(d_.fault(item, offset, r.port.size(),
                         "part " + in_quotes(r.part_name) + " has no pin " + in_quotes(r.port),
                         meant_port(r.part_name, r.port, names_of(table.pins))));
  }

  void check_ground() {
    const std::vector<std::string> names = net_names();
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

  bool is_excused(const ReadPart& part, const Pin& pin) const {
    return section_.value.incomplete || excuses_.covers(part.name, pin.name) ||
           (pin.role != PinRole::power && read_lines_.excuses.covers(part.name, pin.name));
  }

  /// Pins in no net, or all on one.
  void check_part(std::size_t index) {
    const ReadPart& part = wirable_.parts[index];
    if (!part.table) return;
    std::vector<std::string> floating;
    bool idle = false;
    std::set<std::size_t> nets;
    bool excused = false;
    for (std::size_t i = 0; i < part.table->pins.size(); ++i) {
      const Pin& pin = part.table->pins[i];
      const auto joint = joints_.find({index, i});
      if (joint != joints_.end()) {
        nets.insert(joint->second.net);
      } else if (is_excused(part, pin)) {
        excused = true;
      } else if (pin.role == PinRole::power) {
        floating.push_back(part.name + "." + pin.name);
      } else {
        idle = true;
        idle_.push_back({part.name + "." + pin.name, pin.role, part.key});
      }
    }
    if (excused || !floating.empty() || idle) uncertain_parts_.insert(index);
    if (!floating.empty()) {
      const bool one = floating.size() == 1;
      faults_.add(d_.fault(*part.key,
                           (one ? "pin " : "pins ") + listed(floating) + (one ? " is" : " are") + " in no net",
                           std::string("add ") + (one ? "it" : "them") + " to nets, such as " + listed(net_names())));
    }
    if (floating.empty() && !idle && !excused && nets.size() == 1 && part.table->pins.size() > 1) {
      shorted(index, *nets.begin());
    } else {
      check_polarity(index);
    }
  }

  /// The signal pins that stand nowhere. A driver and a gate that both lack their line lack the same one.
  void check_idle() {
    const auto of_role = [&](PinRole role) {
      std::vector<const IdlePin*> pins;
      for (const IdlePin& pin : idle_) {
        if (pin.role == role) pins.push_back(&pin);
      }
      return pins;
    };
    const std::vector<const IdlePin*> drivers = of_role(PinRole::open_drain), gates = of_role(PinRole::gate);
    if (drivers.size() == 1 && gates.size() == 1) {
      const IdlePin &driver = *drivers.front(), &gate = *gates.front();
      Fault fault =
          d_.fault(*driver.part, "no line leads from " + driver.name + " to " + gate.name,
                   "lines: {NAME: {from: " + driver.name + ", to: " + gate.name + "}}, or tie both pins to gnd");
      fault.others.push_back(d_.other(*gate.part, gate.name + " belongs to this part"));
      faults_.add(std::move(fault));
      return;
    }
    for (const IdlePin& pin : idle_) {
      faults_.add(
          d_.fault(*pin.part, "pin " + pin.name + " is in no line and no net", "name it in a line, or tie it to gnd"));
    }
  }

  /// The net of a pin, or null.
  const Joint* joint_of(std::size_t part, const std::string& pin) const {
    const auto index = index_of(wirable_.parts[part].table->pins, pin);
    const auto found = index ? joints_.find({part, *index}) : joints_.end();
    return found == joints_.end() ? nullptr : &found->second;
  }

  /// Every voltage of a scenario is positive: a part whose positive pin alone stands on the reference is turned round.
  void check_polarity(std::size_t index) {
    const std::string& name = wirable_.parts[index].name;
    for (const auto& [positive, negative] : {std::pair("plus", "minus"), std::pair("supply", "ground")}) {
      const Joint *plus = joint_of(index, positive), *minus = joint_of(index, negative);
      if (!plus || !minus || plus->net == minus->net || nets_[plus->net].key->text != ground) continue;
      Fault fault = d_.fault(*plus->item,
                             "part " + in_quotes(name) + " is connected the wrong way round: its " + positive +
                                 " is on " + ground + ", its " + negative + " on " + nets_[minus->net].name(),
                             std::string("exchange ") + name + "." + positive + " and " + name + "." + negative);
      fault.others.push_back(d_.other(*minus->item, std::string(negative) + " stands here"));
      faults_.add(std::move(fault));
    }
  }

  std::vector<std::string> net_names() const {
    std::vector<std::string> names;
    for (const Net& net : nets_) {
      if (!net.is_line) names.push_back(net.key->text);
    }
    std::sort(names.begin(), names.end());
    return names;
  }

  void shorted(std::size_t index, std::size_t net) {
    const ReadPart& part = wirable_.parts[index];
    std::vector<const Node*> items;
    for (std::size_t pin = 0; pin < part.table->pins.size(); ++pin) items.push_back(joints_.at({index, pin}).item);
    std::sort(items.begin(), items.end(), [](const Node* a, const Node* b) {
      return std::pair(a->line, a->column) < std::pair(b->line, b->column);
    });
    Fault fault = d_.fault(*items.back(),
                           "part " + in_quotes(part.name) + " is shorted: all its pins are on " + nets_[net].name(),
                           "put its pins on different nets, or remove the part");
    for (std::size_t i = 0; i + 1 < items.size(); ++i) fault.others.push_back(d_.other(*items[i], "also here"));
    faults_.add(std::move(fault));
  }

  /// Nets of one pin, unless a pin that is in no net may be what they lack.
  void check_dead_ends() {
    if (!uncertain_parts_.empty()) return;
    for (const Net& net : nets_) {
      if (!net.sound || net.is_line || net.pins.size() != 1) continue;
      faults_.add(d_.fault(*net.key,
                           "net " + in_quotes(net.key->text) + " has one pin only, so no current can flow there",
                           "add the pins it leads to"));
    }
  }

  /// Open-drain pins only pull down: where nothing pulls up, neither a resistor nor a gate's own, gates would float.
  void check_floating() {
    for (const Net& net : nets_) {
      if (!net.sound || !net.pulled.empty() || net.pins.empty()) continue;
      std::string gate;
      const bool floats = std::all_of(net.pins.begin(), net.pins.end(), [&](PinRef pin) {
        if (pin.part >= wirable_.parts.size()) return false;  // a pull-up that another line brought
        const ReadPart& part = wirable_.parts[pin.part];
        const PinRole role = part.table->pins[pin.pin].role;
        if (role == PinRole::gate && gate.empty()) gate = part.name;
        return role == PinRole::open_drain || (role == PinRole::gate && part.model && !pulls_up(*part.model));
      });
      const auto drives = [&](PinRef pin) {
        return wirable_.parts[pin.part].table->pins[pin.pin].role == PinRole::open_drain;
      };
      if (!floats || std::none_of(net.pins.begin(), net.pins.end(), drives)) continue;
      const std::string own = gate.empty() ? "" : ", or gate_pull_up: 100 kohm to " + gate;
      faults_.add(d_.fault(*net.key, net.name() + " floats: open-drain pins only pull it down, and nothing pulls it up",
                           (net.is_line ? "add pull_up: {net: NET, resistance: 100 kohm} to it"
                                        : "add a resistor to the net of a supply") +
                               own));
    }
  }

  static bool pulls_up(const Model& model) {
    const auto* p_switch = dynamic_cast<const PSwitch*>(&model);
    return p_switch && p_switch->parameters().gate_pull_up;
  }

  /// Nets that no chain of parts joins to the reference.
  void check_reach() {
    if (reference_missing_ || excuses_.cover_all() || section_.value.incomplete || !wirable_.complete) return;
    Groups groups(nets_.size());
    for (std::size_t part = 0; part < wirable_.parts.size(); ++part) {
      std::optional<std::size_t> first;
      for (std::size_t net = 0; net < nets_.size(); ++net) {
        if (!nets_[net].parts.count(part)) continue;
        if (first) groups.join(*first, net);
        if (!first) first = net;
      }
    }
    for (std::size_t net = 0; net < nets_.size(); ++net) {
      for (const std::size_t other : nets_[net].pulled) groups.join(net, other);
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
  const ReadLines& read_lines_;
  const Wirable& wirable_;
  Faults& faults_;
  const ReferenceReader references_;
  std::vector<Net> nets_;  // in the order of the file, then the electrical lines
  std::map<std::pair<std::size_t, std::size_t>, Joint> joints_;
  Excuses excuses_;
  std::set<std::size_t> uncertain_parts_;
  std::vector<IdlePin> idle_;
  std::size_t pull_ups_ = 0;
  bool reference_missing_ = false;
};

}  // namespace

std::vector<ScenarioNet> read_nets(const Document& d, const Node::Entry& nets, const ReadLines& lines,
                                   const Wirable& wirable, Faults& faults) {
  return NetReader(d, nets, lines, wirable, faults).read();
}

}  // namespace overwinter
