// The system's equations at one instant: gathers each part's view, sums currents at the nets, and yields rates, flows
// and outputs once the network is solved. Holds scratch memory only.
#pragma once

#include <cstdint>
#include <vector>

#include "sim/engine/diagram.hpp"

namespace overwinter {

/// Where a stored Jacobian keeps its entries.
struct JacobianPlaces {
  std::size_t size = 0;                 ///< numbers in all; the last takes what hangs on ground and is not looked at
  std::vector<std::uint32_t> entries;   ///< of every part's own Jacobian, part by part and row by row
  std::vector<std::uint32_t> diagonal;  ///< of every unknown
};

class Evaluator {
 public:
  /// `transient`: whether the parts' fast stores are integrated (View::transient).
  explicit Evaluator(const Diagram&, bool transient = false);
  const Diagram& diagram() const { return diagram_; }

  /// From now on the parts have these models, one each, in place of their healthy ones.
  void use(const std::vector<const Model*>&);
  const Model& model(std::size_t part) const { return *slots_[part].model; }

  /// Points at the states, memory and drives that the following calls use, reads the lines but for the readings, and
  /// lets the parts derive what they hold.
  void set_inputs(const double* state, const std::int32_t* memory, const double* drive);

  /// f(z): the sum of currents into the parts at every net (A), then every internal residual (its own unit).
  void residual(const double* network, double* f);
  /// Adds one part's share of f at the gathered z, as often as `times` says.
  void add_residual(std::size_t part, double times, double* f);
  /// f(z) with the Jacobian, stored at those places.
  void linearise(const double* network, double* f, const JacobianPlaces&, double* jacobian);

  /// Takes a network vector as the solved one for views, rates and flows, and takes the readings.
  void set_solution(const double* network);
  /// Valid until the next set_inputs or set_solution.
  const View& view(std::size_t part) const { return views_[part]; }
  /// What the last set_inputs and set_solution pointed at.
  struct Solved {
    const double* state = nullptr;
    const std::int32_t* memory = nullptr;
    const double *drive = nullptr, *network = nullptr;
  };
  Solved solved() const { return solved_; }
  double net_voltage(std::size_t net) const { return solved_.network[net]; }
  void rates(double* dxdt);
  /// Of these parts' states alone.
  void rates(const std::vector<std::size_t>& parts, double* dxdt);
  /// Model::decay of every state, 1/s.
  void decay(double* rate) const;
  /// integrals() values: part flows (W, A), then refused harvest (W) by slot.
  void flows(double* flow);
  /// Closed-form energy in all stores, J.
  double stored_energy() const;

 private:
  void read_line(const LineLink&);
  void gather(const double* network);
  void sum_at_nets(double* f) const;

  /// What a residual and its Jacobian need of a part, close together.
  struct Slot {
    const Model* model;
    std::size_t local, area;  ///< area: entries of its Jacobian
  };

  /// An entry of the gathered vector that does not hang on ground, and where it stands in the network vector.
  struct Joint {
    std::uint32_t local, place;
  };

  const Diagram& diagram_;
  std::vector<Joint> joints_;
  std::vector<Slot> slots_;
  std::vector<View> views_;
  std::vector<std::size_t> holding_;  ///< parts that hold numbers
  Solved solved_;
  std::vector<double> line_, held_, local_, local_f_, part_jacobian_;
};

}  // namespace overwinter
