// The parts of a diagram by what they are to the detectors of mechanisms, and how their numbers are read.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "models/control/clock.hpp"
#include "models/control/controller.hpp"
#include "models/converters/boost.hpp"
#include "models/converters/linear_charger.hpp"
#include "models/paths/p_switch.hpp"
#include "models/paths/protector.hpp"
#include "models/sources/panel.hpp"
#include "models/storage/cell.hpp"
#include "sim/engine/diagram.hpp"
#include "sim/engine/evaluator.hpp"
#include "sim/netlist/review/circuit.hpp"
#include "sim/netlist/review/finding.hpp"

namespace overwinter {

class Instrument {
 public:
  /// Both must outlive it; the scenario is one that was read, whose parts stand in the diagram's order.
  Instrument(const Scenario&, const Diagram&);

  const Diagram& diagram() const { return diagram_; }
  /// The netlist's arithmetic, made when it is first asked for.
  const Circuit& circuit() const;
  const DiagramPart& part(std::size_t p) const { return diagram_.parts()[p]; }
  const std::string& name(std::size_t p) const { return part(p).name; }
  std::size_t index(const DiagramPart& part) const { return static_cast<std::size_t>(&part - diagram_.parts().data()); }
  /// The part seen as of model M, or null.
  template <class M>
  const M* as(std::size_t p) const {
    return dynamic_cast<const M*>(part(p).model.get());
  }
  template <class M>
  std::vector<std::size_t> all() const {
    std::vector<std::size_t> found;
    for (std::size_t p = 0; p < diagram_.parts().size(); ++p) {
      if (as<M>(p)) found.push_back(p);
    }
    return found;
  }

  std::optional<std::size_t> controller, clock, cell;  ///< the first of each

  /// The net of a pin, -1 for ground.
  int net(std::size_t p, const std::string& pin) const;
  double output(std::size_t p, const std::string& output, const Evaluator&) const;
  /// The label of a regime.
  std::string label(std::size_t p, const std::string& output, const Evaluator&) const;
  /// The current into a pin, A.
  double current(std::size_t p, const std::string& pin, const Evaluator&) const;
  /// The voltage between two pins, V.
  double volts(std::size_t p, const std::string& plus, const std::string& minus, const Evaluator&) const;
  /// " in phase send"; empty where the controller is in none.
  std::string during(const Evaluator&) const;
  /// The place of a flow's integral in the flow vector. Throws std::logic_error where the table has none.
  std::size_t flow(std::size_t p, const std::string& flow) const;

 private:
  std::size_t pin(std::size_t p, const std::string& pin) const;

  const Scenario& scenario_;
  const Diagram& diagram_;
  mutable std::optional<Circuit> circuit_;
};

}  // namespace overwinter
