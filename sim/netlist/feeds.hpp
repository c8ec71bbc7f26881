// Which nets of a scenario stand at one voltage, but for the drops of what carries the current.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "sim/netlist/groups.hpp"
#include "sim/netlist/scenario.hpp"

namespace overwinter {

/// A part seen as of model M, or null.
template <class M>
const M* as(const ScenarioPart& part) {
  return dynamic_cast<const M*>(part.model.get());
}

/// Resistors up to this are wires, larger ones pull-ups and bleeders: class assumption.
inline constexpr Resistance wire_at_most{100.0};

class Feeds {
 public:
  enum class Through { wires, protectors };
  /// Nets are joined by wires, shunts and switches that carry a supply, and by protectors if so wanted; the
  /// reference and the nets of logic levels are joined to nothing.
  Feeds(const Scenario&, Through);

  /// The net that a pin stands on, and its group.
  std::size_t net(std::size_t part, const std::string& pin) const;
  std::size_t of(std::size_t part, const std::string& pin) const { return groups_.of(net(part, pin)); }
  bool on_ground(std::size_t part, const std::string& pin) const { return net(part, pin) == ground_; }
  /// Whether the positive terminal of the cell stands on the group.
  bool is_cell(std::size_t group) const { return cell_ && of(*cell_, "plus") == group; }

  /// What holds a group of nets up, and how high.
  struct Supply {
    std::string text;  ///< such as "boost holds it at 5 V"
    Voltage highest{};
  };
  /// None where neither a converter nor the cell feeds the group.
  std::optional<Supply> supply(std::size_t group) const;
  /// The voltage up to which the cell's net can come, and the one below which it is out of service: where a protector
  /// cuts it off, or else that of the empty cell. None without a cell.
  std::optional<Supply> cell_at_its_highest() const;
  std::optional<Supply> cell_at_its_lowest() const;

 private:
  const Scenario& scenario_;
  std::vector<std::vector<std::size_t>> nets_;  // of each part's pins
  std::optional<std::size_t> ground_, cell_;
  Groups groups_;
};

}  // namespace overwinter
