// The network as one part sees it: solved once more without that part, for what it is offered and asked for; or with
// another state of one part, for what would be so if.
//
//   (1) E   the voltage of its net with nothing drawn from it (open circuit)
//   (2) i(v)   the current that the rest gives into its net held at v: Kirchhoff's current law
//   (3) R = (E - v) / i(v) at v = E/2
//   (4) Pmax = max of v i(v) over v; of a straight i(v), a source E behind R, that is E^2 / (4 R) at v = E/2
//                                                  (1), (3): Thevenin's theorem; (4): maximum power transfer, textbook
//
// Settled, also in a transient. Stores keep their states meanwhile: this is what a burst of milliseconds meets. Exact
// for a cell behind resistances, whose laws are straight lines; a charger or panel on the net is taken with its own
// law.
#pragma once

#include <optional>
#include <utility>
#include <vector>

#include "sim/engine/diagram.hpp"
#include "sim/engine/evaluator.hpp"

namespace overwinter {

class Surroundings {
 public:
  using Held = std::vector<std::pair<int, double>>;  ///< nets at a voltage, V

  struct Source {
    double emf = 0;         ///< E of (1), V
    double resistance = 0;  ///< R of (3), ohm
    double largest = 0;     ///< Pmax of (4), W
    bool straight = true;   ///< whether i(v) is a straight line
  };

  static constexpr std::size_t nothing = static_cast<std::size_t>(-1);
  Surroundings(const Diagram& diagram, std::size_t without) : diagram_(diagram), without_(without) {}

  /// From now on one state of one part is another than it is.
  void suppose(std::size_t part, std::size_t state, double value) { supposed_ = {part, state, value}; }

  /// What the rest offers at a net with others held. None where no operating point is found.
  std::optional<Source> source(const Evaluator&, int net, const Held& others) const;
  /// The current from a net that is held into the other parts, A. None where no operating point is found.
  std::optional<double> drawn(const Evaluator&, int net, const Held&) const;
  /// The same of all held nets together.
  std::optional<double> drawn(const Evaluator&, const Held&) const;
  /// The voltage of a net. None where no operating point is found.
  std::optional<double> volts(const Evaluator&, int net) const;

 private:
  /// The network vector; empty where none is found.
  std::vector<double> solve(const Evaluator&, const Held&) const;
  double drawn_at(const Evaluator&, int net, const std::vector<double>& z) const;
  template <class Visit>
  void each_part(const Evaluator&, const std::vector<double>& z, Visit&&) const;

  struct Supposed {
    std::size_t part = nothing, state = 0;
    double value = 0;
  };
  const Diagram& diagram_;
  const std::size_t without_;
  Supposed supposed_;
};

}  // namespace overwinter
