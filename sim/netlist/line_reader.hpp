// The section `lines` of a scenario.
//
//   lines:
//     cell-temperature: {from: cell.temperature, to: charger.temperature}      `to` may be a list
//     wake: {from: clock.interrupt, to: switch.gate, pull_up: {net: rail, resistance: 100 kohm}}
//
// A line from an output carries its number to inputs. A line from open-drain pins (`from` may list several, which wire
// together) to gates is electrical: a net of its own, with a resistor to the net that pulls it up. With `series` in its
// pull_up a second resistor stands between the drivers and the gates, and the drivers have a net of their own.
#pragma once

#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "sim/netlist/port_reference.hpp"
#include "sim/netlist/scenario.hpp"

namespace overwinter {

/// What a scenario writes under `pull_up`.
struct PullUp {
  std::string net;
  Resistance resistance{};
  std::optional<Resistance> series;
  const Node* key = nullptr;
  const Node* net_node = nullptr;
};
/// The fields `net`, `resistance` and `series`.
const std::vector<Field>& pull_up_fields();

/// An electrical line.
struct Wire {
  struct Joint {
    PinRef pin;
    const Node* item;
  };
  const Node* key = nullptr;
  std::vector<Joint> joints;
  std::optional<PullUp> pull_up;
  bool sound = true;  ///< false: a fault was reported that may explain what it lacks
};

struct ReadLines {
  std::vector<ScenarioLine> lines;                             ///< in name order, inputs in part order
  std::vector<Wire> wires;                                     ///< in the order of the file
  std::set<std::pair<std::size_t, std::size_t>> named_inputs;  ///< part and line input; also of a faulty line
  Excuses excuses;                                             ///< for open-drain pins, gates and line inputs
};

ReadLines read_lines(const Document&, const Node::Entry& lines, const Wirable&, Faults&);

}  // namespace overwinter
