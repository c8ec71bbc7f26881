// The ways in which a scenario's instrument can lie dead: a grid of what its parts' conditions (models/table.hpp), the
// cell's charge and the charge left on the controller's supply can be.
//
// A dimension and a value are there only where the scenario has the part and the part can stand so. Not every
// combination can be: `contradiction` tells what is known without a simulation, the rest shows within a minute
// (sim/revive/trial.hpp).
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "sim/engine/simulator.hpp"

namespace overwinter {

/// One thing that can be in several ways.
struct Dimension {
  std::string name;                 ///< "charge", "guard discharge"
  std::vector<std::string> values;  ///< "5 %", "tripped"
};

/// A value of each dimension, by its index.
using DeadState = std::vector<std::size_t>;
/// The same of a running instrument: none where it stands in between.
using Stand = std::vector<std::optional<std::size_t>>;

class DeadStates {
 public:
  /// `dawns`: the first dimension. Both references outlive the object. `fine`: more charges.
  DeadStates(const Scenario&, const Diagram&, const std::vector<std::string>& dawns, bool fine);

  /// The dawn, the charge, then conditions in part order, then the controller's supply.
  const std::vector<Dimension>& dimensions() const { return dimensions_; }
  /// Whether a dimension is about the controller and what is left on its supply.
  bool is_of_controller(std::size_t dimension) const { return subjects_[dimension].part == controller_; }
  /// Leaves only these values of a dimension, of which there is one at least; in ascending order.
  void keep(std::size_t dimension, const std::vector<std::size_t>& values);

  /// Every combination, the last dimension running fastest.
  std::vector<DeadState> all() const;
  /// Why the parts cannot be found so; empty where nothing speaks against it.
  std::string contradiction(const DeadState&) const;
  /// Puts every part into that state; a pending alarm comes due at `alarm`.
  Simulator::Arrange arranged(const DeadState&, Tick alarm) const;
  /// How the parts stand now; the dawn and the charge as in `given`.
  Stand stand(const DeadState& given, const Context&, Evaluator&) const;

 private:
  enum class Kind { dawn, charge, condition, supply };
  /// What a dimension is about.
  struct Subject {
    Kind kind;
    std::optional<std::size_t> part;
    std::size_t condition = 0;
    std::vector<double> numbers;    ///< of charge 0...1, of supply V
    std::vector<std::size_t> ways;  ///< of a condition
  };
  struct Alone;

  void add_conditions(std::size_t part);
  void add_supply(const Scenario&, std::size_t controller);
  std::size_t supply_band(double volts) const;

  const Diagram& diagram_;
  std::vector<Dimension> dimensions_;
  std::vector<Subject> subjects_;
  std::size_t cell_ = 0;
  std::optional<std::size_t> controller_, clock_;
};

}  // namespace overwinter
