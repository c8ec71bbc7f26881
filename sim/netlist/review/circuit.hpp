// What the netlist alone tells of paths, powers and currents: the design review's estimates, without any simulation.
//
// Asleep every switch is open and every line from a controller is low; awake they are closed. Two nets count as one
// where nothing but wires lies between them: shunts, protectors that conduct, and resistors that are wires (feeds.hpp).
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "models/converters/boost.hpp"
#include "models/storage/cell.hpp"
#include "sim/netlist/feeds.hpp"
#include "sim/netlist/groups.hpp"
#include "sim/netlist/scenario.hpp"

namespace overwinter {

class Circuit {
 public:
  /// `open`: a power monitor whose two sides are not to count as one net.
  explicit Circuit(const Scenario&, std::optional<std::size_t> open = std::nullopt);

  const Scenario& scenario() const { return s_; }
  const std::string& name(std::size_t part) const { return s_.parts[part].name; }
  const std::string& net_name(std::size_t net) const { return s_.nets[net].name; }
  std::size_t net(std::size_t part, const std::string& pin) const { return awake_.net(part, pin); }
  bool on_ground(std::size_t part, const std::string& pin) const { return awake_.on_ground(part, pin); }
  /// The first part of model M.
  template <class M>
  std::optional<std::size_t> first() const {
    for (std::size_t p = 0; p < s_.parts.size(); ++p) {
      if (as<M>(s_.parts[p])) return p;
    }
    return std::nullopt;
  }
  const Feeds& awake() const { return awake_; }
  std::size_t asleep(std::size_t net) const { return asleep_.of(net); }
  std::size_t asleep(std::size_t part, const std::string& pin) const { return asleep(net(part, pin)); }

  /// Between which voltages a net stands while the instrument sleeps: the cell's, or a converter's. None where nothing
  /// feeds it then.
  struct Range {
    Voltage lowest{}, highest{};
    std::size_t source = 0;  ///< the part that feeds it
  };
  std::optional<Range> range(std::size_t net) const;

  /// The way of least resistance between two nets through wires, resistors, shunts, protectors and closed switches.
  struct Path {
    Resistance resistance{};
    std::vector<std::string> parts;
  };
  std::optional<Path> path(std::size_t from, std::size_t to) const;
  /// From the cell to a pin of a part, and back from the part's pin `ground`.
  std::optional<Path> from_cell(std::size_t part, const std::string& pin) const;

  /// One phase of a wake, as a converter's loads see it.
  struct Burst {
    std::string phase;
    Power power{};  ///< of all loads behind the converter
    Duration duration{};
  };
  /// The boot and each phase of the controller, or one without a name where no controller is behind the converter.
  std::vector<Burst> bursts(std::size_t boost) const;
  /// The one of the greatest power.
  Burst largest_burst(std::size_t boost) const;

  /// What a part draws while the instrument sleeps.
  struct Drain {
    std::string part;
    Current current{};
  };
  /// Of all parts on a net, and of those behind its converters at the net's voltage; a load with a schedule counts at
  /// its lowest level.
  std::vector<Drain> drains(std::size_t net, Voltage) const;

  /// Whether a line leads to this input.
  bool driven(std::size_t part, const std::string& input) const;

 private:
  Power power_of(std::size_t load, Voltage) const;
  bool on_in(std::size_t load, std::size_t controller, std::size_t phase) const;

  const Scenario& s_;
  Feeds awake_;
  Groups asleep_;
  std::map<std::size_t, Range> ranges_;
};

/// Into a converter that feeds `power` at this input voltage, with the efficiency of its curves.
Current input_current(const BoostParameters&, Power, Voltage input);

/// R0 of a new cell at a state of charge (0 to 1) and temperature.
Resistance series_resistance(const Cell&, double charge, Temperature);

Current sum(const std::vector<Circuit::Drain>&);
/// "lamp 12 mA, clock 1.5 uA": the largest first, what is below a twentieth of the sum left out.
std::string listed(const std::vector<Circuit::Drain>&);

}  // namespace overwinter
