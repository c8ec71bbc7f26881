#include "sim/netlist/wiring.hpp"

#include <algorithm>
#include <numeric>
#include <stdexcept>
#include <tuple>
#include <utility>

#include "models/catalogue.hpp"
#include "sim/netlist/needed_lines.hpp"

namespace overwinter {
namespace {

/// A resistor that a line brings with it.
ScenarioPart resistor(const Document& d, const Wire& wire, const std::string& name, Resistance resistance) {
  const ModelTable& table = *find_model("resistor");
  const std::shared_ptr<void> parameters = table.new_parameters();
  table.field("resistance")->set_number(parameters.get(), resistance.si());
  std::vector<Finding> findings;
  std::shared_ptr<const Model> model = table.build(parameters.get(), findings);
  if (!model) throw std::logic_error("a resistor refuses the resistance of a pull-up");
  return {wire.key->text + name, "", &table, std::move(model), d.place(*wire.pull_up->key)};
}

/// Sorts the parts by name and lets nets and lines follow.
void order_parts(Scenario& s) {
  std::vector<std::size_t> order(s.parts.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::sort(order.begin(), order.end(),
            [&](std::size_t a, std::size_t b) { return s.parts[a].name < s.parts[b].name; });
  std::vector<std::size_t> position(order.size());
  std::vector<ScenarioPart> parts;
  for (std::size_t i = 0; i < order.size(); ++i) {
    position[order[i]] = i;
    parts.push_back(std::move(s.parts[order[i]]));
  }
  s.parts = std::move(parts);
  for (ScenarioNet& net : s.nets) {
    for (PinRef& pin : net.pins) pin.part = position[pin.part];
    std::sort(net.pins.begin(), net.pins.end(),
              [](PinRef a, PinRef b) { return std::tie(a.part, a.pin) < std::tie(b.part, b.pin); });
  }
  for (ScenarioLine& line : s.lines) {
    line.from.part = position[line.from.part];
    for (PortRef& to : line.to) to.part = position[to.part];
  }
}

}  // namespace

void read_wiring(const Document& d, const Node::Entry* nets, const Node::Entry* lines, bool lines_known,
                 const Wirable& wirable, Scenario& s, Faults& faults) {
  ReadLines read;
  if (lines) read = read_lines(d, *lines, wirable, faults);
  if (!lines_known) read.excuses.all();
  check_needed_lines(d, lines, read, wirable, s.policy.get(), faults);
  if (nets) s.nets = read_nets(d, *nets, read, wirable, faults);
  s.lines = std::move(read.lines);
  if (!faults.empty()) return;
  for (const Wire& wire : read.wires) {
    if (!wire.pull_up) continue;
    s.parts.push_back(resistor(d, wire, " pull-up", wire.pull_up->resistance));
    if (wire.pull_up->series) s.parts.push_back(resistor(d, wire, " series", *wire.pull_up->series));
  }
  order_parts(s);
}

}  // namespace overwinter
